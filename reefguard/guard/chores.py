"""Chores at wall-clock times, and nothing else at wall-clock times.

The calendar (days, hours, daylight saving) is APScheduler's cron trigger; the
clock it is held against is the guard's own, looked at between two ticks.  So
a clock set back stalls no chore, a jump forward runs each due chore once, and
no chore runs beside a tick.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from apscheduler.triggers.cron import CronTrigger

# A clock set back by less runs nothing twice; set back by more it is a new day to us.
_SAME_DAY = timedelta(hours=1)

_A_MOMENT = timedelta(microseconds=1)


@dataclass(slots=True)
class _Entry:
    name: str
    trigger: CronTrigger
    chore: Callable[[], None]
    due: datetime | None = None
    done: datetime | None = None


class Chores:
    """Knows what is due.  Not a thread: `run_due` is called between ticks."""

    def __init__(self, zone: tzinfo) -> None:
        """Start without chores; `zone` is the time zone their times are meant in."""
        self._zone = zone
        self._entries: list[_Entry] = []
        self._seen: datetime | None = None

    def add(self, name: str, chore: Callable[[], None], *, hour: int, minute: int = 0) -> None:
        """Have `chore` run every day at that time."""
        trigger = CronTrigger(hour=hour, minute=minute, timezone=self._zone)
        self._entries.append(_Entry(name, trigger, chore))

    def run_due(self, now: datetime) -> tuple[str, ...]:
        """Run what has become due since the last look, each once; return the names of what ran.

        Args:
            now: the wall clock, with its offset.
        """
        back = timedelta() if self._seen is None else self._seen - now
        self._seen = now
        ran = []
        for entry in self._entries:
            if back > _SAME_DAY:
                entry.done = None
            if entry.due is None or back > timedelta():
                entry.due = _next(entry, now)
            elif now >= entry.due:
                entry.done = entry.due
                entry.due = _next(entry, now)
                entry.chore()
                ran.append(entry.name)
        return tuple(ran)


def _next(entry: _Entry, now: datetime) -> datetime | None:
    """Return the first time after `now`, on a later day than the last one done, at which the chore is due."""
    done = entry.done
    try:
        due = _fires_after(entry, now if done is None else max(now, done))
        if due is not None and done is not None and due.date() == done.astimezone(due.tzinfo).date():
            # The hour that autumn gives twice.
            due = _fires_after(entry, due)
        return None if due is None else due.astimezone(UTC)
    except (IndexError, ValueError, OverflowError):
        # The calendar ends with the year 9999.  A clock that shows it is wrong, but stops no guard.
        return None


def _fires_after(entry: _Entry, moment: datetime) -> datetime | None:
    fires: datetime | None = entry.trigger.get_next_fire_time(None, moment.astimezone(UTC) + _A_MOMENT)
    return fires
