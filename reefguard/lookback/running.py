"""What ran, how long and how often; and what the compressor was put through."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from reefguard.lookback.evidence import Evidence, Water, intervals_in
from reefguard.lookback.stretch import Stretch
from reefguard.records.history import Interval


@dataclass(frozen=True, slots=True)
class OutputFound:
    """An output over a stretch.

    Attributes:
        name: in the settings.
        ran_s: how long it ran.
        starts: how often it started.
        duty: the share of the time the guard was at work; `None` where it was not.
        longest_run_s: in one piece, as far as intervals are kept; `None` without any.
        shortest_run_s: of a run whose start and end were both seen.
        shortest_rest_s: between a seen end and the next seen start.
        rests: how many rests that was found among.
    """

    name: str
    ran_s: float
    starts: int
    duty: float | None
    longest_run_s: float | None
    shortest_run_s: float | None
    shortest_rest_s: float | None
    rests: int


def outputs_found(seen: Evidence, names: tuple[str, ...], guarded_s: float) -> tuple[OutputFound, ...]:
    """Look back on the outputs.

    Args:
        seen: what there is.
        names: of the outputs in the settings; what only the history knows comes after them.
        guarded_s: how long the guard was at work.
    """
    known = dict.fromkeys(names)
    known |= dict.fromkeys(one.output for one in intervals_in(seen.past.intervals, seen.stretch))
    known |= dict.fromkeys(name for totals in seen.totals.values() for name in totals.ran_s)
    return tuple(_found(seen, name, guarded_s) for name in known)


def _found(seen: Evidence, name: str, guarded_s: float) -> OutputFound:
    own = tuple(one for one in seen.past.intervals if one.output == name)
    parts = [one for stretch in seen.rest for one in intervals_in(own, stretch)]
    ran_s = sum(one.until_s - one.from_s for one in parts)
    starts = sum(one.start for one in parts)
    for totals in seen.totals.values():
        ran_s += totals.ran_s.get(name, 0.0)
        starts += totals.starts.get(name, 0)
    whole = intervals_in(own, seen.stretch)
    runs = [one.until_s - one.from_s for one in whole if one.start and not one.running]
    rests = rests_of(whole)
    return OutputFound(
        name,
        ran_s,
        starts,
        duty=min(1.0, ran_s / guarded_s) if guarded_s > 0.0 else None,
        longest_run_s=max((one.until_s - one.from_s for one in whole), default=None),
        shortest_run_s=min(runs, default=None),
        shortest_rest_s=min(rests, default=None),
        rests=len(rests),
    )


def rests_of(intervals: tuple[Interval, ...]) -> list[float]:
    """Return how long an output rested between a seen end and the next seen start, seconds.

    Args:
        intervals: of one output, in order of time.
    """
    return [
        later.from_s - earlier.until_s
        for earlier, later in pairwise(intervals)
        if not earlier.running and later.start
    ]


def ran_in(
    seen: Evidence, spans: Sequence[Water], names: tuple[str, ...]
) -> dict[tuple[float, float], float]:
    """Return how long outputs ran in each span, summed over the outputs, seconds.

    Args:
        seen: what there is.
        spans: in order of time.
        names: of the outputs.

    Returns:
        By the span's beginning and how long it lasts.
    """
    ran_s = {(span.from_s, span.lasts_s): 0.0 for span in spans}
    for name in names:
        runs = intervals_in(tuple(one for one in seen.past.intervals if one.output == name), seen.stretch)
        place = 0
        for from_s, lasts_s in ran_s:
            span = Stretch(from_s, from_s + lasts_s)
            while place < len(runs) and runs[place].until_s <= from_s:
                place += 1
            touching = place
            while touching < len(runs) and runs[touching].from_s < span.until_s:
                ran_s[from_s, lasts_s] += span.overlap_s(runs[touching].from_s, runs[touching].until_s)
                touching += 1
    return ran_s
