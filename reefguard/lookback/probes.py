"""How the probes did: the share of good samples, their gaps, and how far they stood apart."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from reefguard.lookback.evidence import Evidence
from reefguard.lookback.stretch import Stretch
from reefguard.records.history import Series, Span

# Shorter gaps are a lost sample or two.
_GAP_S: Final = 600.0


@dataclass(frozen=True, slots=True)
class ProbeFound:
    """A probe over a stretch.

    Attributes:
        name: of it.
        good: the share of its samples that could be used, while the guard was at work; `None` where
            the history has no spans of that time.
        gaps: how often it gave nothing for over ten minutes meanwhile.
        longest_gap_s: the longest of these; `None` without one.
    """

    name: str
    good: float | None
    gaps: int
    longest_gap_s: float | None


@dataclass(frozen=True, slots=True)
class Apart:
    """Two probes, compared where both are known.

    Attributes:
        one: the first probe.
        other: the second.
        mean_k: the mean of the first less that of the second.
        most_k: the largest distance of their means over one span.
        most_at_s: when that was, Unix seconds.
        known_s: how long both were known.
    """

    one: str
    other: str
    mean_k: float
    most_k: float
    most_at_s: float
    known_s: float


def probes_found(
    seen: Evidence, names: tuple[str, ...], observed: tuple[Stretch, ...]
) -> tuple[ProbeFound, ...]:
    """Look back on the probes.

    Args:
        seen: what there is.
        names: of the probes in the settings; what only the history knows comes after them.
        observed: when the guard was at work and its spans are kept.
    """
    inside = _water(seen)
    return tuple(_found(name, inside.get(name, ()), observed) for name in dict.fromkeys([*names, *inside]))


def _found(name: str, spans: tuple[Span, ...], observed: tuple[Stretch, ...]) -> ProbeFound:
    expected_s = sum(one.lasts_s for one in observed)
    if not expected_s:
        return ProbeFound(name, None, 0, None)
    long = [gap_s for one in observed for gap_s in _gaps(spans, one) if gap_s > _GAP_S]
    good_s = sum(
        span.good * one.overlap_s(span.from_s, span.from_s + span.lasts_s)
        for one in observed
        for span in spans
    )
    return ProbeFound(name, min(1.0, good_s / expected_s), len(long), max(long, default=None))


def _gaps(spans: tuple[Span, ...], stretch: Stretch) -> Iterator[float]:
    reached_s = stretch.from_s
    for span in spans:
        if span.from_s + span.lasts_s <= reached_s:
            continue
        yield min(span.from_s, stretch.until_s) - reached_s
        reached_s = min(span.from_s + span.lasts_s, stretch.until_s)
    yield stretch.until_s - reached_s


def apart(seen: Evidence) -> tuple[Apart, ...]:
    """Compare each pair of probes."""
    means = {
        name: {(span.from_s, span.lasts_s): span.mean for span in spans}
        for name, spans in _water(seen).items()
    }
    found = (_apart(one, means[one], other, means[other]) for one, other in combinations(means, 2))
    return tuple(pair for pair in found if pair is not None)


def _apart(
    one: str,
    its: dict[tuple[float, float], float],
    other: str,
    others: dict[tuple[float, float], float],
) -> Apart | None:
    both = sorted(its.keys() & others.keys())
    known_s = sum(lasts_s for _, lasts_s in both)
    if not known_s:
        return None
    off_k = {grid: its[grid] - others[grid] for grid in both}
    worst = max(both, key=lambda grid: abs(off_k[grid]))
    mean_k = sum(off_k[grid] * grid[1] for grid in both) / known_s
    return Apart(one, other, mean_k, abs(off_k[worst]), worst[0], known_s)


def _water(seen: Evidence) -> dict[str, tuple[Span, ...]]:
    found: dict[Series, tuple[Span, ...]] = {
        series: tuple(span for span in spans if seen.stretch.holds(span.from_s + span.lasts_s / 2.0))
        for series, spans in seen.past.series.items()
        if series.kind == "water"
    }
    return {series.name: spans for series, spans in found.items() if spans}
