"""Tanks as a table for a terminal, and as JSON values."""

from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

from reefguard.control.words import span
from reefguard.link.fleet import Presence, Tank

_GAP: Final = "  "
_HEADINGS: Final = ("tank", "water °C", "mode", "condition", "age", "alarms")
_LONGEST_NAME: Final = 24

# What cannot be believed stands out, on a terminal without colours too.
_NOT_PRESENT: Final = {
    Presence.LOST: "LOST",
    Presence.SILENT: "SILENT",
    Presence.STOPPED: "STOPPED",
    Presence.STARTING: "starting",
}


def rows(tanks: Sequence[Tank]) -> list[str]:
    """Return the table, a line each, its headings first."""
    cells = [_HEADINGS, *(_cells(tank) for tank in tanks)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(_HEADINGS))]
    return [
        _GAP.join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in cells
    ]


def headline(tanks: Sequence[Tank], where: str) -> str:
    """Return how many tanks there are, and how many of them need a look."""
    counts = Counter(_condition(tank) for tank in tanks)
    worth = ", ".join(
        f"{counts[word]} {word}"
        for word in ("LOST", "SILENT", "CRITICAL", "warning", "unknown", "STOPPED", "starting")
        if counts[word]
    )
    many = f"{len(tanks)} tank{'' if len(tanks) == 1 else 's'} at {where}"
    return f"{many}: {worth or 'all healthy'}" if tanks else f"no tanks at {where}"


def screenful(lines: Sequence[str], columns: int, height: int) -> list[str]:
    """Return what of some lines fits on a screen, and a word about the rest.

    >>> screenful(["one", "two", "three", "four"], columns=3, height=3)
    ['one', 'two', 'and']
    """
    if len(lines) > height:
        hidden = len(lines) - height + 1
        lines = [*lines[: height - 1], f"and {hidden} more that stand no worse; make the window higher"]
    return [line if len(line) <= columns else line[:columns] for line in lines]


def as_document(tanks: Sequence[Tank], where: str) -> dict[str, Any]:
    """Return the tanks as JSON values."""
    return {
        "broker": where,
        "tanks": [
            {
                "device": tank.device,
                "name": tank.name,
                "presence": tank.presence.value,
                "warmest_c": tank.warmest_c,
                "coldest_c": tank.coldest_c,
                "mode": tank.mode,
                "condition": tank.condition,
                "alarms": list(tank.alarms),
                "age_s": None if tank.age_s is None else round(tank.age_s, 1),
            }
            for tank in tanks
        ],
    }


def _cells(tank: Tank) -> tuple[str, ...]:
    name = tank.name if len(tank.name) <= _LONGEST_NAME else f"{tank.name[: _LONGEST_NAME - 1]}…"
    age = "unknown" if tank.age_s is None else span(tank.age_s)
    return name, _water(tank), tank.mode or "-", _condition(tank), age, "; ".join(tank.alarms)


def _water(tank: Tank) -> str:
    if tank.coldest_c is None or tank.warmest_c is None:
        return "-"
    return f"{tank.coldest_c:.2f} to {tank.warmest_c:.2f}"


def _condition(tank: Tank) -> str:
    if tank.presence is not Presence.PRESENT:
        return _NOT_PRESENT[tank.presence]
    return "CRITICAL" if tank.condition == "critical" else tank.condition
