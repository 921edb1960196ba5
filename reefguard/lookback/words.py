"""Times, lengths and moments as a person says them: no finer than they are known."""

from datetime import tzinfo
from typing import Final

from reefguard.lookback.stretch import Stretch, day_of, local, whole_days
from reefguard.lookback.water import Extreme
from reefguard.records.history import FIVE_MINUTES_S

DAY_S: Final = 86_400.0
NOT_KNOWN: Final = "not known"
_DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def length(seconds: float) -> str:
    """Write how long something lasted, in one unit.

    >>> [length(seconds) for seconds in (0.0, 20.0, 300.0, 5_400.0, 90_000.0, 500_000.0)]
    ['0 min', '20 s', '5 min', '1.5 h', '25 h', '5.8 days']
    """
    if round(seconds) == 0:
        return "0 min"
    if seconds < 59.5:
        return f"{seconds:.0f} s"
    if seconds < 3_570.0:
        return f"{seconds / 60.0:.0f} min"
    if seconds < 5.0 * DAY_S:
        return f"{_short(seconds / 3_600.0)} h"
    return f"{_short(seconds / DAY_S)} days"


def run_hours(seconds: float) -> str:
    """Write how long a machine ran: in hours, however many.

    >>> [run_hours(seconds) for seconds in (0.0, 90.0, 5_400.0, 900_000.0)]
    ['0 h', '2 min', '1.5 h', '250 h']
    """
    if seconds < 3_570.0:
        return length(seconds) if round(seconds) else "0 h"
    return f"{_short(seconds / 3_600.0)} h"


def _short(value: float) -> str:
    # 9.97 is 10, not 10.0.
    return f"{value:.1f}".removesuffix(".0") if value < 9.95 else f"{value:.0f}"


def number(value: float) -> str:
    """Write an amount with two or three figures.

    >>> [number(value) for value in (0.0, 0.034, 1.26, 12.6, 126.0)]
    ['0', '0.03', '1.3', '13', '126']
    """
    if value and abs(value) < 0.095:
        return f"{value:.2f}"
    return _short(value)


def share(value: float) -> str:
    """Write a share; what is not quite all is never rounded up to all.

    >>> [share(value) for value in (0.0, 0.001, 0.5, 0.999, 1.0)]
    ['0 %', 'under 1 %', '50 %', 'over 99 %', '100 %']
    """
    if 0.0 < value < 0.005:
        return "under 1 %"
    if 0.995 <= value < 0.99995:
        return "over 99 %"
    return f"{100.0 * value:.0f} %"


def moment(at_s: float, zone: tzinfo) -> str:
    """Write a moment by the keeper's clock.

    >>> from datetime import UTC
    >>> moment(1_784_999_999.0, UTC)
    'Sat 25 Jul 17:19'
    """
    at = local(at_s, zone)
    return f"{day_name(at_s, zone)} {at:%H:%M}"


def day_name(at_s: float, zone: tzinfo) -> str:
    """Write a day."""
    at = local(at_s, zone)
    return f"{_DAYS[at.weekday()]} {at.day} {_MONTHS[at.month - 1]}"


def when(extreme: Extreme, zone: tzinfo) -> str:
    """Write when an extreme was, as exactly as it is known: to the minute, the hour or the day."""
    if extreme.lasts_s <= FIVE_MINUTES_S:
        return moment(extreme.from_s, zone)
    if extreme.lasts_s < DAY_S / 2.0:
        until = local(extreme.from_s + extreme.lasts_s, zone)
        return f"{moment(extreme.from_s, zone)} to {until:%H:%M}"
    return day_name(extreme.from_s, zone)


def stretch_name(stretch: Stretch, zone: tzinfo) -> str:
    """Write from when until when, with the year; whole days without their midnights."""
    begins, ends = local(stretch.from_s, zone), local(stretch.until_s, zone)
    days = whole_days(stretch, zone)
    if days and sum(day_of(day, zone).lasts_s for day in days) == stretch.lasts_s:
        first = day_name(stretch.from_s, zone)
        last = day_name(day_of(days[-1], zone).from_s, zone)
        between = first if len(days) == 1 else f"{first}{_year_unless(begins.year, days[-1].year)} to {last}"
        return f"{between} {days[-1].year}"
    first = _with_year(stretch.from_s, zone) if begins.year != ends.year else moment(stretch.from_s, zone)
    return f"{first} to {_with_year(stretch.until_s, zone)}"


def _with_year(at_s: float, zone: tzinfo) -> str:
    at = local(at_s, zone)
    return f"{day_name(at_s, zone)} {at.year} {at:%H:%M}"


def _year_unless(year: int, other: int) -> str:
    return "" if year == other else f" {year}"


def listed(names: tuple[str, ...] | list[str]) -> str:
    """Join names.

    >>> listed(["a"]), listed(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def counted(count: int, one: str, more: str) -> str:
    """Write how many there are.

    >>> counted(1, "start", "starts"), counted(0, "start", "starts")
    ('1 start', 'no starts')
    """
    return f"{count or 'no'} {one if count == 1 else more}"
