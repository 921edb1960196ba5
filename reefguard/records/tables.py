"""What was recorded, as tables for other programs: CSV by RFC 4180, in UTF-8.

Units stand in the columns' names.  A time stands there twice: by RFC 3339
with its offset, for people, and as milliseconds of Unix time.  What is not
known is an empty cell.
"""

import json
from collections.abc import Iterable, Sequence
from datetime import datetime, tzinfo
from typing import Final, Literal, NamedTuple, TypeAlias

from reefguard.records.events import Recorded
from reefguard.records.history import DayTotals, Past

Cell: TypeAlias = str | int | float | bool | None

_TIME_SAYS: Final = "RFC 3339, local time with its offset from UTC"
_UNIX_SAYS: Final = "The same, in milliseconds of Unix time"

# A spreadsheet takes a cell that begins so for a formula, also behind a quote (OWASP, "CSV Injection").
_FORMULA_BEGINS: Final = ("=", "+", "-", "@", "\t", "\r", "\n")


class Column(NamedTuple):
    """A column.

    Attributes:
        name: with its unit.
        kind: a type of Table Schema (Frictionless Data).
        says: what it holds.
        unit: as people write it, if it has one.
    """

    name: str
    kind: Literal["string", "integer", "number", "boolean", "datetime", "date"]
    says: str
    unit: str | None = None


class Table(NamedTuple):
    """A table.

    Attributes:
        name: of its file, without the ending.
        says: what it holds.
        columns: from left to right.
        key: the columns that tell its rows apart.
        rows: as long as `columns` each.
    """

    name: str
    says: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def readings(past: Past, zone: tzinfo) -> Table:
    """Return a row for each span of each series, in order of time."""
    columns = (
        Column("time", "datetime", f"When the span begins. {_TIME_SAYS}"),
        Column("time_unix_ms", "integer", _UNIX_SAYS, "ms"),
        Column("lasts_seconds", "integer", "How long the span is", "s"),
        Column("series", "string", "The probe's name, or room"),
        Column("kind", "string", "water, room (its air) or humidity (of the room's air)"),
        Column("mean_celsius", "number", "Mean temperature over the span", "°C"),
        Column("lowest_celsius", "number", "Lowest temperature in it", "°C"),
        Column("highest_celsius", "number", "Highest temperature in it", "°C"),
        Column("mean_humidity_percent", "number", "Mean relative humidity over the span", "%"),
        Column("lowest_humidity_percent", "number", "Lowest relative humidity in it", "%"),
        Column("highest_humidity_percent", "number", "Highest relative humidity in it", "%"),
        Column("good_share", "number", "Share of the span with a usable reading, 0 to 1"),
    )
    rows: list[tuple[Cell, ...]] = []
    for series, spans in past.series.items():
        for span in spans:
            values: tuple[Cell, ...]
            if series.kind == "humidity":
                shares = (span.mean, span.low, span.high)
                values = (None, None, None, *(round(share * 100, 2) for share in shares))
            else:
                values = (round(span.mean, 3), round(span.low, 3), round(span.high, 3), None, None, None)
            rows.append(
                (
                    *_time(span.from_s, zone),
                    int(span.lasts_s),
                    series.name,
                    series.kind,
                    *values,
                    round(span.good, 3),
                )
            )
    rows.sort(key=lambda row: str(row[1]).zfill(16))
    says = "Readings as means with their extremes; where nothing could be used, there is no row"
    return Table("readings", says, columns, ("time_unix_ms", "series", "kind"), tuple(rows))


def outputs(past: Past, zone: tzinfo) -> Table:
    """Return a row for each time an output was on."""
    columns = (
        Column("output", "string", "Its name"),
        Column("from", "datetime", f"Since when it was on. {_TIME_SAYS}"),
        Column("from_unix_ms", "integer", _UNIX_SAYS, "ms"),
        Column("until", "datetime", f"Until when. {_TIME_SAYS}"),
        Column("until_unix_ms", "integer", _UNIX_SAYS, "ms"),
        Column("lasted_seconds", "number", "How long", "s"),
        Column("start", "boolean", "Whether it was switched on there, not only looked at from there on"),
        Column("still_on", "boolean", "Whether it was still on when this was recorded last"),
    )
    rows = tuple(
        (
            one.output,
            *_time(one.from_s, zone),
            *_time(one.until_s, zone),
            round(one.until_s - one.from_s, 3),
            one.start,
            one.running,
        )
        for one in past.intervals
    )
    says = "When fans and chiller were commanded on"
    return Table("outputs", says, columns, ("output", "from_unix_ms"), rows)


def events(recorded: Iterable[Recorded]) -> Table:
    """Return a row for each event."""
    columns = (
        Column("number", "integer", "A later event has a higher one"),
        Column("time", "datetime", f"When it happened. {_TIME_SAYS}"),
        Column("time_unix_ms", "integer", _UNIX_SAYS, "ms"),
        Column("time_known", "boolean", "Whether the clock was known to be right"),
        Column("kind", "string", "alarm, mode, output, command or guard"),
        Column("subject", "string", "What it is about"),
        Column("change", "string", "What became of it"),
        Column("priority", "integer", "Of alarms, 1 to 4, the higher the sooner"),
        Column("what", "string", "In a sentence"),
        Column("who", "string", "The user behind it"),
        Column("details", "string", "Numbers that belong to it, as JSON"),
    )
    rows = tuple(
        (
            seq,
            event.at_wall,
            _unix_ms(datetime.fromisoformat(event.at_wall).timestamp()),
            event.clock_trusted,
            event.kind,
            event.subject,
            event.change,
            event.priority,
            event.what,
            event.who,
            None if event.details is None else json.dumps(event.details, ensure_ascii=False),
        )
        for seq, event in recorded
    )
    return Table("events", "What happened, and who did it", columns, ("number",), rows)


def days(totals: Sequence[DayTotals]) -> Table:
    """Return a row for each local day."""
    names = tuple(sorted({output for day in totals for output in day.ran_s}))
    columns = (
        Column("date", "date", "The local day"),
        Column("lowest_celsius", "number", "Of the coldest probe", "°C"),
        Column("highest_celsius", "number", "Of the warmest probe", "°C"),
        Column("mean_celsius", "number", "Of the warmest probe", "°C"),
        Column("known_seconds", "number", "How long the water was known", "s"),
        Column("guarded_seconds", "number", "How long the guard was at work", "s"),
        Column("above_band_seconds", "number", "How long the warmest probe was above the safe band", "s"),
        Column("below_band_seconds", "number", "How long the coldest probe was below it", "s"),
        Column("above_band_kelvin_hours", "number", "Kelvin hours above the safe band", "K h"),
        Column("below_band_kelvin_hours", "number", "Kelvin hours below it", "K h"),
        *(Column(f"{name}_ran_seconds", "number", f"How long {name} ran", "s") for name in names),
        *(Column(f"{name}_starts", "integer", f"How often {name} started") for name in names),
    )
    rows = tuple(
        (
            day.date,
            day.low_c,
            day.high_c,
            None if day.mean_c is None else round(day.mean_c, 3),
            day.known_s,
            day.guarded_s,
            day.above_s,
            day.below_s,
            round(day.above_k_h, 4),
            round(day.below_k_h, 4),
            *(day.ran_s.get(name, 0.0) for name in names),
            *(day.starts.get(name, 0) for name in names),
        )
        for day in totals
    )
    return Table("days", "Each local day in totals", columns, ("date",), rows)


def csv(table: Table) -> bytes:
    """Return a table as CSV with a header."""
    lines = [",".join(_text_cell(column.name) for column in table.columns)]
    lines += [",".join([_cell(value) for value in row]) for row in table.rows]
    return ("\r\n".join(lines) + "\r\n").encode("utf-8", "backslashreplace")


def _cell(value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return _text_cell(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    return repr(value)


def _text_cell(text: str) -> str:
    """Return a text as a cell: no spreadsheet takes it for a formula, none of it is lost.

    >>> _text_cell('=1+1'), _text_cell('fan "left", old')
    ("'=1+1", '"fan ""left"", old"')
    """
    if text.lstrip(" ").startswith(_FORMULA_BEGINS):
        text = f"'{text}"
    if any(mark in text for mark in ',"\r\n'):
        return '"' + text.replace('"', '""') + '"'
    return text


def _time(at_s: float, zone: tzinfo) -> tuple[str, int]:
    local = datetime.fromtimestamp(at_s, zone)
    whole = "seconds" if at_s == int(at_s) else "milliseconds"
    return local.isoformat(timespec=whole), _unix_ms(at_s)


def _unix_ms(at_s: float) -> int:
    return round(at_s * 1_000)
