"""What the records hold, as tables for other programs.  Pure: rows in, text out.

CSV by RFC 4180 in UTF-8: units in the names of columns, times by RFC 3339 with
their offset and as Unix milliseconds, nothing for what is not known.  A text
that a spreadsheet would take for a formula gets an apostrophe before it (OWASP,
"CSV Injection").  A package is a Frictionless Data Package (specs.frictionlessdata.io).
"""

import csv
import io
import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, tzinfo
from typing import Any, Final, NamedTuple

from reefguard.records.events import Recorded
from reefguard.records.history import DayTotals, Past

Cell = str | float | bool | None


class Table(NamedTuple):
    """A table.

    Attributes:
        name: of its file, without the ending.
        says: what is in it, a sentence.
        columns: name, type in the words of Table Schema, and what it is.
        rows: in order.
    """

    name: str
    says: str
    columns: tuple[tuple[str, str, str], ...]
    rows: Iterable[Sequence[Cell]]


_TIME: Final = (
    ("time", "datetime", "the beginning, local time with its offset"),
    ("time_unix_ms", "integer", "the same, milliseconds since 1970-01-01T00:00:00Z"),
)
_FORMULAS: Final = ("=", "+", "-", "@", "\t", "\r")


def temperatures(past: Past, zone: tzinfo) -> Table:
    """Return readings in degrees Celsius, of probes in the water and of the room's air."""
    columns = (
        *_TIME,
        ("span_s", "integer", "how long the row lasts, seconds"),
        ("kind", "string", "water or room"),
        ("series", "string", "the probe's name"),
        ("mean_celsius", "number", "mean"),
        ("low_celsius", "number", "lowest"),
        ("high_celsius", "number", "highest"),
        ("good_share", "number", "share of samples that could be used, 0 to 1"),
    )
    rows = _spans(past, zone, ("water", "room"), parts=1.0, digits=3)
    return Table("temperatures", "Temperatures; where nothing was measured there is no row.", columns, rows)


def humidity(past: Past, zone: tzinfo) -> Table:
    """Return the room's relative humidity."""
    columns = (
        *_TIME,
        ("span_s", "integer", "how long the row lasts, seconds"),
        ("kind", "string", "humidity"),
        ("series", "string", "room"),
        ("mean_percent", "number", "mean relative humidity"),
        ("low_percent", "number", "lowest"),
        ("high_percent", "number", "highest"),
        ("good_share", "number", "share of samples that could be used, 0 to 1"),
    )
    rows = _spans(past, zone, ("humidity",), parts=100.0, digits=2)
    return Table("humidity", "Relative humidity of the room's air.", columns, rows)


def outputs(past: Past, zone: tzinfo) -> Table:
    """Return when each output ran."""
    columns = (
        *_TIME,
        ("until", "datetime", "its end, local time with its offset"),
        ("until_unix_ms", "integer", "the same, milliseconds since 1970-01-01T00:00:00Z"),
        ("output", "string", "which"),
        ("running", "boolean", "whether it went on at that moment"),
        ("start", "boolean", "whether it started when the row begins"),
    )
    rows = (
        (*_at(one.from_s, zone), *_at(one.until_s, zone), one.output, one.running, one.start)
        for one in past.intervals
    )
    return Table("outputs", "When each output was on.", columns, rows)


def days(totals: Iterable[DayTotals]) -> Table:
    """Return the days' totals."""
    columns = (
        ("date", "date", "local day"),
        ("low_celsius", "number", "of the coldest probe"),
        ("high_celsius", "number", "of the warmest probe"),
        ("mean_celsius", "number", "of the warmest probe"),
        ("known_s", "number", "how long the water was known"),
        ("guarded_s", "number", "how long the guard was at work"),
        ("above_s", "number", "how long the water was above the safe band"),
        ("below_s", "number", "how long it was below"),
        ("above_kelvin_hours", "number", "above the safe band"),
        ("below_kelvin_hours", "number", "below it"),
    )
    rows = (
        (
            *(day.date, day.low_c, day.high_c, _rounded(day.mean_c, 3)),
            *(_rounded(value, 1) for value in (day.known_s, day.guarded_s, day.above_s, day.below_s)),
            *(_rounded(value, 4) for value in (day.above_k_h, day.below_k_h)),
        )
        for day in totals
    )
    return Table("days", "Totals of local days.", columns, rows)


def day_outputs(totals: Iterable[DayTotals]) -> Table:
    """Return how long and how often each output ran on each day."""
    columns = (
        ("date", "date", "local day"),
        ("output", "string", "which"),
        ("ran_s", "number", "how long it ran, seconds"),
        ("starts", "integer", "how often it started"),
    )
    rows = (
        (day.date, output, _rounded(ran_s, 1), day.starts.get(output, 0))
        for day in totals
        for output, ran_s in sorted(day.ran_s.items())
    )
    return Table("day_outputs", "How long and how often outputs ran on local days.", columns, rows)


def events(recorded: Iterable[Recorded]) -> Table:
    """Return what happened."""
    columns = (
        ("number", "integer", "a later event has a higher one"),
        ("time", "datetime", "local time with its offset, as the clock stood"),
        ("time_unix_ms", "integer", "the same, milliseconds since 1970-01-01T00:00:00Z"),
        ("clock_trusted", "boolean", "whether the clock was known to be right"),
        ("kind", "string", "alarm, mode, output, command or guard"),
        ("subject", "string", "the alarm, the output, the command"),
        ("change", "string", "what became of it"),
        ("priority", "integer", "of alarms, 1 to 4, the higher the sooner"),
        ("what", "string", "a sentence"),
        ("who", "string", "the person behind it"),
        ("details", "string", "numbers that belong to it, as JSON"),
    )
    rows = (
        (
            *(seq, event.at_wall, _wall_ms(event.at_wall), event.clock_trusted),
            *(event.kind, event.subject, event.change, event.priority, event.what, event.who),
            None if event.details is None else json.dumps(event.details, ensure_ascii=False),
        )
        for seq, event in recorded
    )
    return Table("events", "What happened, in order.", columns, rows)


def as_csv(table: Table) -> str:
    """Return a table as CSV."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([name for name, _, _ in table.columns])
    writer.writerows([_cell(value) for value in row] for row in table.rows)
    return text.getvalue()


def data_package(tables: Iterable[Table], tank: str, made: str) -> str:
    """Return the description that goes with tables in one archive.

    Args:
        tables: what is in it.
        tank: whose they are.
        made: when, RFC 3339.
    """
    resources: list[dict[str, Any]] = [
        {
            "name": table.name.replace("_", "-"),
            "path": f"{table.name}.csv",
            "format": "csv",
            "mediatype": "text/csv",
            "encoding": "utf-8",
            "description": table.says,
            "schema": {
                "fields": [
                    {"name": name, "type": kind, "description": says} for name, kind, says in table.columns
                ]
            },
        }
        for table in tables
    ]
    package = {
        "name": "reefguard-records",
        "title": f"Records of {tank}",
        "created": made,
        "profile": "tabular-data-package",
        "resources": resources,
    }
    return json.dumps(package, indent=1, ensure_ascii=False) + "\n"


def _spans(
    past: Past, zone: tzinfo, kinds: tuple[str, ...], *, parts: float, digits: int
) -> Iterator[Sequence[Cell]]:
    for series, spans in sorted(past.series.items()):
        if series.kind in kinds:
            for span in spans:
                values = (_rounded(value * parts, digits) for value in (span.mean, span.low, span.high))
                yield (
                    *(*_at(span.from_s, zone), int(span.lasts_s), series.kind, series.name),
                    *(*values, _rounded(span.good, 3)),
                )


def _at(at_s: float, zone: tzinfo) -> tuple[str, int]:
    return datetime.fromtimestamp(at_s, zone).isoformat(timespec="seconds"), round(at_s * 1_000.0)


def _wall_ms(at_wall: str) -> int | None:
    try:
        return round(datetime.fromisoformat(at_wall).timestamp() * 1_000.0)
    except (ValueError, OverflowError):
        return None


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _cell(value: Cell) -> str | float:
    match value:
        case None:
            return ""
        case bool():
            return "true" if value else "false"
        case str() if value.startswith(_FORMULAS):
            return f"'{value}"
        case _:
            return value
