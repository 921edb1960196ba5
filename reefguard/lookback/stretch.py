"""A stretch of time, and the local days in it.

Whole local days are told by the totals that the guard made tick by tick;
what is left before, between and after them by the history's spans.  A day is
as long as it is: 23, 24 or 25 hours.
"""

from collections.abc import Collection, Iterator
from datetime import date, datetime, time, timedelta, tzinfo
from typing import NamedTuple


class Stretch(NamedTuple):
    """From one moment until another, Unix seconds."""

    from_s: float
    until_s: float

    @property
    def lasts_s(self) -> float:
        """How long it lasts."""
        return self.until_s - self.from_s

    def overlap_s(self, from_s: float, until_s: float) -> float:
        """Return how much of another stretch lies in this one.

        >>> Stretch(0.0, 100.0).overlap_s(90.0, 500.0)
        10.0
        """
        return max(0.0, min(self.until_s, until_s) - max(self.from_s, from_s))

    def holds(self, at_s: float) -> bool:
        """Whether a moment lies in it; its end belongs to the next."""
        return self.from_s <= at_s < self.until_s


def local(at_s: float, zone: tzinfo) -> datetime:
    """Return a moment by the keeper's clock."""
    return datetime.fromtimestamp(at_s, zone)


def midnight_s(day: date, zone: tzinfo) -> float:
    """Return when a local day begins, Unix seconds."""
    return datetime.combine(day, time(), zone).timestamp()


def day_of(day: date, zone: tzinfo) -> Stretch:
    """Return a local day."""
    return Stretch(midnight_s(day, zone), midnight_s(day + timedelta(days=1), zone))


def whole_days(stretch: Stretch, zone: tzinfo) -> tuple[date, ...]:
    """Return the local days that lie in a stretch from midnight to midnight."""
    return tuple(day for day in _touched(stretch, zone) if _inside(day_of(day, zone), stretch))


def rest(stretch: Stretch, days: Collection[date], zone: tzinfo) -> tuple[Stretch, ...]:
    """Return what of a stretch lies in none of `days`, in order of time."""
    left: list[Stretch] = []
    for day in _touched(stretch, zone):
        if day in days:
            continue
        begins, ends = day_of(day, zone)
        begins, ends = max(begins, stretch.from_s), min(ends, stretch.until_s)
        if left and left[-1].until_s == begins:
            left[-1] = Stretch(left[-1].from_s, ends)
        elif ends > begins:
            left.append(Stretch(begins, ends))
    return tuple(left)


def before(stretch: Stretch, zone: tzinfo) -> Stretch:
    """Return the stretch of equal length before: of as many local days where it consists of whole ones."""
    days = whole_days(stretch, zone)
    if days and sum(day_of(day, zone).lasts_s for day in days) == stretch.lasts_s:
        return Stretch(midnight_s(days[0] - timedelta(days=len(days)), zone), stretch.from_s)
    return Stretch(stretch.from_s - stretch.lasts_s, stretch.from_s)


def _touched(stretch: Stretch, zone: tzinfo) -> Iterator[date]:
    day, last = local(stretch.from_s, zone).date(), local(stretch.until_s, zone).date()
    while day <= last:
        yield day
        day += timedelta(days=1)


def _inside(inner: Stretch, outer: Stretch) -> bool:
    return outer.from_s <= inner.from_s and inner.until_s <= outer.until_s
