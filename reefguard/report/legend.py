"""Names above a plot, each with a sample of its line: for a chart too narrow to have them beside it."""

from collections.abc import Sequence
from dataclasses import dataclass

from reefguard.report.side_names import SideName
from reefguard.report.svg import element, label, number, text_width_px

_SAMPLE_PX, _SPACE_PX, _BETWEEN_PX, _ROW_PX = 22.0, 5.0, 14.0, 17.0


@dataclass(frozen=True, slots=True)
class Legend:
    """Names in rows.

    Attributes:
        placed: each name with its left edge and its row.
        height: of all rows.
    """

    placed: tuple[tuple[SideName, float, int], ...]
    height: float


NO_LEGEND = Legend((), 0.0)


def legend(names: Sequence[SideName], width_px: float) -> Legend:
    """Break names into rows of a width."""
    placed: list[tuple[SideName, float, int]] = []
    left, row = 0.0, 0
    for name in names:
        width = _SAMPLE_PX + _SPACE_PX + text_width_px(name.name)
        if left and left + width > width_px:
            left, row = 0.0, row + 1
        placed.append((name, left, row))
        left += width + _BETWEEN_PX
    return Legend(tuple(placed), _ROW_PX * (row + 1)) if placed else NO_LEGEND


def draw_legend(found: Legend, left: float, top: float) -> str:
    """Draw the rows, the first just below `top`."""
    drawn = ""
    for name, from_left, row in found.placed:
        x, middle = left + from_left, top + _ROW_PX * (row + 0.5)
        drawn += element(
            "path", class_=name.sample, d=f"M{number(x)} {number(middle)}h{number(_SAMPLE_PX)}"
        ) + label(x + _SAMPLE_PX + _SPACE_PX, middle, (name.name,))
    return drawn
