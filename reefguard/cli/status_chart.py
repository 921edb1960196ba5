"""The last hours as a small chart for a terminal, in plain letters.

Pure.  Where there is no reading there is no mark.
"""

from collections.abc import Iterator, Sequence
from datetime import datetime, tzinfo
from itertools import pairwise
from typing import Final

from reefguard.records.history import Interval, Past, Span
from reefguard.settings.model import Unit

_ROWS: Final = 8
_LEFT: Final = 12
_LEAST, _MOST = 24, 96
_WARMEST, _COLDEST, _EDGE = "*", "o", "-"


def chart(
    past: Past, *, band_c: tuple[float, float] | None, unit: Unit, zone: tzinfo, columns: int
) -> Iterator[str]:
    """Return the water of a stretch of time and what ran in it, a line each.

    Args:
        past: what the history holds of it.
        band_c: the ends of the safe band, if they are known.
        unit: of the temperatures shown.
        zone: whose clock names the times.
        columns: how wide the terminal is.
    """
    width = max(_LEAST, min(_MOST, columns - _LEFT - 2))
    edges = [past.from_s + (past.until_s - past.from_s) * place / width for place in range(width + 1)]
    waters = [spans for series, spans in past.series.items() if series.kind == "water"]
    means = [_means(spans, edges) for spans in waters]
    warmest = [max(known) if (known := _known(column)) else None for column in zip(*means, strict=True)]
    coldest = [min(known) if (known := _known(column)) else None for column in zip(*means, strict=True)]
    hours = (past.until_s - past.from_s) / 3_600.0
    yield f"  {'last':<{_LEFT - 2}}{hours:g} h; {_WARMEST} warmest, {_COLDEST} coldest, {_EDGE} safe band"
    shown = [value for value in (*warmest, *coldest, *(band_c or ())) if value is not None]
    if not _known([*warmest, *coldest]):
        yield f"  {'':<{_LEFT - 2}}no reading of the water is kept from this time"
    else:
        yield from _plot(warmest, coldest, (min(shown), max(shown)), band_c, unit)
    for name in dict.fromkeys(one.output for one in past.intervals):
        mine = [one for one in past.intervals if one.output == name]
        yield f"  {name[:10]:<{_LEFT - 2}}{_strip(mine, edges)}"
    yield f"  {'':<{_LEFT - 2}}{_axis(past, zone, width)}"


def _plot(
    warmest: Sequence[float | None],
    coldest: Sequence[float | None],
    ends: tuple[float, float],
    band_c: tuple[float, float] | None,
    unit: Unit,
) -> Iterator[str]:
    low, high = ends
    step = max(high - low, 0.5) / (_ROWS - 1)

    def row(value: float) -> int:
        return min(_ROWS - 1, max(0, round((low + step * (_ROWS - 1) - value) / step)))

    grid = [[" "] * len(warmest) for _ in range(_ROWS)]
    for edge in band_c or ():
        grid[row(edge)] = [_EDGE] * len(warmest)
    for marks, letter in ((coldest, _COLDEST), (warmest, _WARMEST)):
        for column, value in enumerate(marks):
            if value is not None:
                grid[row(value)][column] = letter
    for place, line in enumerate(grid):
        value = unit.of(low + step * (_ROWS - 1 - place))
        yield f"  {value:>6.1f} {unit.value} {''.join(line)}".rstrip()


def _means(spans: Sequence[Span], edges: Sequence[float]) -> list[float | None]:
    sums = [(0.0, 0)] * (len(edges) - 1)
    wide_s = edges[1] - edges[0]
    for span in spans:
        place = int((span.from_s + span.lasts_s / 2.0 - edges[0]) // wide_s)
        if 0 <= place < len(sums):
            sums[place] = sums[place][0] + span.mean, sums[place][1] + 1
    return [total / count if count else None for total, count in sums]


def _known(values: Sequence[float | None]) -> list[float]:
    return [value for value in values if value is not None]


def _strip(intervals: Sequence[Interval], edges: Sequence[float]) -> str:
    """Return `#` where an output was on most of a column, `+` where it was on for some of it."""
    drawn = ""
    for first_s, last_s in pairwise(edges):
        on_s = sum(
            max(0.0, min(last_s, one.until_s) - max(first_s, one.from_s))
            for one in intervals
            if one.from_s < last_s and one.until_s > first_s
        )
        drawn += "#" if on_s > 0.5 * (last_s - first_s) else "+" if on_s > 0.0 else "."
    return drawn


def _axis(past: Past, zone: tzinfo, width: int) -> str:
    first, last = (datetime.fromtimestamp(at_s, zone) for at_s in (past.from_s, past.until_s))
    return f"{first:%H:%M}" + f"{last:%H:%M}".rjust(width - 5)
