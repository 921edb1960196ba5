"""Round moments by the calendar: over the change of the clock, over months, and with names that tell them."""

from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reefguard.report.calendar import CalendarAxis, Step, clock_name, moment_name, moments

# Where the clock is put on at 02:00 on 30 March 2031 and back at 03:00 on 26 October (tz database).
ZONE = ZoneInfo("Europe/Vienna")


def at(year: int, month: int, day: int, hour: int = 0, minute: int = 0) -> float:
    return datetime(year, month, day, hour, minute, tzinfo=ZONE).timestamp()


def test_midnights_are_midnights_over_the_change_of_the_clock() -> None:
    found = moments(at(2031, 3, 29), at(2031, 4, 1), Step.DAY, ZONE)
    assert [moment_name(one, Step.DAY, ZONE) for one in found] == ["29 Mar", "30 Mar", "31 Mar", "1 Apr"]
    assert [round((b - a) / 3_600.0) for a, b in pairwise(found)] == [24, 23, 24]


def test_an_hour_that_does_not_exist_is_no_tick_and_none_comes_twice() -> None:
    found = moments(at(2031, 3, 30), at(2031, 3, 30, 6), Step.HOUR, ZONE)
    assert len(found) == len(set(found)) == 6  # 00, 01, 03, 04, 05, 06
    assert list(found) == sorted(found)


def test_weeks_begin_on_monday_and_months_on_the_first() -> None:
    weeks = moments(at(2031, 7, 1), at(2031, 8, 1), Step.WEEK, ZONE)
    assert {datetime.fromtimestamp(one, ZONE).weekday() for one in weeks} == {0}  # ISO 8601
    months = moments(at(2030, 11, 15), at(2031, 3, 1), Step.MONTH, ZONE)
    assert [moment_name(one, Step.MONTH, ZONE) for one in months] == ["Dec", "2031", "Feb", "Mar"]
    quarters = moments(at(2030, 11, 15), at(2031, 11, 1), Step.QUARTER_YEAR, ZONE)
    assert [moment_name(one, Step.MONTH, ZONE) for one in quarters] == ["2031", "Apr", "Jul", "Oct"]


def test_a_moment_has_a_name() -> None:
    assert clock_name(at(2031, 7, 14, 13, 5), ZONE) == "Mon 14 Jul 13:05"


@pytest.mark.parametrize(
    ("days", "width", "names"),
    [
        (1, 300.0, ["00:00", "06:00", "12:00", "18:00"]),
        (7, 300.0, None),
        (90, 300.0, ["Aug", "Sep", "Oct"]),
        (365, 300.0, None),
    ],
)
def test_ticks_can_be_read_side_by_side(days: int, width: float, names: list[str] | None) -> None:
    start = at(2031, 7, 14, 0, 30)
    axis = CalendarAxis(start, start + days * 86_400.0, zone=ZONE)
    ticks = axis.ticks(width)
    pixels = [(one - axis.start_s) / (axis.end_s - axis.start_s) * width for one, _ in ticks]
    # Months are of unequal length, and the clock's change takes an hour from a day.
    assert all(b - a >= 60.0 for a, b in pairwise(pixels))
    assert len(ticks) >= 2
    if names is not None:
        shown = {name for _, name in ticks}
        assert shown <= {*names, "15 Jul"}


@given(st.floats(0.0, 4e9), st.floats(1.0, 4e7), st.sampled_from(list(Step)), st.sampled_from([UTC, ZONE]))
def test_moments_lie_within_and_in_order(start: float, lasts: float, step: Step, zone: ZoneInfo) -> None:
    if lasts / step.value > 5_000:
        return
    found = moments(start, start + lasts, step, zone)
    assert list(found) == sorted(set(found))
    assert all(start <= one <= start + lasts for one in found)
    assert len(found) >= lasts / step.value / 1.1 - 2
