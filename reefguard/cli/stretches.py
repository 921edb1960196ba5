"""Stretches of time that a person names: `--from`, `--to`, `--last`."""

import re
from datetime import date, datetime, timedelta, tzinfo
from typing import Final

from reefguard.cli.clocks import open_clock
from reefguard.cli.named_files import stop
from reefguard.lookback.stretch import Stretch, midnight_s

_LONGEST_S: Final = 3_660 * 86_400.0
_LAST: Final = re.compile(r"(\d{1,4}) ?(h|d)")
_DATES: Final = "write a date like 2026-07-20, or a moment like '2026-07-20 18:00'"


def present_s() -> float:
    """Return the present by the wall clock, Unix seconds; ends the command where the bench has none."""
    try:
        return open_clock().wall().local.timestamp()
    except ValueError as error:
        stop(str(error))


def stretch_named(
    from_text: str | None, to_text: str | None, last: str | None, zone: tzinfo, now_s: float
) -> Stretch:
    """Return the stretch that options name, the last 24 hours by default; ends the command on a wrong one."""
    if last is not None and (from_text is not None or to_text is not None):
        stop("--last ends now: it takes no --from and no --to\n  mend: give one or the other")
    if to_text is not None and from_text is None:
        stop("--to alone does not say when to begin\n  mend: give --from too")
    if from_text is None:
        return Stretch(now_s - _last_s("24h" if last is None else last), now_s)
    from_s = _moment_s("--from", from_text, zone, days_later=0)
    if from_s >= now_s:
        stop(f"--from {from_text}\n  it has not been yet\n  mend: give an earlier one")
    # The future has not been written.
    until_s = now_s if to_text is None else min(now_s, _moment_s("--to", to_text, zone, days_later=1))
    if until_s <= from_s:
        stop(f"--to {to_text}\n  it is not later than --from {from_text}\n  mend: give a later one")
    if until_s - from_s > _LONGEST_S:
        stop(f"--from {from_text}\n  that is more than ten years ago\n  mend: give a later one")
    return Stretch(from_s, until_s)


def _last_s(text: str) -> float:
    match = _LAST.fullmatch(text.strip())
    if match is None or not int(match[1]):
        stop(f"--last {text}\n  it is no number of hours or days\n  mend: write it like 24h, 7d or 90d")
    last_s = int(match[1]) * (3_600.0 if match[2] == "h" else 86_400.0)
    if last_s > _LONGEST_S:
        stop(f"--last {text}\n  that is more than ten years\n  mend: give fewer")
    return last_s


def _moment_s(option: str, text: str, zone: tzinfo, *, days_later: int) -> float:
    """Return a moment, or a day's beginning: of the day itself, or of the next for its end."""
    try:
        if len(text.strip()) <= len("2026-07-20"):
            return midnight_s(date.fromisoformat(text.strip()) + timedelta(days=days_later), zone)
        at = datetime.fromisoformat(text.strip())
        return (at.replace(tzinfo=zone) if at.tzinfo is None else at).timestamp()
    except (ValueError, OverflowError, OSError):
        stop(f"{option} {text}\n  it is no date of the calendar\n  mend: {_DATES}")
