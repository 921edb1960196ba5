"""The water in words and numbers: the whole stretch, and day by day."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final

from reefguard.lookback.evidence import Evidence, spans_near
from reefguard.lookback.found import Found
from reefguard.lookback.stretch import Stretch, day_of, local
from reefguard.lookback.water import WaterFound, water_found
from reefguard.lookback.words import NOT_KNOWN, day_name, length, number, run_hours, share, when
from reefguard.planning.section import Section, Table
from reefguard.planning.shown import Shown
from reefguard.settings.model import SafeBand, Settings
from reefguard.thermal.stress import WINDOW_DAYS, degree_heating_weeks

_MOST_DAYS: Final = 14


def water_section(found: Found, settings: Settings, shown: Shown) -> Section:
    """Tell how long and how far the water was out of the safe band."""
    water, band, zone = found.water, settings.safe_band, found.seen.zone
    if water.hottest is None and water.known_s <= 0.0:
        return Section("The water", ("It was never known.",))
    rows = [
        _row(f"above {shown.temperature(band.high_c)}", water.above_s, water.above_k_h, water, shown),
        _row(f"below {shown.temperature(band.low_c)}", water.below_s, water.below_k_h, water, shown),
    ]
    said = []
    for name, extreme in (("Hottest", water.hottest), ("Coldest", water.coldest)):
        if extreme is not None:
            by = "" if extreme.probe is None else f", by {extreme.probe}"
            said.append(f"{name}: {shown.temperature(extreme.water_c)}, {when(extreme, zone)}{by}")
    paragraphs = [f"{name}." for name in said]
    unit = shown.unit.value.removeprefix("°")
    paragraphs.append(
        f"Degree hours say how far and how long together: an hour one degree ({unit}) out of the band is "
        "one. The band is the one set today; whole days count by the band of their time."
    )
    return Section(
        "The water", tuple(paragraphs), Table(("", "for", "of what is known", "degree hours"), tuple(rows))
    )


def _row(name: str, out_s: float, out_k_h: float, water: WaterFound, shown: Shown) -> tuple[str, ...]:
    of_known = share(out_s / water.known_s) if water.known_s > 0.0 else NOT_KNOWN
    return (name, run_hours(out_s), of_known, number(shown.unit.step_of(out_k_h)))


def days_section(found: Found, settings: Settings, shown: Shown) -> tuple[Section, ...]:
    """Tell it day by day, where there are several; of many, the hottest."""
    days = list(_days(found.seen, settings.safe_band))
    known = [(day, water) for day, water in days if water.hottest is not None]
    if len(days) < 2 or not known:
        return ()
    title = "Day by day"
    said: tuple[str, ...] = ()
    if len(days) > _MOST_DAYS:
        known = sorted(known, key=lambda one: -_hottest_c(one[1]))[:_MOST_DAYS]
        days = sorted(known, key=lambda one: one[0].from_s)
        title = "The hottest days"
        said = (f"The {len(days)} hottest of them, in order of time; all of them are in the JSON document.",)
    rows = tuple(_day_row(day, water, found.seen, shown) for day, water in days)
    return (Section(title, said, Table(("", "coldest", "hottest", "above", "below", "known"), rows)),)


def _day_row(day: Stretch, water: WaterFound, seen: Evidence, shown: Shown) -> tuple[str, ...]:
    name = day_name(day.from_s, seen.zone)
    if water.hottest is None or water.coldest is None:
        return (name, NOT_KNOWN, "", "", "", share(0.0))
    return (
        name,
        shown.temperature(water.coldest.water_c),
        shown.temperature(water.hottest.water_c),
        length(water.above_s),
        length(water.below_s),
        share(min(1.0, water.known_s / day.lasts_s)),
    )


def _hottest_c(water: WaterFound) -> float:
    return float("-inf") if water.hottest is None else water.hottest.water_c


def _days(seen: Evidence, band: SafeBand) -> Iterator[tuple[Stretch, WaterFound]]:
    """Yield each local day's part of the stretch, and its water."""
    day, last = local(seen.stretch.from_s, seen.zone).date(), local(seen.stretch.until_s, seen.zone).date()
    while day <= last:
        whole = day_of(day, seen.zone)
        part = Stretch(max(whole.from_s, seen.stretch.from_s), min(whole.until_s, seen.stretch.until_s))
        if part.lasts_s > 0.0:
            yield part, water_found(_only(seen, part, day), band)
        day += timedelta(days=1)


def _only(seen: Evidence, part: Stretch, day: date) -> Evidence:
    totals = {day: seen.totals[day]} if day in seen.totals else {}
    series = {
        kind: spans_near(spans, part) for kind, spans in seen.past.series.items() if kind.kind == "water"
    }
    return seen._replace(stretch=part, totals=totals, past=seen.past._replace(series=series))


def stress_section(found: Found, usual_highest_c: float | None, shown: Shown) -> tuple[Section, ...]:
    """Tell the heat stress as satellites count it, where the usual highest is known."""
    if usual_highest_c is None:
        return ()
    means = [one.mean_c for one in found.seen.totals.values() if one.mean_c is not None]
    if not means:
        return (
            Section(
                "Heat stress", ("No whole day's mean is known: degree heating weeks cannot be counted.",)
            ),
        )
    weeks = degree_heating_weeks(means, usual_highest_c)
    counted_days = min(len(means), WINDOW_DAYS)
    said = (
        f"Degree heating weeks (°C): {number(weeks)}, over {counted_days} days, against a usual highest of "
        f"{shown.temperature(usual_highest_c)}. Counted as NOAA Coral Reef Watch does for wild reefs, "
        "where 4 mean that bleaching is likely; no promise for the animals of a tank."
    )
    return (Section("Heat stress", (said,)),)
