"""What is told over one channel, and when.

    lowest        an alarm below the channel's lowest priority is not told
    quiet hours   hold back all but what is urgent; what was held goes out at their end, in one message;
                  a clock that is not known to be right makes no hour quiet
    repeats       an alarm nobody acknowledges is told again, after twice the time each time
    end           one message when it returns, if its beginning was told
    burst         three messages within 30 s go out as they come; more are gathered into one,
                  30 s late at most, and never with something urgent in it

Pure: the caller passes events and the time in.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Final, NamedTuple

from reefguard.alarms.catalogue import Priority
from reefguard.link import message_words
from reefguard.link.message_words import OVER, Voice
from reefguard.link.notes import Memory, Note, Now, Open
from reefguard.records.events import Event, Recorded
from reefguard.settings.link_model import Channel, QuietHours

BURST_S: Final = 30.0
_AS_THEY_COME: Final = 3
_LONGEST_REPEAT_S: Final = 86_400.0
_HUSHED: Final = frozenset({"shelved", "suppressed", "taken_out"})
_UNHUSHED: Final = frozenset({"unshelved", "unsuppressed", "put_back"})


class Message(NamedTuple):
    """One message for one channel.

    Attributes:
        covers: the event and the purpose of each note in it.
        priority: the highest of them.
        title: the first line.
        body: the rest.
        due_s: when it should have been there, boot clock: to tell whether it comes late.
    """

    covers: tuple[tuple[int, str], ...]
    priority: int
    title: str
    body: str
    due_s: float


def step(
    memory: Memory,
    events: Sequence[Recorded],
    *,
    now: Now,
    channel: Channel,
    voice: Voice,
    unacknowledged: frozenset[str] | None = None,
    backlog: bool = False,
) -> tuple[Memory, tuple[Message, ...]]:
    """Take events and the time into account.

    Args:
        memory: of this channel.
        events: new ones, oldest first.
        now: the present.
        channel: its settings.
        voice: the tank's name and unit.
        unacknowledged: the guard's alarms that stand unacknowledged by its own word, `None` where that
            is not known; one that is not among them is not repeated.
        backlog: messages wait already, because they cannot be delivered: nothing is repeated then.

    Returns:
        What to remember, and what to send, oldest first.
    """
    opened = dict(memory.open)
    notes = list(memory.waiting)
    for recorded in events:
        notes += _noted(opened, recorded, now, channel, voice)
    quiet = is_quiet(channel.quiet, now)
    if not backlog:
        notes += _repeats(opened, now, channel, unacknowledged, quiet)
    sent_s = tuple(at_s for at_s in memory.sent_s if now.boot_s - at_s < BURST_S)
    going = [note for note in notes if not quiet or note.priority >= Priority.URGENT]
    held = [note for note in notes if note not in going]
    room = max(0, _AS_THEY_COME - len(sent_s))
    overdue = any(now.boot_s - note.noted_s >= BURST_S for note in going)
    if not (going and (overdue or len(going) <= room or len(going) > _AS_THEY_COME or _urgent(going))):
        return memory._replace(open=opened, waiting=tuple(notes), sent_s=sent_s), ()
    groups = [[note] for note in going] if len(going) <= room and not overdue else [going]
    messages = tuple(_message(group, now, voice) for group in groups)
    sent_s = (*sent_s, *[now.boot_s] * len(going))[-_AS_THEY_COME:]
    return memory._replace(open=opened, waiting=tuple(held), sent_s=sent_s), messages


def is_quiet(hours: QuietHours | None, now: Now) -> bool:
    """Return whether this is one of the quiet hours."""
    if hours is None or not now.trusted:
        return False
    local = now.local
    at_s = local.hour * 3600 + local.minute * 60 + local.second
    if hours.from_s < hours.until_s:
        return hours.from_s <= at_s < hours.until_s
    return at_s >= hours.from_s or at_s < hours.until_s


def still_standing(events: Iterable[Recorded]) -> tuple[Recorded, ...]:
    """Return, of a long history, what concerns alarms that have not returned: for a channel that is new."""
    standing: dict[str, list[Recorded]] = {}
    for recorded in events:
        event = recorded.event
        if event.kind != "alarm":
            continue
        if event.change == "raised":
            standing[event.subject] = [recorded]
        elif event.change in {"returned", "reset"}:
            standing.pop(event.subject, None)
        elif event.subject in standing:
            standing[event.subject].append(recorded)
    return tuple(sorted((one for kept in standing.values() for one in kept), key=lambda one: one.seq))


def _noted(
    opened: dict[str, Open], recorded: Recorded, now: Now, channel: Channel, voice: Voice
) -> Iterable[Note]:
    """Follow one event; return what is to be told of it."""
    event = recorded.event
    priority = _priority(event)
    if event.kind != "alarm" or priority < channel.lowest or _about_itself(event, channel):
        return
    one = opened.get(event.subject)
    if event.change == "raised":
        note = _note(recorded, "raised", now)
        opened[event.subject] = Open(note, repeat_s=_repeat_s(now.boot_s, channel, repeats=0))
        yield note
    elif one is None:
        return
    elif event.change == "returned":
        del opened[event.subject]
        if not one.quiet:
            yield _note(recorded, OVER, now, message_words.ended(event, voice.unit))
    elif event.change == "reset":
        del opened[event.subject]
    elif event.change == "acknowledged":
        opened[event.subject] = one._replace(known=True)
    elif event.change in _HUSHED | _UNHUSHED:
        opened[event.subject] = one._replace(quiet=event.change in _HUSHED)


def _repeats(
    opened: dict[str, Open], now: Now, channel: Channel, unacknowledged: frozenset[str] | None, quiet: bool
) -> Iterable[Note]:
    for name, one in opened.items():
        raised = one.raised
        if one.known or one.quiet or one.repeat_s is None or now.boot_s < one.repeat_s:
            continue
        if quiet and raised.priority < Priority.URGENT:
            continue
        if raised.seq > 0 and unacknowledged is not None and name not in unacknowledged:
            # The guard knows better: an event may have gone with a broken disk.
            opened[name] = one._replace(repeat_s=None)
            continue
        repeats = one.repeats + 1
        opened[name] = one._replace(repeats=repeats, repeat_s=_repeat_s(now.boot_s, channel, repeats))
        more = f'Nobody has acknowledged it yet: `reefguard acknowledge "{name}"`.'
        yield raised._replace(
            purpose=f"repeat-{repeats}", more=more, noted_s=now.boot_s, happened_s=now.boot_s
        )


def _repeat_s(now_s: float, channel: Channel, repeats: int) -> float | None:
    if channel.repeat_after_s is None:
        return None
    return now_s + min(channel.repeat_after_s * 2.0 ** min(repeats, 20), _LONGEST_REPEAT_S)


def _priority(event: Event) -> int:
    known = event.priority
    return known if known in tuple(Priority) else Priority.MEDIUM


def _about_itself(event: Event, channel: Channel) -> bool:
    """Return whether it says that this very channel fails: it could only arrive when that is over."""
    return (event.details or {}).get("channel") == channel.name


def _note(recorded: Recorded, purpose: str, now: Now, more: str = "") -> Note:
    event = recorded.event
    return Note(
        recorded.seq, purpose, event.subject, _priority(event), event.what, more,
        event.at_wall, event.clock_trusted, _happened_s(event, now), now.boot_s,
    )  # fmt: skip


def _happened_s(event: Event, now: Now) -> float:
    """Return when an event was by this boot's clock; one of an earlier boot goes by the wall clock."""
    if event.boot_id == now.boot_id:
        return min(event.at_boot_s, now.boot_s)
    if not (event.clock_trusted and now.trusted):
        return now.boot_s
    try:
        ago_s = (now.local - datetime.fromisoformat(event.at_wall)) / timedelta(seconds=1)
    except (ValueError, TypeError):
        return now.boot_s
    return now.boot_s - max(0.0, ago_s)


def _urgent(notes: Iterable[Note]) -> bool:
    return any(note.priority >= Priority.URGENT for note in notes)


def _message(notes: Sequence[Note], now: Now, voice: Voice) -> Message:
    # What quiet hours held back is not late: it is where the keeper wants it.
    held = any(now.boot_s - note.noted_s > 2 * BURST_S for note in notes)
    return Message(
        covers=tuple((note.seq, note.purpose) for note in notes),
        priority=max(note.priority for note in notes),
        title=message_words.title(notes, voice.tank),
        body=message_words.body(notes),
        due_s=now.boot_s if held else min(note.happened_s for note in notes),
    )
