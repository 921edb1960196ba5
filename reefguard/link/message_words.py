"""Messages in words: the tank, how urgent, which alarm; what is so; what to do first; when."""

from collections.abc import Sequence
from dataclasses import dataclass

from reefguard.alarms.catalogue import Priority, kind_of
from reefguard.control.words import span, temperature
from reefguard.link.notes import Note
from reefguard.records.events import Event
from reefguard.settings.model import Unit

OVER = "over"
_LATE_AFTER_S = 300.0


@dataclass(frozen=True, slots=True)
class Voice:
    """What all messages of a tank have in common.

    Attributes:
        tank: what it is called.
        unit: temperatures are told in it.
    """

    tank: str
    unit: Unit


def title(notes: Sequence[Note], tank: str) -> str:
    """Return the first line."""
    urgency = Priority(max(note.priority for note in notes)).name
    if len(notes) > 1:
        standing = sum(note.purpose != OVER for note in notes)
        over = len(notes) - standing
        told = [
            f"{count} {words}" for count, words in ((standing, _alarms(standing)), (over, "over")) if count
        ]
        return f"{tank}, {urgency}: {', '.join(told)}"
    (note,) = notes
    if note.purpose == OVER:
        return f"{tank}, over: {note.alarm}"
    still = " still" if note.purpose.startswith("repeat") else ""
    return f"{tank}, {urgency}{still}: {note.alarm}"


def body(notes: Sequence[Note]) -> str:
    """Return what stands below the first line."""
    if len(notes) > 1:
        return "\n\n".join(f"{_headline(note)}\n{_about(note)}" for note in notes)
    return _about(notes[0])


def trial(tank: str, channel: str, at_wall: str) -> tuple[str, str]:
    """Return title and body of a test that a person asked for."""
    asked = f"This is a TEST of the channel `{channel}`.\nA person asked for it; nothing is to be done."
    return f"{tank}, TEST: nothing is wrong", f"{asked}\nAt {at_wall.replace('T', ' ')}"


def late(late_s: float) -> str:
    r"""Return the line that begins a message which could not be delivered in time; else nothing.

    >>> late(40.0)
    ''
    >>> late(7_260.0)
    'LATE by 2 h 1 min: see below when it happened.\n'
    """
    return f"LATE by {span(late_s)}: see below when it happened.\n" if late_s >= _LATE_AFTER_S else ""


def ended(event: Event, unit: Unit) -> str:
    """Return what there is to say of an alarm's end: how long, how far, how much."""
    details = event.details or {}
    parts = []
    if (lasted_s := _number(details.get("lasted_s"))) is not None:
        parts.append(f"it lasted {span(lasted_s)}")
    if (peak_c := _number(details.get("peak_c"))) is not None:
        parts.append(f"at its worst {temperature(peak_c, unit)}")
    if (degree_hours := _number(details.get("degree_hours"))) is not None:
        shown = degree_hours if unit is Unit.CELSIUS else degree_hours * 1.8
        parts.append(f"{shown:.1f} {unit.value} h outside the band")
    return ", ".join(parts)


def _about(note: Note) -> str:
    kind = kind_of(note.alarm)
    lines = []
    if note.purpose == OVER:
        lines.append(f"{note.more[:1].upper()}{note.more[1:]}." if note.more else "It is over.")
    else:
        lines.append(f"{note.what[:1].upper()}{note.what[1:]}.")
        if note.more:
            lines.append(note.more)
        if kind is not None:
            lines.append(f"Do first ({kind.priority.within}): {kind.first}.")
    lines.append(_when(note))
    return "\n".join(lines)


def _headline(note: Note) -> str:
    return f"{'over' if note.purpose == OVER else Priority(note.priority).name}: {note.alarm}"


def _when(note: Note) -> str:
    doubt = "" if note.clock_trusted else " (the clock was not known to be right)"
    return f"{'Since' if note.purpose.startswith('repeat') else 'At'} {note.at_wall.replace('T', ' ')}{doubt}"


def _alarms(count: int) -> str:
    return "alarm" if count == 1 else "alarms"


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
