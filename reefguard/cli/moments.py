"""Moments as people type them: a day, or a day and a time."""

import re
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Final

import click

_ONLY_A_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}\Z")


def moment_s(text: str, zone: tzinfo, *, last: bool) -> float:
    """Return a moment in Unix seconds; a day is its beginning, or its end where it is the last one meant.

    Raises:
        click.BadParameter: it cannot be understood.
    """
    try:
        if _ONLY_A_DAY.match(text):
            day = date.fromisoformat(text) + timedelta(days=int(last))
            return datetime.combine(day, time(), zone).timestamp()
        at = datetime.fromisoformat(text)
        return (at if at.tzinfo is not None else at.replace(tzinfo=zone)).timestamp()
    except (ValueError, OverflowError):
        message = (
            f"{text!r} is no time; mend: write it like 2031-07-14, 2031-07-14T20:45 or 2031-07-14T20:45+02:00"
        )
        raise click.BadParameter(message) from None
