"""Parts of a past: its series by kind, its outputs, and what lies between two moments.

Pure.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from itertools import pairwise

from reefguard.records.history import Interval, Past, Series, Span


def of_kind(past: Past, kind: str) -> tuple[Series, ...]:
    """Return the series of a kind, in the order of the history."""
    return tuple(series for series in past.series if series.kind == kind)


def output_names(past: Past) -> tuple[str, ...]:
    """Return the outputs that were on, the chiller last."""
    return tuple(sorted({one.output for one in past.intervals}, key=lambda name: (name == "chiller", name)))


def between(spans: Sequence[Span], edges: Sequence[float]) -> Iterator[Sequence[Span]]:
    """Yield the spans whose middle lies between each two edges.

    Args:
        spans: in order of time.
        edges: Unix seconds, in order.
    """
    places = [bisect_left(spans, edge, key=_middle_s) for edge in edges]
    return (spans[first:last] for first, last in pairwise(places))


def _middle_s(span: Span) -> float:
    return span.from_s + span.lasts_s / 2.0


def on_between(intervals: Sequence[Interval], edges: Sequence[float]) -> list[float]:
    """Return for how many seconds something was on between each two edges."""
    found = [0.0] * (len(edges) - 1)
    for one in intervals:
        for place in range(max(0, bisect_left(edges, one.from_s) - 1), len(found)):
            if edges[place] >= one.until_s:
                break
            found[place] += max(0.0, min(one.until_s, edges[place + 1]) - max(one.from_s, edges[place]))
    return found


def lasting_s(spans: Sequence[Span]) -> float:
    """Return how long some spans last together."""
    return sum(span.lasts_s for span in spans)


def mean(spans: Sequence[Span]) -> float:
    """Return the mean of some spans, each weighed by its length; there must be one."""
    return sum(span.mean * span.lasts_s for span in spans) / lasting_s(spans)
