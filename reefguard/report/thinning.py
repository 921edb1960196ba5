"""Making a long series small without losing what a person looks for: its peaks and its gaps.

A picture has some hundred columns of pixels, and a season has a quarter of a
million samples.  Of each column the lowest and the highest value are kept, in
the order in which they came, so the picture is as large as the paper and no
larger.
"""

import math
from collections.abc import Iterable, Iterator, Sequence

from reefguard.report.scales import TimeAxis, drawable

Point = tuple[float, float]
"""A time in seconds and a value."""


def runs(points: Iterable[tuple[float, float | None]], axis: TimeAxis, column_s: float) -> list[list[Point]]:
    """Cut a series into runs without gaps, thinned.

    Args:
        points: time in seconds and value; `None` or a number that cannot be drawn is a gap.
            Times may come in any order.
        axis: what lies outside is cut off, where the line crosses the edge.
        column_s: how long one column of pixels lasts.  A gap shorter than that cannot be seen
            and does not part a run.

    Returns:
        Runs of at least one point, in order of time.
    """
    found: list[list[Point]] = []
    parted = True
    for before, point in _with_the_one_before(points):
        if point is None:
            parted = True
            continue
        bridged = before is not None and (not parted or point[0] - before[0] < column_s)
        if bridged and before is not None:
            piece = _inside(before, point, axis)
            if found and found[-1][-1] == before:
                found[-1].extend(piece[1:])
            elif piece:
                found.append(piece)
        elif axis.start_s <= point[0] <= axis.end_s:
            found.append([point])
        parted = False
    return [_peaks(run, axis.start_s, column_s) for run in found]


def _with_the_one_before(
    points: Iterable[tuple[float, float | None]],
) -> Iterator[tuple[Point | None, Point | None]]:
    """Yield each point with the last good one before it; a gap as `None`."""
    before: Point | None = None
    for at_s, value in sorted((p for p in points if math.isfinite(p[0])), key=lambda point: point[0]):
        shown = drawable(value)
        point = None if shown is None else (at_s, shown)
        yield before, point
        before = point or before


def _inside(one: Point, other: Point, axis: TimeAxis) -> list[Point]:
    """Cut a straight piece of line at the edges of the axis."""
    if other[0] < axis.start_s or one[0] > axis.end_s:
        return []

    def crossing(edge_s: float) -> Point:
        share = (edge_s - one[0]) / (other[0] - one[0])
        return edge_s, one[1] + share * (other[1] - one[1])

    first = crossing(axis.start_s) if one[0] < axis.start_s else one
    last = crossing(axis.end_s) if other[0] > axis.end_s else other
    return [first, last]


def _peaks(run: Sequence[Point], start_s: float, column_s: float) -> list[Point]:
    """Keep both ends of a run, and each column's lowest and highest point."""
    kept = [run[0]]
    column, low, high = -1, run[0], run[0]
    for point in run:
        if (now := math.floor((point[0] - start_s) / column_s)) != column:
            kept += _in_order(low, high)
            column, low, high = now, point, point
        elif point[1] < low[1]:
            low = point
        elif point[1] > high[1]:
            high = point
    kept += [*_in_order(low, high), run[-1]]
    return [point for index, point in enumerate(kept) if index == 0 or point != kept[index - 1]]


def _in_order(low: Point, high: Point) -> tuple[Point, Point]:
    return (low, high) if low[0] <= high[0] else (high, low)


def columns(stretches: Iterable[tuple[float, float, float]], width: int) -> list[float]:
    """Return the mean level in each column of pixels.

    Args:
        stretches: left edge, right edge (both in pixels, within the width) and level from 0 to 1.
        width: number of columns.

    Returns:
        One level a column, at most 1.

    >>> columns([(0.0, 1.5, 1.0), (2.25, 2.5, 0.5)], 4)
    [1.0, 0.5, 0.125, 0.0]
    """
    levels = [0.0] * width
    for left, right, level in stretches:
        for column in range(math.floor(left), min(width, math.ceil(right))):
            levels[column] += level * (min(right, column + 1.0) - max(left, float(column)))
    return [min(1.0, level) for level in levels]
