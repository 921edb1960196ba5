"""From a drill's events to what holds at each moment of it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from reefguard.rehearsal.drills.drill import EVERY, Event, Part, Turn
from reefguard.rehearsal.drills.turns import TURNS


@dataclass(frozen=True, slots=True)
class ProbeTurn:
    """What has become of a probe, by how much, and since when."""

    turn: Turn
    by: float = 0.0
    since_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Conditions:
    """What holds while nothing changes.

    Attributes:
        probes: by the probe's name (`cutoff's` is the cutoff's own); sound ones are not in it.
        fans: by the fan's name: dead, or stuck on.
        chiller_strength: share of its capacity that is left.
        chiller_welded: the guard's contact does not open.
        chiller_enclosed: it stands in a closed cabinet.
        cutoff_welded: the cutoff's contact does not open.
        lights: held on or off, or `None` for the lamp's own timer.
        lights_late_s: how late that timer is.
        clock_trusted: whether the wall clock is known to be right.
        clock_off_s: how wrong it is.
        house_power: whether the house has power.
        pi_power: whether the Pi has.
        guard_dead: the guard does not come back.
        cutoff_dead: the cutoff does not come back.
        pumps: share of the pumps that run.
        room_open: doors and windows are open.
        stand_open: the stand's doors are open.
        topped_off: fresh water replaces what evaporates.
    """

    probes: Mapping[str, ProbeTurn] = field(default_factory=dict)
    fans: Mapping[str, Turn] = field(default_factory=dict)
    chiller_strength: float = 1.0
    chiller_welded: bool = False
    chiller_enclosed: bool = False
    cutoff_welded: bool = False
    lights: bool | None = None
    lights_late_s: float = 0.0
    clock_trusted: bool = True
    clock_off_s: float = 0.0
    house_power: bool = True
    pi_power: bool = True
    guard_dead: bool = False
    cutoff_dead: bool = False
    pumps: float = 1.0
    room_open: bool = False
    stand_open: bool = False
    topped_off: bool = True


@dataclass(frozen=True, slots=True)
class Episode:
    """One occurrence of an event: from, and until (exclusive); at once when they are the same."""

    event: Event
    from_s: float
    until_s: float


def episodes(events: tuple[Event, ...], lasts_s: float) -> tuple[Episode, ...]:
    """Return every occurrence within the drill, in order of time."""
    found = []
    for event in events:
        for turn in range(max(1, event.times if event.every_s is not None else 1)):
            from_s = event.from_s + turn * (event.every_s or 0.0)
            until_s = lasts_s if event.lasts_s is None else from_s + event.lasts_s
            if _momentary(event):
                until_s = from_s
            if from_s < lasts_s:
                found.append(Episode(event, from_s, min(until_s, lasts_s)))
    return tuple(sorted(found, key=lambda episode: episode.from_s))


def _momentary(event: Event) -> bool:
    return TURNS[event.part][event.turn].momentary


class Timeline:
    """The episodes of one run, and what holds between their edges."""

    def __init__(
        self, events: tuple[Event, ...], lasts_s: float, probes: tuple[str, ...], fans: tuple[str, ...]
    ) -> None:
        """Lay the events out.

        Args:
            events: with `each` already replaced by a name.
            lasts_s: how long the run lasts.
            probes: the names that `every` stands for; the cutoff's own is not among them.
            fans: the same.
        """
        self.episodes = episodes(events, lasts_s)
        self._probes, self._fans = probes, fans
        edges = {0.0, lasts_s}
        for episode in self.episodes:
            edges.update((episode.from_s, episode.until_s))
        self._edges = sorted(edges)
        self._next = 0
        self.conditions = Conditions()

    def reach(self, at_s: float) -> tuple[Conditions, tuple[Event, ...]]:
        """Return what holds at a moment, and what happened at once since the last one asked for.

        Moments must come in order of time.
        """
        if self._next >= len(self._edges) or at_s < self._edges[self._next]:
            return self.conditions, ()
        first = self._edges[self._next]
        while self._next < len(self._edges) and self._edges[self._next] <= at_s:
            self._next += 1
        self.conditions = self._holding(at_s)
        happened = tuple(
            episode.event
            for episode in self.episodes
            if episode.from_s == episode.until_s and first <= episode.from_s <= at_s
        )
        return self.conditions, happened

    def _holding(self, at_s: float) -> Conditions:
        conditions = Conditions()
        for episode in self.episodes:
            if episode.from_s <= at_s < episode.until_s:
                conditions = self._with(conditions, episode)
        return conditions

    def _with(self, now: Conditions, episode: Episode) -> Conditions:
        event = episode.event
        match event.part:
            case Part.PROBE:
                names = self._probes if event.which == EVERY else (event.which,)
                mark = ProbeTurn(event.turn, event.by, episode.from_s)
                return replace(now, probes={**now.probes, **dict.fromkeys(names, mark)})
            case Part.FAN:
                names = self._fans if event.which == EVERY else (event.which,)
                return replace(now, fans={**now.fans, **dict.fromkeys(names, event.turn)})
            case _:
                changes = _CHANGES.get((event.part, event.turn))
                return now if changes is None else changes(now, event)


_CHANGES: Final[Mapping[tuple[Part, Turn], Callable[[Conditions, Event], Conditions]]] = {
    (Part.CHILLER, Turn.DEAD): lambda now, _: replace(now, chiller_strength=0.0),
    (Part.CHILLER, Turn.WEAKENED): lambda now, event: replace(now, chiller_strength=event.by),
    (Part.CHILLER, Turn.ENCLOSED): lambda now, _: replace(now, chiller_enclosed=True),
    (Part.CHILLER, Turn.WELDED): lambda now, _: replace(now, chiller_welded=True),
    (Part.CUTOFF_RELAY, Turn.WELDED): lambda now, _: replace(now, cutoff_welded=True),
    (Part.LIGHTS, Turn.ON): lambda now, _: replace(now, lights=True),
    (Part.LIGHTS, Turn.OFF): lambda now, _: replace(now, lights=False),
    (Part.LIGHTS, Turn.SHIFTED): lambda now, event: replace(now, lights_late_s=event.by),
    (Part.CLOCK, Turn.WRONG_BY): lambda now, event: replace(now, clock_off_s=event.by),
    (Part.CLOCK, Turn.UNTRUSTED): lambda now, _: replace(now, clock_trusted=False),
    (Part.POWER, Turn.CUT): lambda now, _: replace(now, house_power=False),
    (Part.POWER, Turn.CUT_FROM_PI): lambda now, _: replace(now, pi_power=False),
    (Part.GUARD, Turn.DEAD): lambda now, _: replace(now, guard_dead=True),
    (Part.CUTOFF, Turn.DEAD): lambda now, _: replace(now, cutoff_dead=True),
    (Part.PUMPS, Turn.STOPPED): lambda now, _: replace(now, pumps=0.0),
    (Part.ROOM, Turn.OPEN): lambda now, _: replace(now, room_open=True),
    (Part.STAND, Turn.OPEN): lambda now, _: replace(now, stand_open=True),
    (Part.TOP_OFF, Turn.STOPPED): lambda now, _: replace(now, topped_off=False),
}
