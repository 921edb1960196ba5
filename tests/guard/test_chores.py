"""Chores by the wall clock: each due one runs once, however the clock behaves."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, timezone
from functools import partial
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.guard.chores import Chores

NOON = datetime(2031, 7, 14, 12, 0, tzinfo=UTC)
SECOND = timedelta(seconds=1)
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)


def _runs(
    looks: Sequence[datetime], zone: ZoneInfo | None = None, hour: int = 0, minute: int = 0
) -> list[datetime]:
    """Return at which looks the one chore of the day ran."""
    ran: list[datetime] = []
    chores = Chores(zone or ZoneInfo("UTC"))
    chores.add("daily", lambda: ran.append(now), hour=hour, minute=minute)
    for now in looks:
        before = len(ran)
        names = chores.run_due(now)
        assert list(names) == ["daily"] * (len(ran) - before)
    return ran


def _every(step: timedelta, begin: datetime, end: datetime) -> list[datetime]:
    return [begin + step * i for i in range(int((end - begin) / step) + 1)]


def test_each_midnight_once_whatever_the_pace_of_looking() -> None:
    for step in (timedelta(minutes=7), timedelta(hours=5)):
        looks = _every(step, NOON, NOON + 5 * DAY)
        assert len(_runs(looks)) == 5


def test_on_the_exact_second_and_not_before() -> None:
    midnight = NOON.replace(hour=0) + DAY
    assert _runs([NOON, midnight - SECOND]) == []
    assert _runs([NOON, midnight]) == [midnight]


def test_a_start_owes_nothing_of_the_past() -> None:
    assert _runs([NOON, NOON + HOUR]) == []


def test_a_jump_of_half_a_year_runs_it_once_and_then_daily() -> None:
    later = NOON + 180 * DAY
    assert _runs([NOON, later, later + SECOND, later + HOUR]) == [later]
    assert len(_runs([NOON, *_every(HOUR, later, later + 3 * DAY)])) == 1 + 3


def test_a_clock_set_back_an_hour_stalls_nothing() -> None:
    evening = NOON.replace(hour=23, minute=30)
    looks = [
        *_every(timedelta(minutes=5), NOON, evening),
        *_every(timedelta(minutes=5), evening - HOUR, NOON + DAY),
    ]
    assert len(_runs(looks)) == 1


def test_small_steps_back_around_midnight_run_nothing_twice() -> None:
    midnight = NOON.replace(hour=0) + DAY
    wobble = [midnight + SECOND * s for s in (-3, -1, 1, -1, 0, 2, -30, 1, -1800, 1, 60)]
    assert len(_runs([NOON, *wobble])) == 1
    # The next midnight is another day.
    assert len(_runs([NOON, *wobble, midnight + DAY])) == 2


def test_set_back_by_days_the_days_count_again() -> None:
    wrong = NOON + 400 * DAY
    looks = [NOON, *_every(HOUR, wrong, wrong + 2 * DAY), *_every(HOUR, NOON, NOON + 2 * DAY)]
    assert len(_runs(looks)) == 1 + 2 + 2


@pytest.mark.parametrize("fixed_offset", [True, False])
@pytest.mark.parametrize(
    ("zone", "begin", "hour", "minute", "days"),
    [
        # tzdata: on 30 March 2031 Berlin has no 02:30, on 26 October 2031 it has two;
        # on 1 November 2026 Havana has two midnights, on 8 March 2026 it has none.
        ("Europe/Berlin", datetime(2031, 3, 29, 12, tzinfo=UTC), 2, 30, [30, 31, 1]),
        ("Europe/Berlin", datetime(2031, 10, 25, 12, tzinfo=UTC), 2, 30, [26, 27, 28]),
        ("Europe/Berlin", datetime(2031, 10, 25, 12, tzinfo=UTC), 0, 0, [26, 27, 28]),
        ("America/Havana", datetime(2026, 10, 31, 12, tzinfo=UTC), 0, 0, [1, 2, 3]),
        ("America/Havana", datetime(2026, 3, 7, 12, tzinfo=UTC), 0, 0, [9, 10]),
    ],
)
def test_once_a_day_where_the_clocks_change(
    zone: str, begin: datetime, hour: int, minute: int, days: list[int], fixed_offset: bool
) -> None:
    there = ZoneInfo(zone)
    looks = [now.astimezone(there) for now in _every(timedelta(minutes=10), begin, begin + 3 * DAY)]
    if fixed_offset:  # as the machine's clock gives it
        looks = [now.replace(tzinfo=timezone(now.utcoffset() or timedelta())) for now in looks]
    assert [now.day for now in _runs(looks, there, hour, minute)] == days


def test_a_clock_at_the_end_of_the_calendar_breaks_nothing() -> None:
    last = datetime(9999, 12, 31, 23, 59, 59, 999_999, tzinfo=UTC)
    assert _runs([NOON, last - HOUR, last, last]) == [last - HOUR]
    assert len(_runs([last, NOON, NOON + DAY])) == 1


def test_several_chores_each_at_its_own_time() -> None:
    ran: list[str] = []
    chores = Chores(ZoneInfo("UTC"))
    for hour in (13, 14):
        chores.add(f"at {hour}", partial(ran.append, f"at {hour}"), hour=hour)
    chores.run_due(NOON)
    assert chores.run_due(NOON + HOUR) == ("at 13",)
    assert chores.run_due(NOON + DAY) == ("at 14",)
    assert chores.run_due(NOON + DAY + 3 * HOUR) == ("at 13", "at 14")
    assert ran == ["at 13", "at 14", "at 13", "at 14"]


steps = st.lists(st.integers(-7_200, 90_000), max_size=60)


@given(steps)
@settings(deadline=None, max_examples=200)
def test_for_any_clock_it_runs_once_for_each_midnight_passed_forwards_at_most(walk: list[int]) -> None:
    looks = [NOON]
    for step_s in walk:
        looks.append(looks[-1] + SECOND * step_s)
    passed = sum(before.date() < after.date() for before, after in pairwise(looks))
    assert len(_runs(looks)) <= passed


@given(st.lists(st.integers(1, 90_000), max_size=60))
@settings(deadline=None, max_examples=200)
def test_for_any_clock_that_only_goes_forwards_it_runs_with_the_first_look_of_each_day(
    walk: list[int],
) -> None:
    looks = [NOON]
    for step_s in walk:
        looks.append(looks[-1] + SECOND * step_s)
    first_looks = [after for before, after in pairwise(looks) if before.date() < after.date()]
    assert _runs(looks) == first_looks
