"""Flows of heat as bars: what warms to the right of a middle line, what cools to its left.

Every piece has its name, its value and a sample of its hatch below the bar, so
the drawing needs no legend to look away to.  A flow has the same colour and
hatch in every row.

    chart = FlowBars(
        name="afternoon-heat",
        title="Heat into and out of the water at 15:00",
        description="With no cooling 210 W stay in the water; with the fans 15 W leave it.",
        rows=(
            FlowRow("no cooling", gains=(Flow("lights", 160.0), Flow("pumps", 90.0)),
                    losses=(Flow("evaporation", 40.0),)),
            FlowRow("two fans", gains=(Flow("lights", 160.0), Flow("pumps", 90.0)),
                    losses=(Flow("evaporation", 265.0),)),
        ),
    )
    drawing = flow_bars(chart)  # drawing.svg is the text
"""

from collections.abc import Sequence
from dataclasses import dataclass

from reefguard.report.lanes import stairs
from reefguard.report.look import hatch
from reefguard.report.scales import drawable, round_range, value_step, value_ticks
from reefguard.report.svg import Drawing, drawing, element, label, number, text_width_px, wrapped

_EDGE_PX, _HEAD_PX, _BAR_PX, _LANE_PX, _BETWEEN_PX, _AXIS_PX = 30.0, 24.0, 20.0, 18.0, 18.0, 40.0
_SWATCH_PX, _PX_PER_TICK, _NAME_WIDTH_PX, _LEAST_PLOT_PX = 10.0, 3.0, 240.0, 200.0


@dataclass(frozen=True, slots=True)
class Flow:
    """Heat per time.

    Attributes:
        name: what brings or takes it.
        power_w: not negative; the side says which way it flows.
    """

    name: str
    power_w: float


@dataclass(frozen=True, slots=True)
class FlowRow:
    """One option, or one moment: what warms and what cools."""

    name: str
    gains: tuple[Flow, ...] = ()
    losses: tuple[Flow, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn.

        Raises:
            ValueError: a flow is negative or no number.
        """
        for flow in (*self.gains, *self.losses):
            if drawable(flow.power_w) is None or flow.power_w < 0.0:
                raise ValueError(f"{flow.name!r} in {self.name!r} is {flow.power_w} W: give 0 or more")


@dataclass(frozen=True, slots=True)
class FlowBars:
    """A chart of flows.

    Attributes:
        name: lower-case letters, digits and hyphens; unique on its page.
        title: what it shows; for a screen reader.
        description: what there is to see; for who cannot see it.
        rows: from top to bottom.
        width_px: of the whole drawing.
    """

    name: str
    title: str
    description: str
    rows: tuple[FlowRow, ...]
    width_px: float = 900.0


@dataclass(frozen=True, slots=True)
class _Piece:
    """A flow on the paper."""

    flow: Flow
    left: float
    right: float

    @property
    def text(self) -> str:
        return f"{wrapped(self.flow.name, _NAME_WIDTH_PX, 1)[0]} {self.flow.power_w:.0f} W"

    @property
    def extent(self) -> tuple[float, float]:
        return self.left, self.left + _SWATCH_PX + 4.0 + text_width_px(self.text)


@dataclass(frozen=True, slots=True)
class _Across:
    """Where powers lie on the paper: gains are positive."""

    left_w: float
    px_per_w: float
    step_w: float
    right_w: float
    width_px: float

    def x(self, power_w: float) -> float:
        return _EDGE_PX + (power_w - self.left_w) * self.px_per_w


def flow_bars(chart: FlowBars) -> Drawing:
    """Draw a chart of flows."""
    across = _across(chart)
    kinds = _kinds(chart.rows)
    patterns = "".join(hatch(index, _pattern(chart.name, index)) for index in kinds.values())
    top, rows = _EDGE_PX, ""
    for row in chart.rows:
        drawn, height = _row(row, across, top, {name: _pattern(chart.name, kinds[name]) for name in kinds})
        rows += drawn
        top += height + _BETWEEN_PX
    inside = element("defs", patterns) if patterns else ""
    inside += _grid(across, top) + _middle(across, top) + rows
    return drawing(chart.name, chart.title, chart.description, (chart.width_px, top + _AXIS_PX), inside)


def _pattern(chart: str, index: int) -> str:
    return f"{chart}-kind-{index + 1}"


def _kinds(rows: Sequence[FlowRow]) -> dict[str, int]:
    """Number the flows by their names, in the order in which they first appear."""
    names = dict.fromkeys(flow.name for row in rows for flow in (*row.gains, *row.losses))
    return {name: index for index, name in enumerate(names)}


def _across(chart: FlowBars) -> _Across:
    """Find the scale: as wide as the paper, less what the rightmost names need beyond their bars."""
    wide = _scale(chart, chart.width_px - 2.0 * _EDGE_PX)
    pieces = [piece for row in chart.rows for piece in _pieces_of(row, wide)]
    beyond = max((piece.extent[1] - (chart.width_px - _EDGE_PX) for piece in pieces), default=0.0)
    return _scale(chart, max(_LEAST_PLOT_PX, chart.width_px - 2.0 * _EDGE_PX - max(0.0, beyond)))


def _scale(chart: FlowBars, width: float) -> _Across:
    ends = [0.0]
    for row in chart.rows:
        ends += [sum(flow.power_w for flow in row.gains), -sum(flow.power_w for flow in row.losses)]
    left, right = round_range(ends, 1.0, width / _PX_PER_TICK)
    step_w = value_step(left, right, width / _PX_PER_TICK)
    return _Across(left, width / (right - left), step_w, right, chart.width_px)


def _row(row: FlowRow, across: _Across, top: float, patterns: dict[str, str]) -> tuple[str, float]:
    """Draw a row, and return how high it is."""
    gained, lost = sum(flow.power_w for flow in row.gains), sum(flow.power_w for flow in row.losses)
    rest = round(gained - lost)
    net = f"{gained:.0f} W in, {lost:.0f} W out: " + (f"{rest:+d} W" if rest else "in balance")
    drawn = label(_EDGE_PX, top + 8.0, (row.name,), class_="strong")
    drawn += label(across.width_px - _EDGE_PX, top + 8.0, (net,), anchor="end", class_="quiet")
    pieces = _pieces_of(row, across)
    placed = stairs([piece.extent for piece in pieces])
    bar, names = top + _HEAD_PX, top + _HEAD_PX + _BAR_PX + 12.0
    for piece, lane in zip(pieces, placed, strict=True):
        fill, y = f"url(#{patterns[piece.flow.name]})", names + lane * _LANE_PX
        leader = f"M{number(piece.left + 0.5)} {number(bar + _BAR_PX)}V{number(y - _SWATCH_PX / 2.0)}"
        width = max(1.0, piece.right - piece.left - 1.0)
        drawn += element("rect", x=piece.left, y=bar, width=width, height=_BAR_PX, fill=fill)
        drawn += element("path", class_="leader", d=leader)
        swatch = {"x": piece.left, "y": y - _SWATCH_PX / 2.0, "width": _SWATCH_PX, "height": _SWATCH_PX}
        drawn += element("rect", fill=fill, **swatch)
        drawn += label(piece.left + _SWATCH_PX + 4.0, y, (piece.text,), class_="over")
    return drawn, _HEAD_PX + _BAR_PX + 4.0 + _LANE_PX * (1 + max(placed, default=0))


def _pieces_of(row: FlowRow, across: _Across) -> list[_Piece]:
    return [*_pieces(row.losses, across, -1.0), *_pieces(row.gains, across, 1.0)]


def _pieces(flows: Sequence[Flow], across: _Across, sign: float) -> list[_Piece]:
    """Lay the flows of one side end to end, away from the middle."""
    found, reached_w = [], 0.0
    for flow in flows:
        if flow.power_w <= 0.0:
            continue
        ends = across.x(sign * reached_w), across.x(sign * (reached_w + flow.power_w))
        reached_w += flow.power_w
        found.append(_Piece(flow, min(ends), max(ends)))
    return found


def _grid(across: _Across, bottom: float) -> str:
    ticks = value_ticks(across.left_w, across.right_w, across.step_w)
    lines = "".join(
        f"M{number(across.x(power_w))} {number(_EDGE_PX + _HEAD_PX)}V{number(bottom)}" for power_w, _ in ticks
    )
    return element("path", class_="grid", d=lines) + "".join(
        label(across.x(power_w), bottom + 12.0, (f"{name.lstrip('-')} W",), anchor="middle", class_="quiet")
        for power_w, name in ticks
    )


def _middle(across: _Across, bottom: float) -> str:
    middle = across.x(0.0)
    line = element(
        "path", class_="axis", d=f"M{number(middle)} {number(_EDGE_PX + _HEAD_PX)}V{number(bottom)}"
    )
    cools = "\N{LEFTWARDS ARROW} cools the water"
    warms = "warms the water \N{RIGHTWARDS ARROW}"
    sides = ""
    if across.left_w < 0.0:
        sides += label(max(middle - 10.0, _EDGE_PX), bottom + 29.0, (cools,), anchor="end")
    if across.right_w > 0.0:
        sides += label(middle + 10.0, bottom + 29.0, (warms,))
    return line + sides
