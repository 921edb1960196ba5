"""The cutoff's decoder against the data sheet, line by line, and against every fault of the wire."""

import pytest
from cutoff_bench import scratchpad, w1_at, w1_text
from hypothesis import given
from hypothesis import strategies as st

from reefguard.cutoff.ds18b20 import Failed, Fault, Measured, crc8, sample_from_text, temperature_c

# DS18B20 data sheet (19-7487 Rev 6), table 1, "Temperature/Data Relationship": every row.
DATA_SHEET_TABLE_1 = [
    (+125.0, 0x07D0),
    (+85.0, 0x0550),
    (+25.0625, 0x0191),
    (+10.125, 0x00A2),
    (+0.5, 0x0008),
    (0.0, 0x0000),
    (-0.5, 0xFFF8),
    (-10.125, 0xFF5E),
    (-25.0625, 0xFE6F),
    (-55.0, 0xFC90),
]


@pytest.mark.parametrize(("celsius", "register"), DATA_SHEET_TABLE_1)
def test_decodes_every_row_of_the_data_sheet(celsius: float, register: int) -> None:
    assert temperature_c(register & 0xFF, register >> 8, 0x7F) == celsius


# Data sheet, table 2 and "bit 0 is undefined": configuration byte and step at each resolution.
@pytest.mark.parametrize(("config", "step"), [(0x1F, 0.5), (0x3F, 0.25), (0x5F, 0.125), (0x7F, 0.0625)])
def test_every_register_at_every_resolution_against_another_formula(config: int, step: float) -> None:
    for register in range(0x10000):
        signed = register - 0x10000 if register & 0x8000 else register
        expected = signed / 16 // step * step
        assert temperature_c(register & 0xFF, register >> 8, config) == expected


# Maxim Application Note 27: the ROM code A2 00 00 00 01 B8 1C 02, family byte first, has the CRC A2.
def test_crc_of_the_worked_example() -> None:
    assert crc8(bytes.fromhex("021CB801000000")) == 0xA2


# ROM codes and power-on scratchpads printed by C. Petrich, counterfeit_DS18B20 (README, CC BY).
@pytest.mark.parametrize(
    "octets",
    [
        "50054B467FFF0C101C",
        "500555007FFF0C1021",
        "500500001FFF0C1074",
        "50057F807FFF0C1093",
        "28139BBB0B00001F",
        "28FF641DCD96F201",
        "28481B7791170255",
    ],
)
def test_crc_of_published_bytes_is_zero_over_their_own(octets: str) -> None:
    assert crc8(bytes.fromhex(octets)) == 0


# The same source prints a ninth byte that does not check.
def test_crc_tells_a_wrong_byte() -> None:
    assert crc8(bytes.fromhex("900155057F7E816627")) != 0


# Linux, Documentation/w1/slaves/w1_therm.rst: the format, with a reading of 23.125 °C.
KERNEL_TEXT = "72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01 4b 46 7f ff 0e 10 57 t=23125\n"


def test_reads_the_kernels_text() -> None:
    assert sample_from_text(KERNEL_TEXT) == Measured(23.125)


def test_ignores_the_kernels_own_number() -> None:
    assert sample_from_text(KERNEL_TEXT.replace("t=23125", "t=99999")) == Measured(23.125)


def test_masks_the_undefined_bits_of_a_lower_resolution() -> None:
    octets = scratchpad(25.4375, config=0x1F)
    assert sample_from_text(w1_text(octets)) == Measured(25.0)


FAULTS = {
    "an empty file": ("", Fault.EMPTY),
    "a lone newline": ("\n", Fault.MALFORMED),
    "only the first line": (KERNEL_TEXT.partition("\n")[0] + "\n", Fault.MALFORMED),
    "no end of line": (KERNEL_TEXT[:-1], Fault.MALFORMED),
    "a line too many": (KERNEL_TEXT + "\n", Fault.MALFORMED),
    "eight bytes": (KERNEL_TEXT.replace("72 01", "01", 1), Fault.MALFORMED),
    "capitals": (KERNEL_TEXT.upper(), Fault.MALFORMED),
    "the kernel's NO": (KERNEL_TEXT.replace("YES", "NO"), Fault.CRC),
    "a flipped bit under the kernel's YES": (KERNEL_TEXT.replace("72 01", "73 01", 1), Fault.CRC),
    "all zero, whose checksum is right": (w1_text(bytes(9)), Fault.ZEROS),
    "all ones": (w1_text(b"\xff" * 9), Fault.CRC),
    "power-on": (w1_at(85.0), Fault.POWER_ON),
    "a failed conversion": (w1_at(127.9375), Fault.UNCONVERTED),
    "too warm for a tank": (w1_at(45.0625), Fault.OUT_OF_RANGE),
    "too cold for a tank": (w1_at(-10.0625), Fault.OUT_OF_RANGE),
    "a configuration with bit 7 set": (w1_text(scratchpad(25.0, config=0xFF)), Fault.MALFORMED),
    "a configuration with bit 4 clear": (w1_text(scratchpad(25.0, config=0x6F)), Fault.MALFORMED),
}


@pytest.mark.parametrize(("text", "fault"), FAULTS.values(), ids=FAULTS.keys())
def test_a_fault_of_the_wire_is_no_reading(text: str, fault: Fault) -> None:
    assert sample_from_text(text) == Failed(fault)


@pytest.mark.parametrize("celsius", [-10.0, 0.0, 45.0, 84.9375 - 40, 25.0])
def test_the_ends_of_the_range_are_readings(celsius: float) -> None:
    assert sample_from_text(w1_at(celsius)) == Measured(celsius)


@given(st.text())
def test_any_text_is_a_reading_or_a_fault(text: str) -> None:
    assert isinstance(sample_from_text(text), Measured | Failed)


@given(position=st.integers(0, 71), bit=st.integers(0, 7))
def test_one_flipped_bit_of_the_first_line_never_moves_the_reading(position: int, bit: int) -> None:
    octets = bytearray(scratchpad(25.0))
    octets[position // 8] ^= 1 << (position % 8)
    assert sample_from_text(w1_text(bytes(octets))) == Failed(Fault.CRC)
