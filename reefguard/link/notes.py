"""What the policy remembers of a channel: the alarms it told of, and what it has not told yet."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple


@dataclass(frozen=True, slots=True)
class Now:
    """The present, by both clocks.

    Attributes:
        boot_s: boot clock; all that is timed goes by it.
        boot_id: of which boot.
        local: wall clock, with its offset; only quiet hours and words go by it.
        trusted: whether the wall clock is known to be right.
    """

    boot_s: float
    boot_id: str
    local: datetime
    trusted: bool


class Note(NamedTuple):
    """One thing to tell.

    Attributes:
        seq: of the event behind it; the link's own count down from -1.
        purpose: `raised`, `over`, or `repeat-1` and so on: with `seq`, what makes it one of its kind.
        alarm: its name.
        priority: 1 to 4.
        what: the sentence.
        more: what there is to say of its end, or of its repetition; empty otherwise.
        at_wall: when it happened, ISO 8601.
        clock_trusted: whether the clock was known to be right then.
        happened_s: when, by this boot's clock as well as can be known.
        noted_s: when the link took it in.
    """

    seq: int
    purpose: str
    alarm: str
    priority: int
    what: str
    more: str
    at_wall: str
    clock_trusted: bool
    happened_s: float
    noted_s: float


class Open(NamedTuple):
    """An alarm that was told, or is about to be, and has not returned.

    Attributes:
        raised: the note about it.
        known: somebody has acknowledged it.
        quiet: a person or the design keeps it quiet.
        repeats: how often it was repeated.
        repeat_s: when it will be again; `None` for never.
    """

    raised: Note
    known: bool = False
    quiet: bool = False
    repeats: int = 0
    repeat_s: float | None = None


class Memory(NamedTuple):
    """What is remembered of one channel.

    Attributes:
        open: alarms by name.
        waiting: notes not sent yet, oldest first.
        sent_s: when the latest notes were sent: more than a few at once make a burst.
        caught_up: it was given the alarms that stood before it was there.
    """

    open: Mapping[str, Open] = {}
    waiting: tuple[Note, ...] = ()
    sent_s: tuple[float, ...] = ()
    caught_up: bool = False


def as_text(memory: Memory) -> str:
    """Return the memory as JSON."""
    return json.dumps(memory, ensure_ascii=False)


def from_text(text: str) -> Memory:
    """Return the memory that `as_text` gave."""
    opened, waiting, sent_s, caught_up = json.loads(text)
    return Memory(
        {name: Open(Note(*raised), *rest) for name, (raised, *rest) in opened.items()},
        tuple(Note(*note) for note in waiting),
        tuple(sent_s),
        bool(caught_up),
    )


def shifted(memory: Memory, by_s: float) -> Memory:
    """Return the memory with its times on another boot's clock: the time between counts for nothing."""

    def moved(note: Note) -> Note:
        return note._replace(happened_s=note.happened_s + by_s, noted_s=note.noted_s + by_s)

    return memory._replace(
        open={
            name: one._replace(
                raised=moved(one.raised), repeat_s=None if one.repeat_s is None else one.repeat_s + by_s
            )
            for name, one in memory.open.items()
        },
        waiting=tuple(moved(note) for note in memory.waiting),
        sent_s=tuple(sent_s + by_s for sent_s in memory.sent_s),
    )
