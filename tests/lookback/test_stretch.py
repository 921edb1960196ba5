"""A stretch falls into whole local days and a rest, each second once, whatever the clocks do."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.lookback.stretch import Stretch, before, day_of, rest, whole_days
from reefguard.lookback.words import stretch_name

ZONES = ("Europe/Rome", "America/St_Johns", "Australia/Lord_Howe", "Pacific/Apia", "UTC")
# 2011-12-20 to 2026: with changes of the clocks, and the day that Samoa left out (IANA time zone database).
MOMENTS = st.floats(1_324_339_200.0, 1_790_000_000.0)


@settings(deadline=None)
@given(MOMENTS, st.floats(1.0, 40 * 86_400.0), st.sampled_from(ZONES), st.data())
def test_days_and_rest_are_the_stretch(from_s: float, lasts_s: float, name: str, data: st.DataObject) -> None:
    zone, stretch = ZoneInfo(name), Stretch(from_s, from_s + lasts_s)
    days = whole_days(stretch, zone)
    taken = data.draw(st.sets(st.sampled_from(days))) if days else set[date]()
    parts = sorted([*rest(stretch, taken, zone), *(day_of(day, zone) for day in taken)])
    parts = [part for part in parts if part.lasts_s > 0.0]
    assert parts[0].from_s == stretch.from_s
    assert parts[-1].until_s == stretch.until_s
    assert all(one.until_s == other.from_s for one, other in pairwise(parts))


@pytest.mark.parametrize(
    ("day", "hours"), [(date(2026, 3, 29), 23), (date(2026, 10, 25), 25), (date(2026, 7, 1), 24)]
)
def test_a_day_is_as_long_as_the_clocks_make_it(day: date, hours: int) -> None:
    # Directive 2000/84/EC: summer time begins on the last Sunday of March, ends on that of October.
    assert day_of(day, ZoneInfo("Europe/Rome")).lasts_s == hours * 3_600.0


def test_before_whole_days_are_as_many_days_though_an_hour_longer() -> None:
    zone = ZoneInfo("Europe/Rome")
    week = Stretch(day_of(date(2026, 10, 26), zone).from_s, day_of(date(2026, 11, 1), zone).until_s)
    earlier = before(week, zone)
    assert earlier == (day_of(date(2026, 10, 19), zone).from_s, week.from_s)
    assert earlier.lasts_s == week.lasts_s + 3_600.0


@settings(deadline=None)
@given(MOMENTS, st.floats(1.0, 1e6))
def test_before_a_piece_of_a_day_is_as_long(from_s: float, lasts_s: float) -> None:
    earlier = before(Stretch(from_s, from_s + lasts_s), UTC)
    assert earlier.until_s == from_s
    assert earlier.lasts_s == pytest.approx(lasts_s, abs=1e-3)


@pytest.mark.parametrize(
    ("begins", "lasts", "said"),
    [
        ("2026-07-20 00:00", timedelta(days=1), "Mon 20 Jul 2026"),
        ("2026-07-20 00:00", timedelta(days=7), "Mon 20 Jul to Sun 26 Jul 2026"),
        ("2025-12-29 00:00", timedelta(days=7), "Mon 29 Dec 2025 to Sun 4 Jan 2026"),
        ("2026-07-20 18:30", timedelta(hours=12), "Mon 20 Jul 18:30 to Tue 21 Jul 2026 06:30"),
        ("2025-12-31 18:00", timedelta(hours=12), "Wed 31 Dec 2025 18:00 to Thu 1 Jan 2026 06:00"),
    ],
)
def test_a_stretch_is_named_as_short_as_it_can_be(begins: str, lasts: timedelta, said: str) -> None:
    at = datetime.fromisoformat(begins).replace(tzinfo=UTC)
    assert stretch_name(Stretch(at.timestamp(), (at + lasts).timestamp()), UTC) == said
