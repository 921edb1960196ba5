"""What only the link can see: the guard is silent, its events cannot be read, a channel delivers nothing.

Pure: from what holds at this moment to events like the guard's own, which then
go through the same policy.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from reefguard.alarms.catalogue import (
    EVENTS_UNREADABLE,
    GUARD_SILENT,
    Priority,
    delivery_failing,
    kind_of,
)
from reefguard.control.words import span
from reefguard.link.notes import Now
from reefguard.link.outbox import Waiting
from reefguard.link.ports import Snapshot
from reefguard.records.events import Event, Recorded

# A message that waits longer than this, after this many attempts, is a channel that fails.
FAILING_AFTER_S: Final = 300.0
FAILING_AFTER: Final = 3


@dataclass(frozen=True, slots=True)
class Seen:
    """What the link sees of itself and of the guard, in one round.

    Attributes:
        snapshot: the guard's status.
        fresh_s: when the status was fresh last, or the link began, boot clock.
        silent_after_s: how long a guard may say nothing.
        unreadable: why the guard's events cannot be read, or `None`.
        read_s: when they could be read last, or the link began, boot clock.
        heads: the first message that waits, by channel.
        standing: the names of its own alarms that stand; a start of the link is no end of them.
    """

    snapshot: Snapshot
    fresh_s: float
    silent_after_s: float
    unreadable: str | None
    read_s: float
    heads: Mapping[str, Waiting | None]
    standing: frozenset[str] = frozenset()


def conditions(seen: Seen, now_s: float) -> dict[str, tuple[str, Mapping[str, Any]]]:
    """Return what is wrong, by the alarm's name: the sentence, and details."""
    wrong: dict[str, tuple[str, Mapping[str, Any]]] = {}
    silence = _silence(seen, now_s)
    if silence is not None:
        wrong[GUARD_SILENT] = silence, {}
    if seen.unreadable is not None and (
        EVENTS_UNREADABLE in seen.standing or (silence is None and now_s - seen.read_s >= seen.silent_after_s)
    ):
        wrong[EVENTS_UNREADABLE] = seen.unreadable, {}
    for channel, head in seen.heads.items():
        if head is not None and fails(head, now_s):
            what = f"the channel `{channel}` has delivered nothing for {span(now_s - head.enqueued_s)}"
            wrong[delivery_failing(channel)] = what, {"channel": channel}
    return wrong


def fails(head: Waiting, now_s: float) -> bool:
    """Return whether the first message of a channel has waited so long that the channel counts as failing."""
    return head.failures >= FAILING_AFTER and now_s - head.enqueued_s >= FAILING_AFTER_S


def events(
    standing: Mapping[str, Recorded],
    wrong: Mapping[str, tuple[str, Mapping[str, Any]]],
    now: Now,
    last_seq: int,
) -> tuple[Recorded, ...]:
    """Return what happened to the link's own alarms.

    Args:
        standing: those that stand, each with the event that raised it.
        wrong: what is wrong now.
        now: the present.
        last_seq: of the latest of its events; they count down.
    """
    happened = [*_raised(standing.keys(), wrong, now), *_returned(standing, wrong.keys(), now)]
    return tuple(Recorded(last_seq - count, event) for count, event in enumerate(happened, start=1))


def after(standing: Mapping[str, Recorded], happened: Iterable[Recorded]) -> dict[str, Recorded]:
    """Return which of its own alarms stand after its events."""
    left = dict(standing)
    for recorded in happened:
        if recorded.event.change == "raised":
            left[recorded.event.subject] = recorded
        else:
            left.pop(recorded.event.subject, None)
    return left


def _silence(seen: Seen, now_s: float) -> str | None:
    if seen.snapshot.fresh:
        return None
    silent_s = seen.snapshot.age_s
    if silent_s is not None:
        return f"the guard has said nothing for {span(silent_s)}"
    silent_s = now_s - seen.fresh_s
    if silent_s < seen.silent_after_s and GUARD_SILENT not in seen.standing:
        return None
    return f"the guard has shown no status for {span(silent_s)}: it does not run, or cannot write it"


def _raised(
    standing: Iterable[str], wrong: Mapping[str, tuple[str, Mapping[str, Any]]], now: Now
) -> Iterator[Event]:
    for name, (what, details) in wrong.items():
        if name not in standing:
            yield _event(name, "raised", what, details, now)


def _returned(standing: Mapping[str, Recorded], wrong: Iterable[str], now: Now) -> Iterator[Event]:
    for name, (_, raised) in standing.items():
        if name not in wrong:
            details = dict(raised.details or {})
            if raised.boot_id == now.boot_id:
                details["lasted_s"] = now.boot_s - raised.at_boot_s
            yield _event(name, "returned", raised.what, details, now)


def _event(name: str, change: str, what: str, details: Mapping[str, Any], now: Now) -> Event:
    kind = kind_of(name)
    return Event(
        boot_id=now.boot_id,
        at_boot_s=now.boot_s,
        at_wall=now.local.isoformat(timespec="seconds"),
        clock_trusted=now.trusted,
        kind="alarm",
        subject=name,
        change=change,
        what=what,
        priority=Priority.HIGH if kind is None else kind.priority,
        details=details,
    )
