"""From the history to values in words: a table for who cannot see a chart, and what a finger points at.

Pure.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from reefguard.control.words import span as length
from reefguard.link.page.pieces import between, mean, of_kind, on_between, output_names
from reefguard.link.page.spans import Reach
from reefguard.records.history import Past, Span
from reefguard.report.calendar import Step, clock_name, day_name, moments
from reefguard.report.scales import DAY_S
from reefguard.settings.model import Unit

_NOTHING = "\N{EN DASH}"


@dataclass(frozen=True, slots=True)
class ValueTable:
    """A table: the first cell of each row names it."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Pointed:
    """What can be pointed at: values at equal steps.

    Attributes:
        from_s: the first step's beginning, Unix seconds.
        step_s: from one to the next.
        offsets: the clock's offsets from UTC: the place of the first step, a colon, minutes.
        series: name, unit and hundredths of the unit, each as its difference from the one before;
            an empty one is a gap.
        outputs: name and per cent of the step it was on.
    """

    from_s: float
    step_s: float
    offsets: str
    series: tuple[tuple[str, str, str], ...]
    outputs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Ran:
    """How long and how often an output ran."""

    output: str
    hours: str
    share: str
    starts: str


def runs(past: Past) -> tuple[Ran, ...]:
    """Add up what each output ran; intervals are cut to the stretch already."""
    lasts_s = past.until_s - past.from_s
    found = []
    for name in output_names(past):
        mine = [one for one in past.intervals if one.output == name]
        on_s = sum(one.until_s - one.from_s for one in mine)
        starts = sum(one.start and one.from_s > past.from_s for one in mine)
        found.append(Ran(name, _hours(on_s), f"{on_s / lasts_s:.0%}", f"{starts:,}"))
    return tuple(found)


def _hours(on_s: float) -> str:
    hours = on_s / 3_600.0
    return f"{hours:,.0f} h" if hours >= 100.0 else f"{hours:.1f} h"


def value_table(past: Past, reach: Reach, unit: Unit, zone: tzinfo) -> ValueTable:
    """Return lowest and highest of each probe, and how long each output was on, row by row; newest first."""
    edges = _edges(past, reach.row, zone)
    waters, rooms, outputs = of_kind(past, "water"), of_kind(past, "room"), output_names(past)
    columns = [[_extremes(found, unit) for found in between(past.series[one], edges)] for one in waters]
    columns += [[_extremes(found, unit) for found in between(past.series[one], edges)] for one in rooms]
    columns += [
        [_on(on_s) for on_s in on_between([one for one in past.intervals if one.output == name], edges)]
        for name in outputs
    ]
    names = [_row_name(at_s, reach.row, zone) for at_s in edges[:-1]]
    unit_of = f" in {unit.value}"
    head = (
        "from",
        *(f"{one.name}{unit_of}" for one in waters),
        *(f"room air{unit_of}" for _ in rooms),
        *(f"{name} on for" for name in outputs),
    )
    rows = tuple(zip(names, *columns, strict=True))
    filled = tuple(row for row in rows if any(cell != _NOTHING for cell in row[1:]))
    return ValueTable(head, filled[::-1])


def pointed(past: Past, reach: Reach, unit: Unit, zone: tzinfo) -> Pointed:
    """Return what can be pointed at."""
    step_s = reach.pointed_s
    count = max(1, round((past.until_s - past.from_s) / step_s))
    edges = [past.from_s + index * step_s for index in range(count + 1)]
    series = []
    for one in (*of_kind(past, "water"), *of_kind(past, "room")):
        values = _differences(_mean(found, unit) for found in between(past.series[one], edges))
        series.append((one.name if one.kind == "water" else "room air", unit.value, values))
    outputs = []
    for name in output_names(past):
        on = on_between([one for one in past.intervals if one.output == name], edges)
        outputs.append((name, _runs_of(round(100.0 * on_s / step_s) for on_s in on)))
    return Pointed(past.from_s, step_s, _offsets(edges, zone), tuple(series), tuple(outputs))


def _edges(past: Past, row: Step, zone: tzinfo) -> list[float]:
    inner = [
        at_s for at_s in moments(past.from_s, past.until_s, row, zone) if past.from_s < at_s < past.until_s
    ]
    return [past.from_s, *inner, past.until_s]


def _row_name(at_s: float, row: Step, zone: tzinfo) -> str:
    return day_name(at_s, zone) if row.value >= DAY_S else clock_name(at_s, zone)


def _extremes(spans: Sequence[Span], unit: Unit) -> str:
    if not spans:
        return _NOTHING
    low, high = unit.of(min(span.low for span in spans)), unit.of(max(span.high for span in spans))
    shown = f"{low:.1f}", f"{high:.1f}"
    return shown[0] if shown[0] == shown[1] else " to ".join(shown)


def _mean(spans: Sequence[Span], unit: Unit) -> int | None:
    return round(100.0 * unit.of(mean(spans))) if spans else None


def _on(on_s: float) -> str:
    return length(60.0 * round(on_s / 60.0)) if on_s >= 30.0 else ("under 1 min" if on_s else _NOTHING)


def _differences(values: Iterator[int | None]) -> str:
    before, written = 0, []
    for value in values:
        written.append("" if value is None else str(value - before))
        before = before if value is None else value
    return ",".join(written)


def _runs_of(values: Iterator[int]) -> str:
    """Write numbers, equal ones in a row as one with their count.

    >>> _runs_of(iter([0, 0, 0, 40, 100, 100]))
    '0x3,40,100x2'
    """
    written: list[list[int]] = []
    for value in values:
        if written and written[-1][0] == value:
            written[-1][1] += 1
        else:
            written.append([value, 1])
    return ",".join(f"{value}x{count}" if count > 1 else f"{value}" for value, count in written)


def _offsets(edges: Sequence[float], zone: tzinfo) -> str:
    """Write where the clock's offset from UTC changes: the step, a colon, minutes."""
    written, before = [], None
    for place, at_s in enumerate(edges):
        minutes = round(_offset_s(at_s, zone) / 60.0)
        if minutes != before:
            written.append(f"{place}:{minutes}")
            before = minutes
    return ",".join(written)


def _offset_s(at_s: float, zone: tzinfo) -> float:
    return (datetime.fromtimestamp(at_s, zone).utcoffset() or timedelta()).total_seconds()
