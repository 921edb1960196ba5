"""From the history to charts over it: water and room against the safe band, and when what ran.

Pure.  Each chart is drawn twice from the same values, once as wide as a desk
and once as narrow as a telephone; the style sheet shows the one that fits.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from itertools import pairwise
from typing import Final

from reefguard.link.page.pieces import between, lasting_s, mean, of_kind, on_between, output_names
from reefguard.link.page.spans import Reach
from reefguard.records.history import Past, Series, Span
from reefguard.report.calendar import CalendarAxis, Step, clock_name, moments
from reefguard.report.line_panel import Band, Line, LinePanel, Reference, Spread
from reefguard.report.scales import DAY_S
from reefguard.report.strips import OutputStrip, Run, Spell, Trouble, TroubleStrip
from reefguard.report.svg import Drawing
from reefguard.report.time_chart import TimeChart, time_chart
from reefguard.settings.model import SafeBand, Settings, Unit

_WIDE_PX: Final = 880.0
_NARROW_PX: Final = 336.0
# Of each so many pixels a line's lowest and highest are kept; where there are more lines than so many, of
# more pixels, lest each further probe make the page larger.
_GRAIN_PX: Final = 2.0
_FINE_LINES: Final = 3


@dataclass(frozen=True, slots=True)
class Limits:
    """What the water is held against.

    Attributes:
        band: the safe band.
        references: set points in degrees Celsius, each with its name.
    """

    band: SafeBand
    references: tuple[tuple[float, str], ...] = ()


def limits_of(settings: Settings) -> Limits:
    """Return the limits that the settings name."""
    references = []
    if settings.fans is not None:
        references.append((settings.fans.cut.cut_in_c, "fans cut in"))
    if settings.chiller is not None:
        references.append((settings.chiller.cut.cut_in_c, "chiller cuts in"))
    return Limits(settings.safe_band, tuple(references))


@dataclass(frozen=True, slots=True)
class Charts:
    """The same chart for a wide and for a narrow screen."""

    wide: Drawing
    narrow: Drawing


def charts(
    past: Past,
    troubles: Sequence[Spell],
    reach: Reach,
    limits: Limits,
    *,
    said: str,
    unit: Unit,
    zone: tzinfo,
) -> Charts:
    """Draw a stretch of time.

    Args:
        past: what the history holds of it.
        troubles: when alarms stood.
        reach: which stretch.
        limits: what the water is held against.
        said: what there is to see, by `describe`.
        unit: of temperatures.
        zone: whose clock and calendar name the times.
    """
    axis = CalendarAxis(past.from_s, past.until_s, zone=zone)
    parts = _parts(past, troubles, limits, unit, _days(past, zone) if reach.by_day else ())
    title = f"Water, room and outputs over {reach.name}"
    lines = sum(len(part.lines) for part in parts if isinstance(part, LinePanel))
    grain_px = _GRAIN_PX * max(1.0, lines / _FINE_LINES)

    def drawn(name: str, width_px: float, *, narrow: bool) -> Drawing:
        chart = TimeChart(name, title, said, axis, parts, (), width_px, grain_px, narrow)
        return time_chart(chart)

    return Charts(drawn("past-wide", _WIDE_PX, narrow=False), drawn("past-narrow", _NARROW_PX, narrow=True))


def describe(past: Past, troubles: Sequence[Spell], unit: Unit, zone: tzinfo) -> str:
    """Say in sentences what there is to see: the extremes of the water with their times, and the alarms."""
    spans = [span for series in of_kind(past, "water") for span in past.series[series]]
    if not spans:
        water = "No reading of the water is kept from this time."
    else:
        high, low = max(spans, key=lambda span: span.high), min(spans, key=lambda span: span.low)
        water = (
            f"The water was warmest with {unit.of(high.high):.1f} {unit.value} on "
            f"{clock_name(high.from_s, zone)} and coldest with {unit.of(low.low):.1f} {unit.value} on "
            f"{clock_name(low.from_s, zone)}."
        )
    if not troubles:
        return f"{water} No alarm stood."
    names = sorted({spell.name for spell in troubles})
    return f"{water} Alarms that stood: {', '.join(names)}."


def _days(past: Past, zone: tzinfo) -> tuple[float, ...]:
    """Return the midnights within a stretch of time, and its ends."""
    inner = moments(past.from_s, past.until_s, Step.DAY, zone)
    return tuple(dict.fromkeys((past.from_s, *inner, past.until_s)))


def _parts(
    past: Past, troubles: Sequence[Spell], limits: Limits, unit: Unit, days: Sequence[float]
) -> tuple[LinePanel | OutputStrip | TroubleStrip, ...]:
    waters, rooms = of_kind(past, "water"), of_kind(past, "room")
    parts: list[LinePanel | OutputStrip | TroubleStrip] = [
        LinePanel(
            "Water",
            unit.value,
            tuple(Line(one.name, tuple(_points(past, one, unit, days))) for one in waters),
            bands=(Band(unit.of(limits.band.low_c), unit.of(limits.band.high_c), "safe band"),),
            references=tuple(Reference(unit.of(at_c), name) for at_c, name in limits.references),
            spread=_spread(past, waters, unit, days),
        )
    ]
    if rooms:
        lines = tuple(Line("room air", tuple(_points(past, one, unit, days))) for one in rooms)
        spread = _spread(past, rooms, unit, days)
        parts.append(LinePanel("Room air", unit.value, lines, spread=spread, least_span=2.0, height_px=80.0))
    parts += [OutputStrip(name, tuple(_runs(past, name, days))) for name in output_names(past)]
    if troubles:
        parts.append(TroubleStrip("alarms", Trouble.ALARM, tuple(troubles)))
    return tuple(parts)


def _points(
    past: Past, series: Series, unit: Unit, days: Sequence[float]
) -> Iterator[tuple[float, float | None]]:
    """Yield a line: the means of its spans, or those of the days."""
    if not days:
        yield from points(past.series[series], unit)
        return
    by_day = tuple(_by_day(past, series, days))
    # The mean of some morning hours is no mean of a day; it counts only where there is no better.
    wanted_s = DAY_S / 2.0 if any(lasting_s(found) >= DAY_S / 2.0 for _, found in by_day) else 1.0
    for middle_s, found in by_day:
        yield middle_s, unit.of(mean(found)) if lasting_s(found) >= wanted_s else None


def _spread(past: Past, several: Sequence[Series], unit: Unit, days: Sequence[float]) -> Spread | None:
    """Return each day's lowest and highest over several series; nothing where the lines show all."""
    if not days or not several:
        return None
    found = []
    for of_day in zip(*(_by_day(past, one, days) for one in several), strict=True):
        spans = [span for _, kept in of_day for span in kept]
        low = unit.of(min(span.low for span in spans)) if spans else None
        high = unit.of(max(span.high for span in spans)) if spans else None
        found.append((of_day[0][0], low, high))
    return Spread(tuple(found))


def _by_day(past: Past, series: Series, days: Sequence[float]) -> Iterator[tuple[float, Sequence[Span]]]:
    for (first_s, last_s), found in zip(pairwise(days), between(past.series[series], days), strict=True):
        yield (first_s + last_s) / 2.0, found


def _runs(past: Past, name: str, days: Sequence[float]) -> Iterator[Run]:
    """Yield when an output ran, or for how much of each day."""
    mine = [one for one in past.intervals if one.output == name]
    if not days:
        yield from (Run(one.from_s, one.until_s) for one in mine)
        return
    for (first_s, last_s), on_s in zip(pairwise(days), on_between(mine, days), strict=True):
        if on_s:
            yield Run(first_s, last_s, on_s / (last_s - first_s))


def points(spans: Sequence[Span], unit: Unit) -> Iterator[tuple[float, float | None]]:
    """Yield the middle of each span with its mean; between spans that do not follow each other, a gap."""
    before: Span | None = None
    for span in spans:
        if before is not None and span.from_s - (before.from_s + before.lasts_s) > span.lasts_s / 2.0:
            yield before.from_s + before.lasts_s, None
        yield span.from_s + span.lasts_s / 2.0, unit.of(span.mean)
        before = span
