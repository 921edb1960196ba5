"""A stretch of time drawn: water and room, what ran, what stood as an alarm, and each day on its own."""

from collections.abc import Sequence
from datetime import date, tzinfo
from itertools import pairwise
from typing import Final

from reefguard.control.chiller import NAME as CHILLER
from reefguard.lookback.found import Found
from reefguard.lookback.stretch import Stretch, day_of, local, midnight_s
from reefguard.lookback.words import day_name, length, when
from reefguard.planning.shown import Shown
from reefguard.records.history import Series, Span
from reefguard.report.line_panel import Band, Line, LinePanel, Reference, Spot
from reefguard.report.scales import DAY_S, TimeAxis
from reefguard.report.strips import OutputStrip, Run, Spell, Trouble, TroubleStrip
from reefguard.report.svg import Drawing
from reefguard.report.time_chart import TimeChart, time_chart
from reefguard.settings.model import Settings

_FEWEST_DAYS: Final = 3
# With more, their names would stand in each other's way.
_MOST_SPELLS: Final = 12
_MOST_ROWS: Final = 6


def course(found: Found, settings: Settings) -> Drawing | None:
    """Draw the course of the stretch; nothing where no span is kept.

    Args:
        found: of the stretch.
        settings: as they are today.
    """
    seen, shown = found.seen, Shown(settings.shown_in)
    lines = _lines(seen.past.series, "water", seen.stretch, shown)
    if not lines:
        return None
    parts: list[LinePanel | OutputStrip | TroubleStrip] = [
        LinePanel(
            "water",
            settings.shown_in.value,
            lines,
            bands=(_band(settings, shown),),
            references=_references(settings, shown),
            spots=_spots(found, shown),
            least_span=2.0,
            height_px=260.0,
        )
    ]
    room = _lines(seen.past.series, "room", seen.stretch, shown)
    if room:
        parts.append(
            LinePanel("air in the room", settings.shown_in.value, room, least_span=3.0, height_px=90.0)
        )
    parts += _strips(found)
    chart = TimeChart(
        name="course",
        title="The water, and what ran",
        description=_description(found, shown),
        axis=_axis(seen.stretch, seen.zone),
        parts=tuple(parts),
    )
    return time_chart(chart)


def day_by_day(found: Found, settings: Settings) -> Drawing | None:
    """Draw each whole day by its totals: hottest and coldest, and the share in which each output ran.

    Args:
        found: of the stretch.
        settings: as they are today.

    Returns:
        The drawing; nothing where there are too few days.
    """
    seen, shown = found.seen, Shown(settings.shown_in)
    days = seen.totals
    if len(days) < _FEWEST_DAYS:
        return None
    highs = _daily([(day, one.high_c) for day, one in days.items()], seen.zone, shown)
    lows = _daily([(day, one.low_c) for day, one in days.items()], seen.zone, shown)
    panel = LinePanel(
        "hottest and coldest of the day",
        settings.shown_in.value,
        (Line("hottest", highs), Line("coldest", lows)),
        bands=(_band(settings, shown),),
        least_span=2.0,
        height_px=150.0,
    )
    strips = []
    for output in found.outputs:
        runs = []
        for day, one in days.items():
            whole = day_of(day, seen.zone)
            if one.guarded_s > 0.0:
                level = min(1.0, one.ran_s.get(output.name, 0.0) / one.guarded_s)
                runs.append(
                    Run(whole.from_s + 0.1 * whole.lasts_s, whole.until_s - 0.1 * whole.lasts_s, level)
                )
        strips.append(OutputStrip(output.name, tuple(runs)))
    chart = TimeChart(
        name="days",
        title="Day by day",
        description=f"{len(days)} days; the table of days says the same in numbers.",
        axis=_axis(seen.stretch, seen.zone),
        parts=(panel, *strips),
    )
    return time_chart(chart)


def _axis(stretch: Stretch, zone: tzinfo) -> TimeAxis:
    origin_s = midnight_s(local(stretch.from_s, zone).date(), zone)

    def label(since_s: float, step_s: float) -> str:
        at = local(origin_s + since_s, zone)
        if step_s >= DAY_S:
            # Where clocks were changed meanwhile, the tick lies an hour off midnight.
            return day_name(origin_s + since_s + 7_200.0, zone).split(" ", 1)[1]
        return day_name(origin_s + since_s, zone) if at.hour == at.minute == 0 else f"{at:%H:%M}"

    return TimeAxis(stretch.from_s, stretch.until_s, origin_s, label)


def _lines(
    series: dict[Series, tuple[Span, ...]], kind: str, stretch: Stretch, shown: Shown
) -> tuple[Line, ...]:
    found = []
    for one, spans in series.items():
        inside = [span for span in spans if stretch.overlap_s(span.from_s, span.from_s + span.lasts_s) > 0.0]
        if one.kind == kind and inside:
            found.append(Line(one.name, _points(inside, shown)))
    return tuple(found)


def _points(spans: Sequence[Span], shown: Shown) -> list[tuple[float, float | None]]:
    """Put each span's mean at its middle, and a gap where the next does not follow at once."""
    points: list[tuple[float, float | None]] = []
    for span, after in pairwise([*spans, None]):
        if span is None:
            continue
        points.append((span.from_s + span.lasts_s / 2.0, shown.number(span.mean)))
        ends_s = span.from_s + span.lasts_s
        if after is not None and after.from_s > ends_s + 1.0:
            points.append((ends_s, None))
    return points


def _daily(
    values: Sequence[tuple[date, float | None]], zone: tzinfo, shown: Shown
) -> list[tuple[float, float | None]]:
    points: list[tuple[float, float | None]] = []
    reached = None
    for day, value_c in values:
        whole = day_of(day, zone)
        if reached is not None and whole.from_s > reached:
            points.append((reached, None))
        points.append(
            ((whole.from_s + whole.until_s) / 2.0, None if value_c is None else shown.number(value_c))
        )
        reached = whole.until_s
    return points


def _band(settings: Settings, shown: Shown) -> Band:
    band = settings.safe_band
    return Band(shown.number(band.low_c), shown.number(band.high_c), "safe band")


def _references(settings: Settings, shown: Shown) -> tuple[Reference, ...]:
    found = []
    if settings.fans is not None:
        found.append(Reference(shown.number(settings.fans.cut.cut_in_c), "fans cut in"))
    if settings.chiller is not None:
        found.append(Reference(shown.number(settings.chiller.cut.cut_in_c), "chiller cuts in"))
    return tuple(found)


def _spots(found: Found, shown: Shown) -> tuple[Spot, ...]:
    spots = []
    coldest = found.water.coldest if found.water.below_s > 0.0 else None
    for name, extreme in (("hottest", found.water.hottest), ("coldest", coldest)):
        # Where only a day is known, there is no moment to put it at.
        if extreme is not None and extreme.probe is not None:
            at_s = extreme.from_s + extreme.lasts_s / 2.0
            value = shown.number(extreme.water_c)
            spots.append(Spot(at_s, value, f"{name} {shown.temperature(extreme.water_c)}"))
    return tuple(spots)


def _strips(found: Found) -> list[OutputStrip | TroubleStrip]:
    strips: list[OutputStrip | TroubleStrip] = []
    for output in found.outputs:
        runs = tuple(
            Run(one.from_s, one.until_s) for one in found.seen.past.intervals if one.output == output.name
        )
        name = "chiller" if output.name == CHILLER else output.name
        strips.append(OutputStrip(name, runs))
    strips += _alarms(found)
    away = tuple(
        Spell(one.from_s, one.until_s, f"away {length(one.until_s - one.from_s)}") for one in found.guard.away
    )
    if away:
        strips.append(TroubleStrip("guard away", Trouble.FAULT, away))
    return strips


def _alarms(found: Found) -> list[TroubleStrip]:
    """Draw a few alarms with their names beside them; of many, a row for each of the most urgent."""
    until_s = found.seen.stretch.until_s
    spells: dict[str, list[Spell]] = {one.name: [] for one in found.alarms}
    crowded = len(found.episodes) > _MOST_SPELLS
    for one in found.episodes:
        name = "" if crowded else one.name
        ends_s = until_s if one.returned_s is None else one.returned_s
        spells[one.name].append(Spell(one.raised_s, ends_s, name))
    if crowded:
        rows = list(spells.items())[:_MOST_ROWS]
        return [TroubleStrip(name, Trouble.ALARM, tuple(own)) for name, own in rows]
    together = tuple(spell for own in spells.values() for spell in own)
    return [TroubleStrip("alarms", Trouble.ALARM, together)] if together else []


def _description(found: Found, shown: Shown) -> str:
    said = []
    for name, extreme in (("hottest", found.water.hottest), ("coldest", found.water.coldest)):
        if extreme is not None:
            said.append(f"{name} {shown.temperature(extreme.water_c)}, {when(extreme, found.seen.zone)}")
    said += [f"{output.name} ran {length(output.ran_s)}" for output in found.outputs]
    return f"{'; '.join(said)}."
