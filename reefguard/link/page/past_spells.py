"""From the events of alarms to the stretches of time in which each stood."""

from collections.abc import Iterable
from datetime import datetime

from reefguard.records.events import Recorded
from reefguard.report.strips import Spell

_BEGINS = frozenset({"raised", "unsuppressed", "put_back"})
_ENDS = frozenset({"returned", "reset", "suppressed", "taken_out"})


def spells(events: Iterable[Recorded], from_s: float, until_s: float) -> tuple[Spell, ...]:
    """Return when alarms stood, cut to a stretch of time (Unix seconds), in order of their beginnings.

    Args:
        events: in order; those that are about no alarm, or at no time that can be read, are passed over.
        from_s: the beginning; what stood already then begins here.
        until_s: the end; what stands still then ends here.
    """
    open_since: dict[str, float] = {}
    found: list[Spell] = []

    def close(name: str, end_s: float) -> None:
        start_s = open_since.pop(name, None)
        if start_s is not None and end_s >= from_s and start_s <= until_s:
            found.append(Spell(max(start_s, from_s), max(start_s, from_s, min(end_s, until_s)), name))

    for _, event in events:
        at_s = _unix(event.at_wall)
        if event.kind != "alarm" or at_s is None:
            continue
        if event.change in _BEGINS:
            open_since.setdefault(event.subject, at_s)
        elif event.change in _ENDS:
            close(event.subject, at_s)
    for name in tuple(open_since):
        close(name, until_s)
    return tuple(sorted(found, key=lambda spell: (spell.start_s, spell.name)))


def _unix(at_wall: str) -> float | None:
    try:
        at = datetime.fromisoformat(at_wall)
        return None if at.tzinfo is None else at.timestamp()
    except (ValueError, OverflowError):
        return None
