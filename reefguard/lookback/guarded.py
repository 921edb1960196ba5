"""When the guard was at work, how it started, and when it was away."""

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from math import inf
from typing import Final, NamedTuple

from reefguard.lookback.evidence import Evidence
from reefguard.lookback.stretch import Stretch, day_of
from reefguard.records.history import HOUR_S

# The history is written in batches of ten minutes: at its end, silence this short says nothing.
BATCH_S: Final = 1_200.0


class Start(NamedTuple):
    """The guard started.

    Attributes:
        at_s: when.
        unexpected: whether the run before had ended without being stopped; `None` where there was none.
        what: in a sentence.
    """

    at_s: float
    unexpected: bool | None
    what: str


class Away(NamedTuple):
    """The guard was not running.

    Attributes:
        from_s: its stop, or the last sign of life.
        until_s: its start, or the end of the stretch.
        asked: whether it had been stopped as it was asked to.
    """

    from_s: float
    until_s: float
    asked: bool


@dataclass(frozen=True, slots=True)
class GuardFound:
    """The guard over a stretch.

    Attributes:
        starts: in order of time.
        away: when it was not running, as far as events and spans tell.
        guarded_s: how long it was at work, by the days' totals and else by `away`.
    """

    starts: tuple[Start, ...]
    away: tuple[Away, ...]
    guarded_s: float

    @property
    def unexpected(self) -> tuple[Start, ...]:
        """The starts after an end that nobody had asked for."""
        return tuple(start for start in self.starts if start.unexpected)


def guard_found(seen: Evidence) -> GuardFound:
    """Look back on the guard."""
    started = [
        (at_s, event) for at_s, event in seen.events if event.kind == "guard" and event.change == "started"
    ]
    starts = tuple(
        Start(at_s, _unexpected((event.details or {}).get("last_run_ended")), event.what)
        for at_s, event in started
        if seen.stretch.holds(at_s)
    )
    away = _away(seen, [at_s for at_s, _ in started])
    guarded_s = sum(totals.guarded_s for totals in seen.totals.values())
    for part in seen.rest:
        guarded_s += part.lasts_s - sum(part.overlap_s(one.from_s, one.until_s) for one in away)
    return GuardFound(starts, away, max(0.0, guarded_s))


def observed(seen: Evidence, found: GuardFound) -> tuple[Stretch, ...]:
    """Return when the guard was at work and what it saw then is still kept as spans, in order of time."""
    ends = [span.from_s + span.lasts_s for spans in seen.past.series.values() for span in spans]
    # What is at work now has not written its last minutes yet.
    until_s = min(seen.stretch.until_s, max(ends, default=seen.stretch.from_s))
    without = [Stretch(one.from_s, one.until_s) for one in found.away]
    without += [day_of(day, seen.zone) for day in seen.spans_gone]
    pieces: list[Stretch] = []
    reached_s = seen.stretch.from_s
    for from_s, ends_s in sorted([*without, Stretch(until_s, until_s)]):
        if min(from_s, until_s) > reached_s:
            pieces.append(Stretch(reached_s, min(from_s, until_s)))
        reached_s = max(reached_s, ends_s)
    return tuple(pieces)


def _unexpected(ended: object) -> bool | None:
    return None if ended not in ("cleanly", "unexpectedly") else ended == "unexpectedly"


def _away(seen: Evidence, started: list[float]) -> tuple[Away, ...]:
    """Return when it was away: before each start since the last sign of life, and at the end."""
    signs = _signs(seen)
    stops = [at_s for at_s, event in seen.events if (event.kind, event.change) == ("guard", "stopped")]
    begins_s, ends_s = seen.stretch
    found = [
        _since(_newest_sign(signs, start_s), _newest(stops, start_s), _newest(started, start_s), start_s)
        for start_s in started
        if seen.stretch.holds(start_s)
    ]
    at_end = _since(_newest_sign(signs, ends_s), _newest(stops, ends_s), _newest(started, ends_s), ends_s)
    patience_s = BATCH_S + (seen.past.span_s if seen.past.span_s >= HOUR_S and not seen.watches else 0.0)
    if at_end.asked or ends_s - max(at_end.from_s, begins_s) > patience_s:
        found.append(at_end)
    cut = (one._replace(from_s=max(one.from_s, begins_s)) for one in found)
    return tuple(one for one in cut if one.until_s > one.from_s)


def _since(sign_s: float, stop_s: float, start_s: float, until_s: float) -> Away:
    """Return the absence that ended at `until_s`: since the stop it was asked for, or since the last sign."""
    asked = stop_s > start_s
    return Away(stop_s if asked else max(sign_s, start_s), until_s, asked)


def _newest(moments: list[float], before_s: float) -> float:
    place = bisect_left(moments, before_s)
    return moments[place - 1] if place else -inf


def _newest_sign(signs: list[float], until_s: float) -> float:
    place = bisect_right(signs, until_s)
    return signs[place - 1] if place else -inf


def _signs(seen: Evidence) -> list[float]:
    """Return the moments at which it is known to have been at work, in order."""
    signs = {at_s for at_s, event in seen.events if event.change != "started"}
    # What it told in the tick of its start (the mode it began in) is no sign that it was there before.
    signs -= {at_s for at_s, event in seen.events if (event.kind, event.change) == ("guard", "started")}
    if seen.watches:
        return sorted(signs | {watch.until_s for watch in seen.watches})
    for one in seen.past.intervals:
        signs.add(one.until_s)
    for spans in seen.past.series.values():
        # A span's beginning is none: the guard may have started within it.
        signs |= {span.from_s + span.lasts_s for span in spans}
    # Where only totals are left of a day, the guard was there, and nobody knows until when.
    signs |= {day_of(day, seen.zone).until_s for day, one in seen.totals.items() if one.guarded_s > 0.0}
    return sorted(signs)
