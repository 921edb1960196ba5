"""Names right of a plot, each with a sample of its line and a leader to where the line ends."""

from collections.abc import Sequence
from dataclasses import dataclass

from reefguard.report.lanes import spread
from reefguard.report.scales import Across, Up
from reefguard.report.svg import LINE_PX, element, label, number, text_width_px, wrapped

_NAME_WIDTH_PX, _SAMPLE_PX, _LEADER_PX, _SPACE_PX = 132.0, 26.0, 12.0, 6.0


@dataclass(frozen=True, slots=True)
class SideName:
    """A name beside the plot.

    Attributes:
        value: at whose height it would like to stand.
        name: unescaped; broken into up to three lines.
        sample: the classes of the line it names.
    """

    value: float
    name: str
    sample: str

    @property
    def lines(self) -> tuple[str, ...]:
        """The name, broken to fit."""
        return wrapped(self.name, _NAME_WIDTH_PX, 3)

    @property
    def height(self) -> float:
        """How much of the height it takes, with some space."""
        return LINE_PX * len(self.lines) + 3.0

    @property
    def width(self) -> float:
        """How much it takes beside the plot, leader and sample included."""
        return _LEADER_PX + _SAMPLE_PX + _SPACE_PX + max(text_width_px(line) for line in self.lines)


def draw_side_names(sides: Sequence[SideName], across: Across, up: Up) -> str:
    """Draw names so that none lies on another.

    Args:
        sides: in any order.
        across: the time axis, at whose right end they stand.
        up: the value axis.
    """
    bottom = up.top + up.height
    ends = [min(bottom, max(up.top, up.y(side.value))) for side in sides]
    middles = spread([(end, side.height) for end, side in zip(ends, sides, strict=True)], up.top, bottom)
    drawn = ""
    for side, end, middle in zip(sides, ends, middles, strict=True):
        bend, first = across.right + _LEADER_PX, middle - LINE_PX * (len(side.lines) - 1) / 2.0
        leader = f"M{number(across.right + 2.0)} {number(end)}L{number(bend)} {number(middle)}"
        sample = f"M{number(bend)} {number(middle)}h{number(_SAMPLE_PX)}"
        drawn += element("path", class_="leader", d=leader) + element("path", class_=side.sample, d=sample)
        drawn += label(bend + _SAMPLE_PX + _SPACE_PX, first, side.lines)
    return drawn
