"""What is seen of a probe from outside.  ROMs and bytes: C. Petrich, counterfeit_DS18B20, README (CC BY)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reefguard.commissioning.probe_look import resolution_bits, risen, suspicions
from reefguard.rehearsal.bench_wire import register_of, scratchpad
from reefguard.vocabulary import Cause

# As the kernel names the ROMs 28-13-9B-BB-0B-00-00-1F, 28-FF-64-1D-CD-96-F2-01, 28-48-1B-77-91-17-02-55.
GENUINE, FAMILY_C, FAMILY_D1 = "28-00000bbb9b13", "28-f296cd1d64ff", "28-021791771b48"


@pytest.mark.parametrize(
    ("rom_id", "octets", "count"),
    [
        (GENUINE, scratchpad(register_of(25.5)), 0),
        (GENUINE, Cause.EMPTY, 0),
        (FAMILY_C, scratchpad(register_of(25.5)), 1),
        (FAMILY_D1, Cause.NO_ANSWER, 1),
        # Family D: bytes 5 and 7 differ, line 5 of the README's table of scratchpads.
        (FAMILY_D1, bytes.fromhex("90 01 55 05 7f 7e 81 66 27"), 2),
        (GENUINE, scratchpad(register_of(25.5), byte_6=0x0C), 1),
        ("10-000801234567", bytes(9), 0),
    ],
)
def test_what_speaks_against_a_genuine_chip(rom_id: str, octets: bytes | Cause, count: int) -> None:
    assert len(suspicions(rom_id, octets)) == count


@given(st.integers(-55 * 16, 125 * 16))
def test_a_genuine_chip_is_suspected_at_no_temperature(register: int) -> None:
    assert suspicions(GENUINE, scratchpad(register)) == ()


# Data sheet 19-7487 Rev 6, Figure 10 and Table 2.
@pytest.mark.parametrize(("config", "bits"), [(0x1F, 9), (0x3F, 10), (0x5F, 11), (0x7F, 12)])
def test_the_resolution(config: int, bits: int) -> None:
    assert resolution_bits(bytes([0x90, 1, 0x4B, 0x46, config, 0xFF, 0, 0x10, 0])) == bits


@pytest.mark.parametrize(
    ("now", "rose"),
    [
        ({"a": 26.0, "b": 26.0}, None),
        ({"a": 26.9, "b": 26.0}, None),
        ({"a": 27.0, "b": 26.0}, "a"),
        ({"a": 27.0, "b": 26.5}, None),
        ({"a": 26.0, "b": 28.0}, "b"),
        ({"a": 28.0, "b": 28.0}, None),
        ({"a": 27.0, "b": 22.0}, "a"),
        ({"a": 27.0}, "a"),
        ({"c": 40.0}, None),
        ({}, None),
    ],
)
def test_the_one_that_was_warmed(now: dict[str, float], rose: str | None) -> None:
    assert risen({"a": 26.0, "b": 26.0}, now) == rose
