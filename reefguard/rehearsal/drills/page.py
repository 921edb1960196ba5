"""The rehearsal as a page that stands alone: the table first, then every run drawn."""

import re
from collections.abc import Iterator, Sequence

from reefguard.control.words import span
from reefguard.rehearsal.drills.judgement import Outcome
from reefguard.rehearsal.drills.record import SETTLES_S, Interval, Record
from reefguard.rehearsal.drills.runs import Result
from reefguard.rehearsal.drills.table import degrees, summary, told_in_words
from reefguard.rehearsal.drills.timeline import Episode
from reefguard.report.line_panel import Band, Line, LinePanel, Reference, Spot
from reefguard.report.page import Block, Figure, Listing, Paragraph, Section, Table, page
from reefguard.report.scales import TimeAxis
from reefguard.report.strips import OutputStrip, Run, Spell, Trouble, TroubleStrip
from reefguard.report.svg import Drawing
from reefguard.report.time_chart import TimeChart, time_chart
from reefguard.settings.model import Settings, Unit

_FOOT = (
    "Rehearsed, not measured: the control and the cutoff are the real ones, the tank is a model that "
    "deviates from the plan on purpose.  A drill that passes proves no more than that drill."
)
# A mode that a healthy guard is in needs no mark.
_WELL = "automatic"


def rehearsal_page(results: Sequence[Result], unit: Unit) -> str:
    """Return the page.

    Args:
        results: of all runs, in the order of the table.
        unit: that temperatures are shown in.
    """
    failed = [one for one in results if one.judgement.outcome is Outcome.FAILED]
    others = [one for one in results if one.judgement.outcome is not Outcome.FAILED]
    sections = [
        Section("All drills", (_overview(results, unit),)),
        *(_section(result, unit, place) for place, result in enumerate([*failed, *others])),
    ]
    return page("Rehearsal", sections, lead=f"{summary(results)}.", foot=_FOOT)


def _overview(results: Sequence[Result], unit: Unit) -> Table:
    head = ("drill", "result", "hottest", "coldest", "outside the band", "starts", "shortest rest", "energy")
    return Table("What became of each run", head, tuple(_row(result, unit) for result in results))


def _row(result: Result, unit: Unit) -> tuple[str, ...]:
    record = result.record
    outcome = result.judgement.outcome.value
    if record is None:
        return (result.name, outcome, "", "", "", "", "", "")
    rest_s = record.shortest_rest_s
    return (
        result.name,
        outcome,
        degrees(record.hottest_c, unit),
        degrees(record.coldest_c, unit),
        f"{record.out_of_band_s / 3_600.0:.1f} h",
        str(len(record.starts_s)),
        "" if rest_s is None else f"{rest_s / 60.0:.0f} min",
        f"{record.energy_kwh:.1f} kWh",
    )


def _section(result: Result, unit: Unit, place: int) -> Section:
    blocks: list[Block] = [Paragraph(f"{result.drill.says} {_verdict(result)}")]
    if result.judgement.broken:
        blocks.append(Listing(result.judgement.broken))
    if result.record is not None and result.settings is not None:
        told = told_in_words(result.record)
        caption = f"Told: {told}." if told else "Nothing was told."
        blocks.append(Figure(caption, _drawing(result, result.record, result.settings, unit, place)))
        blocks.append(Paragraph(f"The tank: {result.tank}."))
        blocks.extend(_stress(result.record, result.settings))
    return Section(f"{result.name}: {result.judgement.outcome.value}", tuple(blocks))


def _stress(record: Record, settings: Settings) -> Iterator[Paragraph]:
    weeks = record.heating_weeks(settings.safe_band.high_c)
    if weeks > 0.0:
        yield Paragraph(
            "Heat stress as satellites count it for wild reefs, against the top of the safe band: "
            f"{weeks:.1f} degree heating weeks (4: bleaching is likely). It says nothing certain about a "
            "tank's animals."
        )


def _verdict(result: Result) -> str:
    match result.judgement.outcome:
        case Outcome.PASSED:
            return "It passed." if result.record is not None else f"It passed: {result.remark}."
        case Outcome.FAILED:
            return "It failed:"
        case Outcome.DOES_NOT_APPLY:
            return f"It does not apply: {result.remark}."


def _drawing(result: Result, record: Record, settings: Settings, unit: Unit, place: int) -> Drawing:
    begins_s = result.drill.begins_s
    band = settings.safe_band
    chart = TimeChart(
        name=f"run-{place}-{re.sub('[^a-z0-9]+', '-', result.name.lower()).strip('-')}",
        title=f"Water and outputs: {result.name}",
        description=(
            f"The water lies between {degrees(record.coldest_c, unit)} and "
            f"{degrees(record.hottest_c, unit)}; the safe band from "
            f"{degrees(band.low_c, unit)} to {degrees(band.high_c, unit)}."
        ),
        # The clock on the axis is the drill's own: it begins at its time of day.
        axis=TimeAxis(0.0, record.lasted_s, origin_s=-begins_s),
        parts=(
            _water(record, settings, unit),
            _room(record, unit),
            *(_output(name, record) for name in _outputs(settings)),
            *_troubles(result, record),
        ),
    )
    return time_chart(chart)


def _water(record: Record, settings: Settings, unit: Unit) -> LinePanel:
    band = settings.safe_band
    references = []
    if settings.fans is not None:
        references.append(Reference(unit.of(settings.fans.cut.cut_in_c), "fans start"))
    if settings.chiller is not None:
        references.append(Reference(unit.of(settings.chiller.cut.cut_in_c), "chiller starts"))
    return LinePanel(
        "water",
        unit.value,
        (Line("water", [(at_s, unit.of(water_c)) for at_s, water_c, _ in record.trace]),),
        bands=(Band(unit.of(band.low_c), unit.of(band.high_c), "safe band"),),
        references=tuple(references),
        spots=(Spot(record.hottest_s, unit.of(record.hottest_c), degrees(record.hottest_c, unit)),),
        height_px=190.0,
    )


def _room(record: Record, unit: Unit) -> LinePanel:
    points = [(at_s, unit.of(room_c)) for at_s, _, room_c in record.trace]
    return LinePanel("room air", unit.value, (Line("room air", points),), height_px=70.0)


def _outputs(settings: Settings) -> tuple[str, ...]:
    fans = tuple(fan.name for fan in settings.fans.fans) if settings.fans is not None else ()
    return (*fans, "chiller") if settings.chiller is not None else fans


def _output(name: str, record: Record) -> OutputStrip:
    return OutputStrip(name, tuple(Run(spell.from_s, spell.until_s) for spell in record.runs.get(name, ())))


def _troubles(result: Result, record: Record) -> Iterator[TroubleStrip]:
    if result.episodes:
        yield TroubleStrip("faults", Trouble.FAULT, tuple(map(_fault, result.episodes)))
    modes = {name: spells for name, spells in record.modes.items() if name != _WELL}
    for name, trouble, by_name in (
        ("guard", Trouble.FAULT, modes),
        ("cutoff", Trouble.FAULT, record.cutoff_held),
        ("told", Trouble.ALARM, record.told),
    ):
        spells = [
            Spell(spell.from_s, spell.until_s, what)
            for what, all_of in by_name.items()
            for spell in _late(all_of)
        ]
        if spells:
            yield TroubleStrip(name, trouble, tuple(spells))


def _late(spells: tuple[Interval, ...], most: int = 40) -> tuple[Interval, ...]:
    """Return those that came after the guard had settled; of very many, as many as a picture can show."""
    return tuple(spell for spell in spells if spell.until_s > SETTLES_S)[:most]


def _fault(episode: Episode) -> Spell:
    event = episode.event
    which = f" {event.which}" if event.which else ""
    what = f"{event.part.value}{which} {event.turn.value}"
    if episode.from_s < episode.until_s:
        what = f"{what}, {span(episode.until_s - episode.from_s)}"
    return Spell(episode.from_s, episode.until_s, what)
