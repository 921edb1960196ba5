"""What the guard's status says, taken with care: another version may have written it.

A value that is not there, or is not of its kind, is `None`; nothing here raises.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from reefguard.alarms.machine import State

_STANDING = frozenset(
    state.value
    for state in (
        State.UNACKNOWLEDGED,
        State.ACKNOWLEDGED,
        State.LATCHED_UNACKNOWLEDGED,
        State.LATCHED_ACKNOWLEDGED,
    )
)

Table = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class StandingAlarm:
    """An alarm that a person is shown.

    Attributes:
        name: as in the catalogue.
        priority: 1 (low) to 4 (urgent), as far as it is said.
        what: the sentence.
    """

    name: str
    priority: int | None
    what: str


def table(within: object, key: str) -> Table:
    """Return what stands under `key`, empty unless it is an object."""
    value = within.get(key) if isinstance(within, Mapping) else None
    return value if isinstance(value, Mapping) else {}


def tables(within: object, key: str) -> dict[str, Table]:
    """Return the objects that stand under `key`, by those of their names that can be shown."""
    return {
        name: one
        for name, one in table(within, key).items()
        if isinstance(one, Mapping) and name.isprintable()
    }


def number(within: Table, key: str) -> float | None:
    """Return a finite number.

    >>> [number({"t": value}, "t") for value in (25, 25.5, True, "25", float("nan"), 10**400, None)]
    [25.0, 25.5, None, None, None, None, None]
    """
    value = within.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        return float(value) if math.isfinite(value) else None
    except OverflowError:
        return None


def text(within: Table, key: str) -> str | None:
    """Return a text without control characters, which no topic and no label may carry."""
    value = within.get(key)
    if not isinstance(value, str):
        return None
    return "".join(letter if letter.isprintable() else " " for letter in value)


def flag(within: Table, key: str) -> bool | None:
    """Return yes or no."""
    value = within.get(key)
    return value if isinstance(value, bool) else None


def moment(status: Table, age_s: float | None = 0.0) -> datetime | None:
    """Return when something was, by the wall clock; `None` where the clock is not known to be right.

    Args:
        status: says when it was written.
        age_s: how old the thing was then.
    """
    if flag(status, "clock_trusted") is not True or age_s is None:
        return None
    try:
        written = datetime.fromisoformat(text(status, "written") or "")
        return None if written.tzinfo is None else written - timedelta(seconds=age_s)
    except (ValueError, OverflowError):
        return None


def standing_alarms(status: Table) -> tuple[StandingAlarm, ...]:
    """Return the alarms a person is shown: neither shelved, suppressed, taken out nor returned."""
    listed = status.get("alarms")
    found = {}
    for one in listed if isinstance(listed, list) else ():
        if isinstance(one, Mapping) and one.get("state") in _STANDING and (name := text(one, "name")):
            priority = number(one, "priority")
            what = text(one, "what") or name
            found[name] = StandingAlarm(name, None if priority is None else int(priority), what)
    return tuple(found.values())


def severities(status: Table) -> tuple[str, ...]:
    """Return the severity of each finding."""
    listed = status.get("findings")
    return tuple(
        text(one, "severity") or ""
        for one in (listed if isinstance(listed, list) else ())
        if isinstance(one, Mapping)
    )
