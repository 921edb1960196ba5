"""Who says whether the lights are on, and since when they are off."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from reefguard.control.photoperiod import LightsState, Told, next_change, observe
from reefguard.settings.model import Lights
from reefguard.vocabulary import Wall

HOURS = Lights(on_s=10 * 3_600, off_s=20 * 3_600, utc_offset_s=0)
OVER_MIDNIGHT = Lights(on_s=20 * 3_600, off_s=6 * 3_600, utc_offset_s=0)


def at(hour: int, minute: int = 0, second: int = 0, *, trusted: bool = True) -> Wall:
    return Wall(datetime(2026, 7, 1, hour, minute, second, tzinfo=UTC), trusted=trusted)


def seen(
    before: LightsState | None,
    wall: Wall,
    *,
    sensed: bool | None = None,
    now_s: float = 50_000.0,
    lights: Lights = HOURS,
) -> LightsState:
    return observe(before, sensed=sensed, wall=wall, now_s=now_s, lights=lights)


@pytest.mark.parametrize(
    ("wall", "on"),
    [
        (at(9, 59, 59), False),
        (at(10), True),
        (at(19, 59, 59), True),
        (at(20), False),
        (at(0), False),
    ],
)
def test_the_hours_turn_to_the_exact_second(wall: Wall, on: bool) -> None:
    state = seen(None, wall)
    assert (state.on, state.told) == (on, Told.HOURS)


@pytest.mark.parametrize(
    ("wall", "on"),
    [(at(19, 59, 59), False), (at(20), True), (at(0), True), (at(5, 59, 59), True), (at(6), False)],
)
def test_hours_may_go_over_midnight(wall: Wall, on: bool) -> None:
    assert seen(None, wall, lights=OVER_MIDNIGHT).on is on


def test_a_lamp_timer_without_daylight_saving_keeps_its_own_offset() -> None:
    summer = datetime(2026, 7, 1, 20, 30, tzinfo=timezone(timedelta(hours=2)))
    wall = Wall(summer, trusted=True)
    winter_time = Lights(on_s=10 * 3_600, off_s=20 * 3_600, utc_offset_s=3_600)
    local_time = Lights(on_s=10 * 3_600, off_s=20 * 3_600)
    assert seen(None, wall, lights=winter_time).on is True  # 19:30 by the lamp
    assert seen(None, wall, lights=local_time).on is False


def test_a_sensed_input_outranks_the_hours() -> None:
    assert seen(None, at(12), sensed=False) == LightsState(False, Told.SENSED, 50_000.0)
    assert seen(None, at(23), sensed=True) == LightsState(True, Told.SENSED)


def test_a_sensed_input_needs_no_clock() -> None:
    assert seen(None, at(12, trusted=False), sensed=True) == LightsState(True, Told.SENSED)


def test_hours_need_a_clock_known_to_be_right() -> None:
    assert seen(None, at(12, trusted=False)) == LightsState(None, Told.NOBODY)


def test_a_start_in_the_dark_counts_the_dark_from_the_hours() -> None:
    assert seen(None, at(20, 25)) == LightsState(False, Told.HOURS, 50_000.0 - 25 * 60)
    assert seen(None, at(9)) == LightsState(False, Told.HOURS, 50_000.0 - 13 * 3_600)


def test_a_clock_that_is_set_after_a_start_in_the_dark_counts_the_dark_from_the_hours() -> None:
    unknown = seen(None, at(3, trusted=False))
    assert seen(unknown, at(3)) == LightsState(False, Told.HOURS, 50_000.0 - 7 * 3_600)


def test_a_start_in_the_dark_by_the_input_runs_the_whole_time_on() -> None:
    assert seen(None, at(3), sensed=False) == LightsState(False, Told.SENSED, 50_000.0)


def test_lights_that_go_off_are_dated_by_the_boot_clock() -> None:
    lit = seen(None, at(19, 59, 58))
    dark = seen(lit, at(20), now_s=50_005.0)
    assert dark == LightsState(False, Told.HOURS, 50_005.0)


def test_the_beginning_of_the_dark_is_kept_whatever_the_clock_does() -> None:
    dark = seen(seen(None, at(19)), at(20), now_s=50_005.0)
    assert seen(dark, at(23), now_s=50_010.0) is dark
    assert seen(dark, at(4), now_s=50_010.0) is dark


@pytest.mark.parametrize(
    ("first", "then"),
    [((None, Told.HOURS), (False, Told.SENSED)), ((False, Told.SENSED), (None, Told.HOURS))],
)
def test_the_beginning_of_the_dark_is_kept_when_another_one_tells(
    first: tuple[bool | None, Told], then: tuple[bool | None, Told]
) -> None:
    dark = observe(None, sensed=first[0], wall=at(20), now_s=1_000.0, lights=HOURS)
    assert dark.told is first[1]
    later = observe(dark, sensed=then[0], wall=at(21), now_s=4_600.0, lights=HOURS)
    assert later == LightsState(False, then[1], 1_000.0)


def test_lights_last_seen_on_by_an_input_that_falls_silent_go_off_now() -> None:
    lit = seen(None, at(23), sensed=True)
    assert seen(lit, at(23), now_s=50_005.0) == LightsState(False, Told.HOURS, 50_005.0)


def test_light_ends_the_dark() -> None:
    dark = seen(None, at(21))
    lit = seen(dark, at(10), now_s=60_000.0)
    assert lit == LightsState(True, Told.HOURS)


def test_a_clock_that_loses_trust_makes_the_lights_unknown() -> None:
    dark = seen(None, at(21))
    assert seen(dark, at(21, trusted=False), now_s=50_005.0) == LightsState(None, Told.NOBODY)


@pytest.mark.parametrize(
    ("wall", "coming"),
    [
        (at(9, 59), ("lights on", 60.0)),
        (at(10), ("lights off", 36_000.0)),
        (at(19, 59, 59), ("lights off", 1.0)),
        (at(20), ("lights on", 50_400.0)),
        (at(23, 0), ("lights on", 39_600.0)),
    ],
)
def test_tells_what_the_lights_do_next(wall: Wall, coming: tuple[str, float]) -> None:
    assert next_change(wall, HOURS) == coming


def test_nobody_knows_what_comes_next_without_the_time() -> None:
    assert next_change(at(12, trusted=False), HOURS) is None
