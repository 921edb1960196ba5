"""All alarms of a tank: findings and commands in, states and events out."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from reefguard.alarms.catalogue import Kind, Priority, explained, kind_of
from reefguard.alarms.machine import Alarm, Command, State, Transition, step
from reefguard.vocabulary import Finding


class Standing(NamedTuple):
    """One alarm that has been heard of.

    Attributes:
        alarm: its state.
        what: the sentence of its finding, as it was when it last stood.
    """

    alarm: Alarm
    what: str


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to an alarm.

    Attributes:
        alarm: its name.
        priority: how soon a person must act.
        transition: what happened.
        what: the sentence.
        at_s: boot clock.
        lasted_s: how long it stood, when it has returned; else `None`.
    """

    alarm: str
    priority: Priority
    transition: Transition
    what: str
    at_s: float
    lasted_s: float | None = None


class Memory(NamedTuple):
    """What one tick leaves to the next.

    Attributes:
        alarms: every one that is not simply normal, by name.
        settled: the names of the findings, and of what a deadband holds, under which nothing changes any
            more; `None` while something turns.
        until_s: when a shelf ends, and something changes all the same.
    """

    alarms: Mapping[str, Standing]
    settled: tuple[frozenset[str], frozenset[str]] | None = None
    until_s: float = math.inf


NOTHING = Memory({})


def survey(
    memory: Memory,
    findings: Sequence[Finding],
    *,
    now_s: float,
    commands: Mapping[str, Command] | None = None,
    out_of_service: frozenset[str] = frozenset(),
    held: frozenset[str] = frozenset(),
) -> tuple[Memory, tuple[Event, ...]]:
    """Take one tick's findings into account.

    Args:
        memory: from the tick before.
        findings: of this tick.
        now_s: boot clock.
        commands: of persons, by the alarm's name.
        out_of_service: names of alarms, or of kinds, that a person has taken out.
        held: names of alarms that, once raised, stand although their finding has gone: their value is
            still within the deadband.

    Returns:
        What to remember, and what happened, the most urgent first.
    """
    # Most ticks find what the last one found, and nothing turns.
    names = (frozenset([finding.name for finding in findings]), held)
    if names == memory.settled and not commands and now_s < memory.until_s and not out_of_service:
        return memory, ()
    asked = commands or {}
    present = {finding.name: finding for finding in findings}
    standing = {name for name, one in memory.alarms.items() if one.alarm.active}
    after: dict[str, Standing] = {}
    events: list[Event] = []
    for name, kind in _most_urgent_first({**memory.alarms, **present}):
        before = memory.alarms.get(name, _NEW)
        finding = present.get(name)
        what = before.what if finding is None else finding.what
        alarm, transitions = step(
            before.alarm,
            condition=finding is not None or (name in held and before.alarm.active),
            now_s=now_s,
            rule=kind.rule,
            command=asked.get(name),
            suppressed=explained(kind, standing),
            out_of_service=name in out_of_service or kind.name in out_of_service,
        )
        if alarm.active:
            # At once: what explains another alarm does so from its first tick.
            standing.add(name)
        if alarm.state is not State.NORMAL or alarm.turning_since_s is not None:
            after[name] = Standing(alarm, what)
        events.extend(
            Event(name, kind.priority, transition, what, now_s, _lasted_s(transition, before.alarm, now_s))
            for transition in transitions
        )
    events.sort(key=lambda event: -event.priority)
    turning = events or any(one.alarm.turning_since_s is not None for one in after.values())
    shelves_s = [one.alarm.shelved_until_s for one in after.values() if one.alarm.shelved_until_s is not None]
    settled = None if turning or out_of_service else names
    return Memory(after, settled, min(shelves_s, default=math.inf)), tuple(events)


_NEW = Standing(Alarm(), "")


def _most_urgent_first(names: Iterable[str]) -> list[tuple[str, Kind]]:
    watched = [(name, kind) for name in names if (kind := kind_of(name)) is not None]
    return sorted(watched, key=lambda one: -one[1].priority)


def _lasted_s(transition: Transition, before: Alarm, now_s: float) -> float | None:
    if transition is not Transition.RETURNED or before.raised_s is None:
        return None
    gone_s = now_s if before.turning_since_s is None else before.turning_since_s
    return gone_s - before.raised_s
