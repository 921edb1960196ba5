"""Time by the calendar and the clock on the wall: the round moments of a stretch, and their names.

Times are Unix seconds.  A day that daylight saving makes an hour longer or
shorter is as long as it is: midnights are midnights.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from enum import Enum

from reefguard.report.scales import DAY_S, HOUR_S, MINUTE_S, TimeAxis

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_TICK_PX = 72.0


class Step(Enum):
    """From one round moment to the next: about how many seconds."""

    FIVE_MINUTES = 5 * MINUTE_S
    QUARTER = 15 * MINUTE_S
    HALF_HOUR = 30 * MINUTE_S
    HOUR = HOUR_S
    TWO_HOURS = 2 * HOUR_S
    THREE_HOURS = 3 * HOUR_S
    SIX_HOURS = 6 * HOUR_S
    HALF_DAY = 12 * HOUR_S
    DAY = DAY_S
    TWO_DAYS = 2 * DAY_S
    WEEK = 7 * DAY_S
    TWO_WEEKS = 14 * DAY_S
    MONTH = 30.4 * DAY_S
    QUARTER_YEAR = 91.3 * DAY_S


def moments(start_s: float, end_s: float, step: Step, zone: tzinfo) -> tuple[float, ...]:
    """Return the round moments from `start_s` to `end_s`, both included, in order.

    >>> moments(1_000_000.0, 1_200_000.0, Step.DAY, UTC)
    (1036800.0, 1123200.0)
    """
    found: list[float] = []
    for moment in _candidates(start_s, step, zone):
        at_s = moment.timestamp()
        if at_s > end_s:
            break
        # Where the clock is put on, an hour's round moments fall together.
        if at_s >= start_s and (not found or at_s > found[-1]):
            found.append(at_s)
    return tuple(found)


def _candidates(start_s: float, step: Step, zone: tzinfo) -> Iterator[datetime]:
    day = datetime.fromtimestamp(start_s, zone).date()
    if step.value < DAY_S:
        while True:
            first = datetime.combine(day, time(), zone)
            for index in range(round(DAY_S / step.value)):
                yield first + timedelta(seconds=index * step.value)
            day += timedelta(days=1)
    if step in (Step.MONTH, Step.QUARTER_YEAR):
        months = 1 if step is Step.MONTH else 3
        month = day.year * 12 + day.month - 1
        month -= month % months
        while True:
            yield datetime(month // 12, month % 12 + 1, 1, tzinfo=zone)
            month += months
    days = round(step.value / DAY_S)
    # Weeks begin with Monday, as ISO 8601 has it; 1 January of the year 1 was one.
    day = date.fromordinal(day.toordinal() - (day.toordinal() - 1) % days)
    while True:
        yield datetime.combine(day, time(), zone)
        day += timedelta(days=days)


def moment_name(at_s: float, step: Step, zone: tzinfo) -> str:
    """Name a round moment in as few letters as tell it from its neighbours.

    >>> moment_name(21_600.0, Step.SIX_HOURS, UTC), moment_name(86_400.0, Step.SIX_HOURS, UTC)
    ('06:00', '2 Jan')
    """
    local = datetime.fromtimestamp(at_s, zone)
    if step in (Step.MONTH, Step.QUARTER_YEAR):
        return str(local.year) if local.month == 1 else MONTHS[local.month - 1]
    if step.value < DAY_S and (local.hour, local.minute) != (0, 0):
        return f"{local.hour:02d}:{local.minute:02d}"
    return f"{local.day} {MONTHS[local.month - 1]}"


def day_name(at_s: float, zone: tzinfo) -> str:
    """Name a day.

    >>> day_name(0.0, UTC)
    'Thu 1 Jan'
    """
    local = datetime.fromtimestamp(at_s, zone)
    return f"{_WEEKDAYS[local.weekday()]} {local.day} {MONTHS[local.month - 1]}"


def clock_name(at_s: float, zone: tzinfo) -> str:
    """Name a moment by day and clock.

    >>> clock_name(3_660.0, UTC)
    'Thu 1 Jan 01:01'
    """
    local = datetime.fromtimestamp(at_s, zone)
    return f"{day_name(at_s, zone)} {local.hour:02d}:{local.minute:02d}"


@dataclass(frozen=True, slots=True)
class CalendarAxis(TimeAxis):
    """A stretch of real time, named by the calendar.

    Attributes:
        zone: whose clock names it.
    """

    zone: tzinfo = field(default=UTC)

    def ticks(self, width_px: float) -> tuple[tuple[float, str], ...]:
        """Choose as many round moments as can be named side by side."""
        least_s = (self.end_s - self.start_s) / max(1.0, width_px / _TICK_PX)
        step = next((one for one in Step if one.value >= least_s), Step.QUARTER_YEAR)
        return tuple(
            (at_s, moment_name(at_s, step, self.zone))
            for at_s in moments(self.start_s, self.end_s, step, self.zone)
        )
