"""What the rehearsal's wire gives is what both programs make of the kernel's file for it."""

from pathlib import Path

import pytest

from reefguard.cutoff.ds18b20 import Failed, sample_from_text
from reefguard.hardware.one_wire import read_probe
from reefguard.rehearsal.bench_wire import BenchProbe
from reefguard.rehearsal.drills.drill import Turn
from reefguard.rehearsal.drills.timeline import ProbeTurn
from reefguard.rehearsal.drills.wire import BodyOfProbe, to_cutoff, to_guard
from reefguard.vocabulary import Cause, Missed, Sampled

ROM = "28-000000000101"
WATER_C = 26.25


def put(bus: Path, turn: Turn) -> None:
    """Have the bench's probe fail in this way, as a file."""
    probe = BenchProbe(bus, ROM)
    probe.show(WATER_C)
    match turn:
        case Turn.ABSENT:
            probe.vanish()
        case Turn.EMPTY:
            probe.show_nothing()
        case Turn.CHECKSUM:
            probe.fail_checksum()
        case Turn.ZEROS:
            probe.short_line()
        case Turn.MALFORMED:
            probe.write(b"no thermometer\n")
        case Turn.POWER_ON:
            probe.lose_power()
        case Turn.UNCONVERTED:
            probe.fail_conversion()
        case Turn.OUT_OF_RANGE:
            probe.show(-55.0)
        case _:
            message = f"no file shows {turn}"
            raise AssertionError(message)


AS_FILES = [
    Turn.ABSENT,
    Turn.EMPTY,
    Turn.CHECKSUM,
    Turn.ZEROS,
    Turn.MALFORMED,
    Turn.POWER_ON,
    Turn.UNCONVERTED,
    Turn.OUT_OF_RANGE,
]


@pytest.mark.parametrize("turn", AS_FILES)
def test_the_guard_reads_the_file_as_the_wire_says(tmp_path: Path, turn: Turn) -> None:
    put(tmp_path, turn)
    read = read_probe(tmp_path, ROM)
    said = to_guard(WATER_C, ProbeTurn(turn), 7.0)
    assert said == (Missed(read, 7.0) if isinstance(read, Cause) else Sampled(read, 7.0))


@pytest.mark.parametrize("turn", [turn for turn in AS_FILES if turn is not Turn.ABSENT])
def test_the_cutoff_reads_the_file_as_the_wire_says(tmp_path: Path, turn: Turn) -> None:
    put(tmp_path, turn)
    text = (tmp_path / ROM / "w1_slave").read_text(encoding="ascii")
    assert to_cutoff(WATER_C, ProbeTurn(turn)) == sample_from_text(text)


def test_a_sound_probe_shows_the_water_to_both(tmp_path: Path) -> None:
    BenchProbe(tmp_path, ROM).show(WATER_C)
    text = (tmp_path / ROM / "w1_slave").read_text(encoding="ascii")
    assert read_probe(tmp_path, ROM) == WATER_C
    assert to_guard(WATER_C, None, 7.0) == Sampled(WATER_C, 7.0)
    assert to_cutoff(WATER_C, None) == sample_from_text(text)


def test_a_hung_bus_misses_for_the_guard_and_is_silence_for_the_cutoff() -> None:
    assert to_guard(WATER_C, ProbeTurn(Turn.NO_ANSWER), 7.0) == Missed(Cause.NO_ANSWER, 7.0)
    assert to_cutoff(WATER_C, ProbeTurn(Turn.NO_ANSWER)) is None


def test_the_cutoff_refuses_what_no_water_is() -> None:
    assert isinstance(to_cutoff(45.0625, None), Failed)
    assert isinstance(to_cutoff(-10.0625, None), Failed)


def probe() -> BodyOfProbe:
    return BodyOfProbe(error_c=0.25, lag_s=60.0, body_c=26.0)


def test_a_probe_follows_the_water_late_and_off_by_its_error() -> None:
    body = probe()
    first_c = body.shows(27.0, 20.0, 5.0, 0.0, None)
    # A twelfth of the degree in 5 of 60 s, and a quarter off: 26.333, to the next sixteenth.
    assert first_c == 26.3125
    for _ in range(200):
        last_c = body.shows(27.0, 20.0, 5.0, 0.0, None)
    assert last_c == 27.25


def test_a_probe_in_the_air_follows_the_room() -> None:
    body = probe()
    for _ in range(200):
        shown_c = body.shows(27.0, 20.0, 5.0, 0.0, ProbeTurn(Turn.IN_AIR))
    assert shown_c == 20.25


def test_a_frozen_probe_repeats_its_value_and_then_goes_on() -> None:
    body = probe()
    frozen_c = body.shows(26.0, 20.0, 5.0, 0.0, ProbeTurn(Turn.FROZEN))
    for _ in range(100):
        assert body.shows(29.0, 20.0, 5.0, 0.0, ProbeTurn(Turn.FROZEN)) == frozen_c
    assert body.shows(29.0, 20.0, 5.0, 0.0, None) == pytest.approx(29.25, abs=0.07)


def test_a_drift_grows_with_the_hours() -> None:
    body = probe()
    drift = ProbeTurn(Turn.DRIFTING, 0.5, since_s=1_000.0)
    assert body.shows(26.0, 20.0, 5.0, 1_000.0, drift) == 26.25
    assert body.shows(26.0, 20.0, 5.0, 1_000.0 + 7_200.0, drift) == 27.25


def test_what_is_off_is_off_at_once() -> None:
    assert probe().shows(26.0, 20.0, 5.0, 0.0, ProbeTurn(Turn.OFF_BY, -2.0)) == 24.25
