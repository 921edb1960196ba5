"""A chart over one time axis: panels of lines, and below them rows of what ran and what was wrong.

All parts share the axis.  The drawing is as large as its paper, however many
samples there are.  It is for a page of `reefguard.report.page`, whose style
gives it its colours.

    chart = TimeChart(
        name="hot-day",
        title="Water on a hot day",
        description="The water rises to 27.1 °C at 17:00 and is back at 25.5 °C at 23:00.",
        axis=TimeAxis(0.0, 86_400.0),
        parts=(
            LinePanel(
                "Water", "°C", (Line("warmest probe", points),),
                bands=(Band(24.0, 27.0, "safe band"),),
                references=(Reference(25.5, "fans start"),),
            ),
            OutputStrip("chiller", (Run(50_000.0, 58_000.0),)),
            TroubleStrip("faults", Trouble.FAULT, (Spell(48_000.0, 60_000.0, "the fan stands still"),)),
        ),
        markers=(Marker(48_000.0, "the fault begins"),),
    )
    drawing = time_chart(chart)  # drawing.svg is the text
"""

import math
from dataclasses import dataclass, replace

from reefguard.report.lanes import lanes
from reefguard.report.line_panel import FittedPanel, LinePanel, draw_lines, fit
from reefguard.report.look import fault_hatch
from reefguard.report.scales import Across, TimeAxis
from reefguard.report.strips import NAME_WIDTH_PX, OutputStrip, TroubleStrip, draw_strip, height_px
from reefguard.report.svg import Drawing, Plot, drawing, element, label, number, text_width_px, wrapped

_EDGE_PX, _BETWEEN_PX, _AXIS_PX, _MARKER_LANE_PX, _MOST_MARKER_LANES = 10.0, 14.0, 26.0, 18.0, 5
_LEAST_PLOT_PX, _LEAST_NARROW_PX = 240.0, 120.0


@dataclass(frozen=True, slots=True)
class Marker:
    """A moment that matters to every part: a line from top to bottom, with its name above."""

    at_s: float
    name: str


@dataclass(frozen=True, slots=True)
class TimeChart:
    """A chart.

    Attributes:
        name: lower-case letters, digits and hyphens; unique on its page.
        title: what it shows; for a screen reader.
        description: what there is to see; for who cannot see it.
        axis: what all parts share.
        parts: from top to bottom.
        markers: in any order.
        width_px: of the whole drawing; it is never squeezed, a narrow page scrolls it.
        grain_px: of each so many pixels a line keeps its lowest and its highest value; 2 halves the drawing,
            and hardly anybody sees it.
        narrow: for a small screen: the lines' names stand above their plot, not at its right.
    """

    name: str
    title: str
    description: str
    axis: TimeAxis
    parts: tuple[LinePanel | OutputStrip | TroubleStrip, ...]
    markers: tuple[Marker, ...] = ()
    width_px: float = 900.0
    grain_px: float = 1.0
    narrow: bool = False


def time_chart(chart: TimeChart) -> Drawing:
    """Draw a chart."""
    across, parts = _arranged(chart)
    shown = [marker for marker in chart.markers if across.shows(marker.at_s, marker.at_s)]
    names, depth = _marker_names(shown, across)
    top = first = _EDGE_PX + depth
    drawn = ""
    for index, part in enumerate(parts):
        if isinstance(part, FittedPanel):
            drawn += draw_lines(part, across, top, f"{chart.name}-clip-{index}")
            top += part.total_px + _BETWEEN_PX
        else:
            drawn += draw_strip(part, across, top, f"{chart.name}-fault")
            top += height_px(part, across)
    inside = element("defs", fault_hatch(f"{chart.name}-fault"))
    inside += _time_grid(across, first, top) + drawn + _marker_lines(shown, across, top) + names
    width, height = chart.width_px, top + _AXIS_PX
    plot = Plot(across.left / width, across.right / width, first / height, top / height)
    return replace(drawing(chart.name, chart.title, chart.description, (width, height), inside), plot=plot)


def _arranged(
    chart: TimeChart,
) -> tuple[Across, list[FittedPanel | OutputStrip | TroubleStrip]]:
    """Find the plot's edges from what must stand beside it, and fit the parts into it."""
    wide = Across(chart.axis, 0.0, chart.width_px)

    def fitted(panel: LinePanel, across: Across) -> FittedPanel:
        return fit(panel, across, names_above=chart.narrow, grain_px=chart.grain_px)

    panels = [fitted(part, wide) for part in chart.parts if isinstance(part, LinePanel)]
    names = [
        text_width_px(line)
        for part in chart.parts
        if not isinstance(part, LinePanel)
        for line in wrapped(part.name, NAME_WIDTH_PX, 3)
    ]
    left = _EDGE_PX + 6.0 + max((30.0, *names, *(panel.left_px for panel in panels)))
    right = _EDGE_PX + max((24.0, *(panel.right_px for panel in panels)))
    least = _LEAST_NARROW_PX if chart.narrow else _LEAST_PLOT_PX
    across = Across(chart.axis, left, float(max(least, math.floor(chart.width_px - left - right))))
    return across, [fitted(part, across) if isinstance(part, LinePanel) else part for part in chart.parts]


def _time_grid(across: Across, top: float, bottom: float) -> str:
    ticks = across.axis.ticks(across.width)
    lines = "".join(f"M{number(across.x(at_s))} {number(top)}V{number(bottom)}" for at_s, _ in ticks)
    axis = f"M{number(across.left)} {number(bottom)}h{number(across.width)}"
    return (
        (element("path", class_="grid", d=lines) if lines else "")
        + element("path", class_="axis", d=axis)
        + "".join(
            label(across.x(at_s), bottom + 12.0, (name,), anchor="middle", class_="quiet")
            for at_s, name in ticks
        )
    )


def _marker_lines(shown: list[Marker], across: Across, bottom: float) -> str:
    lines = "".join(
        f"M{number(across.x(marker.at_s))} {number(_EDGE_PX)}V{number(bottom)}" for marker in shown
    )
    return element("path", class_="marker", d=lines) if lines else ""


def _marker_names(shown: list[Marker], across: Across) -> tuple[str, float]:
    """Write the names above the parts, and return how much height they take."""
    lefts = [
        max(across.left, min(across.x(marker.at_s) + 4.0, across.right - text_width_px(marker.name)))
        for marker in shown
    ]
    extents = [(left, left + text_width_px(marker.name)) for left, marker in zip(lefts, shown, strict=True)]
    placed = lanes(extents, _MOST_MARKER_LANES)
    drawn = "".join(
        label(left, _EDGE_PX + 6.0 + lane * _MARKER_LANE_PX, (marker.name,), class_="over strong")
        for left, lane, marker in zip(lefts, placed, shown, strict=True)
        if lane is not None
    )
    depth = max((lane + 1 for lane in placed if lane is not None), default=0)
    return drawn, depth * _MARKER_LANE_PX
