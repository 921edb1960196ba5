"""How the water was: how long and how far out of the safe band, the hottest and the coldest."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final, NamedTuple

from reefguard.lookback.evidence import Evidence, Water, water_of
from reefguard.lookback.stretch import Stretch, day_of
from reefguard.records.history import Span
from reefguard.settings.model import SafeBand

# A day's totals saw each tick; spans saw the same ones, so more than rounding is news.
_NEWS_K: Final = 0.01
# Shorter gaps are a probe's hiccup, or a restart.
_GAP_S: Final = 600.0


class Extreme(NamedTuple):
    """The hottest or the coldest.

    Attributes:
        water_c: degrees Celsius.
        from_s: of the span, or of the day, it was in.
        lasts_s: how long that is.
        probe: which one; `None` where only the day's totals are left.
    """

    water_c: float
    from_s: float
    lasts_s: float
    probe: str | None


@dataclass(frozen=True, slots=True)
class WaterFound:
    """The water over a stretch.

    Attributes:
        known_s: how long it was known; all below is about that time.
        above_s: how long the warmest probe was above the safe band.
        below_s: how long the coldest was below it.
        above_k_h: kelvin hours above.
        below_k_h: kelvin hours below.
        hottest: of the warmest probe; `None` where the water was never known.
        coldest: of the coldest probe.
        gaps: when the water was not known, as far as spans tell, over ten minutes each.
    """

    known_s: float
    above_s: float
    below_s: float
    above_k_h: float
    below_k_h: float
    hottest: Extreme | None
    coldest: Extreme | None
    gaps: tuple[Stretch, ...]


def water_found(seen: Evidence, band: SafeBand) -> WaterFound:
    """Look back on the water.

    Args:
        seen: what there is.
        band: the safe band, as it is set today.
    """
    spans = water_of(seen.past)
    known_s, above_s, below_s, above_k_h, below_k_h = _by_spans(spans, seen.rest, band)
    days = seen.totals.values()
    return WaterFound(
        known_s=known_s + sum(day.known_s for day in days),
        above_s=above_s + sum(day.above_s for day in days),
        below_s=below_s + sum(day.below_s for day in days),
        above_k_h=above_k_h + sum(day.above_k_h for day in days),
        below_k_h=below_k_h + sum(day.below_k_h for day in days),
        hottest=_hottest(seen),
        coldest=_coldest(seen),
        gaps=_gaps(seen, spans),
    )


def _by_spans(
    spans: tuple[Water, ...], stretches: tuple[Stretch, ...], band: SafeBand
) -> tuple[float, float, float, float, float]:
    known_s = above_s = below_s = above_k_s = below_k_s = 0.0
    for span in spans:
        counts_s = sum(one.overlap_s(span.from_s, span.from_s + span.lasts_s) for one in stretches)
        if not counts_s:
            continue
        known_s += counts_s
        if span.warmest_c > band.high_c:
            above_s += counts_s
            above_k_s += counts_s * (span.warmest_c - band.high_c)
        if span.coldest_c < band.low_c:
            below_s += counts_s
            below_k_s += counts_s * (band.low_c - span.coldest_c)
    return known_s, above_s, below_s, above_k_s / 3_600.0, below_k_s / 3_600.0


def _shown(seen: Evidence) -> list[tuple[str, Span]]:
    return [
        (series.name, span)
        for series, spans in seen.past.series.items()
        if series.kind == "water"
        for span in spans
        # A span at the edge belongs to where its middle lies, and to no other stretch.
        if seen.stretch.holds(span.from_s + span.lasts_s / 2.0)
    ]


def _hottest(seen: Evidence) -> Extreme | None:
    found = [Extreme(span.high, span.from_s, span.lasts_s, name) for name, span in _shown(seen)]
    best = max(found, key=lambda one: (one.water_c, -one.from_s), default=None)
    for day, totals in seen.totals.items():
        if totals.high_c is not None and (best is None or totals.high_c > best.water_c + _NEWS_K):
            begins, ends = day_of(day, seen.zone)
            best = Extreme(totals.high_c, begins, ends - begins, None)
    return best


def _coldest(seen: Evidence) -> Extreme | None:
    found = [Extreme(span.low, span.from_s, span.lasts_s, name) for name, span in _shown(seen)]
    best = min(found, key=lambda one: (one.water_c, one.from_s), default=None)
    for day, totals in seen.totals.items():
        if totals.low_c is not None and (best is None or totals.low_c < best.water_c - _NEWS_K):
            begins, ends = day_of(day, seen.zone)
            best = Extreme(totals.low_c, begins, ends - begins, None)
    return best


def _gaps(seen: Evidence, spans: tuple[Water, ...]) -> tuple[Stretch, ...]:
    """Return where no span is; but in days of which only totals are left nobody can say."""
    in_stretch = [span for span in spans if seen.stretch.overlap_s(span.from_s, span.from_s + span.lasts_s)]
    gone = [day_of(day, seen.zone) for day in seen.spans_gone]
    known = sorted([*((one.from_s, one.from_s + one.lasts_s) for one in in_stretch), *gone])
    edges = [(seen.stretch.from_s,) * 2, *known, (seen.stretch.until_s,) * 2]
    gaps: list[Stretch] = []
    reached_s = seen.stretch.from_s
    for (_, before_s), (after_s, _) in pairwise(edges):
        reached_s = max(reached_s, before_s)
        if after_s - reached_s > _GAP_S:
            gaps.append(Stretch(reached_s, after_s))
    return tuple(gaps)
