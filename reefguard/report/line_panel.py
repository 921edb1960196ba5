"""A panel of lines over the time axis of a chart: what was measured, or what was worked out."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reefguard.report.legend import NO_LEGEND, Legend, draw_legend, legend
from reefguard.report.look import line_classes
from reefguard.report.scales import Across, Up, drawable, round_range, value_step, value_ticks
from reefguard.report.side_names import SideName, draw_side_names
from reefguard.report.svg import element, label, number, tenths, text_width_px
from reefguard.report.thinning import Point, runs

TITLE_PX = 20.0


@dataclass(frozen=True, slots=True)
class Line:
    """A named line.

    Attributes:
        name: stands beside its end.
        points: seconds of the run and value; `None`, NaN and numbers beyond 1e9 are gaps.
    """

    name: str
    points: Sequence[tuple[float, float | None]]


@dataclass(frozen=True, slots=True)
class Band:
    """A shaded range of values, such as the safe band."""

    low: float
    high: float
    name: str


@dataclass(frozen=True, slots=True)
class Reference:
    """A value that the lines are held against, such as a setpoint."""

    value: float
    name: str


@dataclass(frozen=True, slots=True)
class Spot:
    """A point that deserves a word, such as the peak."""

    at_s: float
    value: float
    name: str


@dataclass(frozen=True, slots=True)
class Spread:
    """From the lowest to the highest, as an area behind the lines: for lines that are means over a while.

    Attributes:
        points: seconds of the run, the lowest and the highest; one that cannot be drawn makes a gap.
            No more of them than there are pixels: they are not thinned.
    """

    points: Sequence[tuple[float, float | None, float | None]]


@dataclass(frozen=True, slots=True)
class LinePanel:
    """Lines that share a unit.

    Attributes:
        title: what they show.
        unit: of all values; stands beside the title.
        lines: the first six differ in colour, all of the first 36 in colour or dashes.
        bands: lie behind the lines.
        references: dashed, across the whole panel.
        spots: lie on top.
        spread: lies between the bands and the lines.
        value_range: ends of the value axis, or `None` to fit what is shown.
        least_span: a fitted axis never shows less, so that noise stays small.
        height_px: of the plot; more where the names beside it need more.
    """

    title: str
    unit: str
    lines: tuple[Line, ...]
    bands: tuple[Band, ...] = ()
    references: tuple[Reference, ...] = ()
    spots: tuple[Spot, ...] = ()
    spread: Spread | None = None
    value_range: tuple[float, float] | None = None
    least_span: float = 1.0
    height_px: float = 190.0

    def __post_init__(self) -> None:
        """Refuse a range that shows nothing.

        Raises:
            ValueError: the fixed range, or the least span, is empty or no number.
        """
        ends = (0.0, self.least_span) if self.value_range is None else self.value_range
        if any(drawable(end) is None for end in ends) or not ends[0] < ends[1]:
            raise ValueError(f"the value axis of {self.title!r} cannot go from {ends[0]} to {ends[1]}")


@dataclass(frozen=True, slots=True)
class FittedPanel:
    """A line panel, thinned and with its range found."""

    panel: LinePanel
    runs: tuple[list[list[Point]], ...]
    low: float
    high: float
    height: float
    legend: Legend = NO_LEGEND

    @property
    def total_px(self) -> float:
        """How high it is with its title and its legend."""
        return TITLE_PX + self.legend.height + self.height

    @property
    def ticks(self) -> tuple[tuple[float, str], ...]:
        """The round values of its axis."""
        return value_ticks(self.low, self.high, value_step(self.low, self.high, self.panel.height_px))

    @property
    def left_px(self) -> float:
        """How wide the numbers left of the plot are."""
        return max((text_width_px(name) for _, name in self.ticks), default=0.0)

    @property
    def right_px(self) -> float:
        """How wide the names right of the plot are."""
        if self.legend.placed:
            return 0.0
        return max((side.width for side in _sides(self)), default=0.0)


def fit(panel: LinePanel, across: Across, *, names_above: bool = False, grain_px: float = 1.0) -> FittedPanel:
    """Thin the lines of a panel and find its range.

    Args:
        panel: what to show.
        across: the time axis.
        names_above: the lines' names stand above the plot, not at its right.
        grain_px: of each so many pixels the lowest and the highest value are kept.
    """
    thinned = tuple(runs(line.points, across.axis, grain_px * across.column_s) for line in panel.lines)
    if panel.value_range is not None:
        low, high = panel.value_range
    else:
        values = [value for line in thinned for run in line for _, value in run]
        values += [reference.value for reference in panel.references]
        values += [spot.value for spot in panel.spots if across.shows(spot.at_s, spot.at_s)]
        values += [end for band in panel.bands for end in (band.low, band.high)]
        values += [end for run in _spread_runs(panel, across) for _, low, high in run for end in (low, high)]
        shown = [value for value in values if drawable(value) is not None]
        low, high = round_range(shown, panel.least_span, panel.height_px)
    fitted = FittedPanel(panel, thinned, low, high, panel.height_px)
    if names_above:
        sides = tuple(_sides(fitted))
        first = len(panel.references)
        named = legend((*sides[first:], *sides[:first]), across.width)
        return FittedPanel(panel, thinned, low, high, panel.height_px, named)
    height = max(panel.height_px, sum(side.height for side in _sides(fitted)))
    return FittedPanel(panel, thinned, low, high, height)


def draw_lines(fitted: FittedPanel, across: Across, top: float, clip: str) -> str:
    """Draw a panel.

    Args:
        fitted: by `fit`, for the same width.
        across: the time axis.
        top: where its title begins; the plot begins below it and below its legend.
        clip: a name for its clipping path, unique on the page.
    """
    panel = fitted.panel
    up = Up(fitted.low, fitted.high, top + TITLE_PX + fitted.legend.height, fitted.height)
    size = {"x": across.left, "y": up.top - 1.0, "width": across.width, "height": up.height + 2.0}
    clipped = (
        _bands(panel, across, up)
        + _spread(panel, across, up)
        + _grid(fitted, across, up)
        + _references(panel, across, up)
    )
    clipped += "".join(
        _line(found, across, up, line_classes(index)) for index, found in enumerate(fitted.runs)
    )
    clipped += _band_names(panel, across, up)
    outside = label(across.left, top + 8.0, (f"{panel.title}, {panel.unit}",), class_="strong")
    if not any(fitted.runs):
        middle = up.top + up.height / 2.0
        nothing = ("no values",)
        outside += label(across.left + across.width / 2.0, middle, nothing, anchor="middle", class_="quiet")
    return (
        element("clipPath", element("rect", **size), id=clip)
        + element("g", clipped, clip_path=f"url(#{clip})")
        + "".join(
            label(across.left - 6.0, up.y(value), (name,), anchor="end", class_="quiet")
            for value, name in fitted.ticks
        )
        + outside
        + (
            draw_legend(fitted.legend, across.left, top + TITLE_PX - 4.0)
            if fitted.legend.placed
            else draw_side_names(list(_sides(fitted)), across, up)
        )
        + _spots(panel, across, up)
    )


def _grid(fitted: FittedPanel, across: Across, up: Up) -> str:
    lines = [
        f"M{number(across.left)} {number(up.y(value))}h{number(across.width)}" for value, _ in fitted.ticks
    ]
    lines += [
        f"M{number(across.x(at_s))} {number(up.top)}v{number(up.height)}"
        for at_s, _ in across.axis.ticks(across.width)
    ]
    return element("path", class_="grid", d="".join(lines)) if lines else ""


def _bands(panel: LinePanel, across: Across, up: Up) -> str:
    drawn = ""
    for band in panel.bands:
        top, bottom = up.y(band.high), up.y(band.low)
        height = max(0.0, bottom - top)
        drawn += element("rect", class_="band", x=across.left, y=top, width=across.width, height=height)
    return drawn


def _spread_runs(panel: LinePanel, across: Across) -> list[list[tuple[float, float, float]]]:
    found: list[list[tuple[float, float, float]]] = []
    parted = True
    for at_s, low, high in () if panel.spread is None else panel.spread.points:
        shown_low, shown_high = drawable(low), drawable(high)
        if shown_low is None or shown_high is None or not across.shows(at_s, at_s):
            parted = True
            continue
        if parted:
            found.append([])
        found[-1].append((at_s, shown_low, shown_high))
        parted = False
    return found


def _spread(panel: LinePanel, across: Across, up: Up) -> str:
    """Draw each run as there along the highest and back along the lowest."""
    drawn = "".join(
        _path(
            [(at_s, high) for at_s, _, high in run] + [(at_s, low) for at_s, low, _ in run[::-1]], across, up
        )
        + "z"
        for run in _spread_runs(panel, across)
    )
    return element("path", class_="spread", d=drawn) if drawn else ""


def _band_names(panel: LinePanel, across: Across, up: Up) -> str:
    """Write each band's name inside its upper edge, over the lines."""
    return "".join(
        label(across.left + 6.0, max(up.y(band.high), up.top) + 9.0, (band.name,), class_="over quiet")
        for band in panel.bands
    )


def _references(panel: LinePanel, across: Across, up: Up) -> str:
    return "".join(
        element(
            "path",
            class_="reference",
            d=f"M{number(across.left)} {number(up.y(reference.value))}h{number(across.width)}",
        )
        for reference in panel.references
    )


def _line(found: list[list[Point]], across: Across, up: Up, classes: str) -> str:
    """Draw the runs as one path, and points that stand alone, which a path would not show, as another."""
    through = "".join(_path(run, across, up) for run in found if len(run) > 1)
    alone = "".join(
        f"M{number(across.x(run[0][0]))} {number(up.y(run[0][1]))}h0" for run in found if len(run) == 1
    )
    return (element("path", class_=f"series {classes}", d=through) if through else "") + (
        element("path", class_=f"series {classes} lone", d=alone) if alone else ""
    )


def _path(run: list[Point], across: Across, up: Up) -> str:
    """Write a run as small steps in tenths of a pixel, each from where the one before was rounded to."""
    corners = [(round(across.x(at_s) * 10.0), round(up.y(value) * 10.0)) for at_s, value in run]
    x, y = corners[0]
    written = [f"M{tenths(x)} {tenths(y)}l"]
    for next_x, next_y in corners[1:]:
        written.append(f"{tenths(next_x - x)} {tenths(next_y - y)}")
        x, y = next_x, next_y
    return " ".join(written).replace(" -", "-").replace("l ", "l")


def _sides(fitted: FittedPanel) -> Iterator[SideName]:
    for reference in fitted.panel.references:
        yield SideName(reference.value, reference.name, "reference")
    for index, (line, found) in enumerate(zip(fitted.panel.lines, fitted.runs, strict=True)):
        last = found[-1][-1][1] if found else fitted.low
        yield SideName(last, line.name, f"series {line_classes(index)}")


def _spots(panel: LinePanel, across: Across, up: Up) -> str:
    drawn = ""
    for spot in panel.spots:
        if drawable(spot.value) is None or not across.shows(spot.at_s, spot.at_s):
            continue
        x, y = across.x(spot.at_s), min(up.top + up.height, max(up.top, up.y(spot.value)))
        ends = x + text_width_px(spot.name) + 8.0 > across.right
        above = y - 12.0 if y - 18.0 > up.top else y + 14.0
        drawn += element("circle", class_="point", cx=x, cy=y, r=3.5)
        drawn += label(
            x - 4.0 if ends else x + 4.0,
            above,
            (spot.name,),
            anchor="end" if ends else "start",
            class_="over",
        )
    return drawn
