"""Automatic is earned; schedule comes when the water has been unknown for long enough."""

import pytest

from reefguard.control.mode import ModeMemory, choose
from reefguard.vocabulary import Mode, WaterEstimate

AFTER_S = 180.0


def known(at_s: float) -> WaterEstimate:
    return WaterEstimate(26.0, "display", 25.9, "sump", at_s)


def test_begins_in_schedule_and_stays_until_the_water_is_known() -> None:
    memory = ModeMemory()
    assert memory == ModeMemory(Mode.SCHEDULE, None)
    assert choose(memory, None, 10_000.0, AFTER_S) == memory


def test_known_water_brings_automatic_at_once() -> None:
    assert choose(ModeMemory(), known(998.0), 1_000.0, AFTER_S) == ModeMemory(Mode.AUTOMATIC, 998.0)


@pytest.mark.parametrize(
    ("now_s", "mode"),
    [
        (1_000.1, Mode.AUTOMATIC),
        (1_179.9, Mode.AUTOMATIC),
        (1_180.0, Mode.SCHEDULE),
        (9_999.0, Mode.SCHEDULE),
    ],
)
def test_the_time_counts_from_the_last_reading_to_the_exact_second(now_s: float, mode: Mode) -> None:
    automatic = choose(ModeMemory(), known(1_000.0), 1_050.0, AFTER_S)
    assert choose(automatic, None, now_s, AFTER_S) == ModeMemory(mode, 1_000.0)


def test_schedule_does_not_end_without_a_reading_whatever_the_time() -> None:
    schedule = ModeMemory(Mode.SCHEDULE, 1_000.0)
    assert choose(schedule, None, 1_001.0, AFTER_S) == schedule


def test_automatic_without_any_reading_to_count_from_is_schedule() -> None:
    assert choose(ModeMemory(Mode.AUTOMATIC, None), None, 5.0, AFTER_S).mode is Mode.SCHEDULE
