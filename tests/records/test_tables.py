"""The tables for other programs: read back by Python's own CSV reader, and by the standards they name."""

import csv
import hashlib
import io
import json
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from ticks import DISPLAY, HUMIDITY, NOON_S

from reefguard.records import tables
from reefguard.records.data_package import packed
from reefguard.records.events import Event, Recorded
from reefguard.records.history import DayTotals, Interval, Past, Span
from reefguard.records.tables import Column, Table

VIENNA = ZoneInfo("Europe/Vienna")

PAST = Past(
    NOON_S,
    NOON_S + 3_600,
    60,
    {
        DISPLAY: (
            Span(NOON_S, 60, 26.0617, 26.0, 26.125, 0.75),
            Span(NOON_S + 60, 60, -0.5, -0.5625, 0.0, 1.0),
        ),
        HUMIDITY: (Span(NOON_S, 60, 0.4567, 0.45, 0.46, 1.0),),
    },
    (Interval("fan1", NOON_S, NOON_S + 61.25, running=True, start=True),),
)

EVENT = Event(
    boot_id="b",
    at_boot_s=1.0,
    at_wall="2031-07-14T14:00:00+02:00",
    clock_trusted=False,
    kind="alarm",
    subject="water high",
    change="raised",
    what='=HYPERLINK("x"), for "display"',
    priority=3,
    who=None,
    details={"highest_c": 28.4},
)

RAN_S = {"fan1": 8.0, "chiller": 2.5}
DAYS = (
    DayTotals("2031-07-14", 25.1, 27.9, 26.12345, 86_000.0, 86_400.0, 60.0, 0.0, 0.00123456, 0.0, {}, {}),
    DayTotals(
        "2031-07-15",
        None,
        None,
        None,
        0.0,
        9.0,
        0.0,
        0.0,
        0.0,
        0.0,
        {"fan1": 8.0, "chiller": 2.5},
        {"fan1": 1},
    ),
)


def read(table: Table) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(tables.csv(table).decode("utf-8"), newline=""), strict=True))


def test_readings_in_order_of_time_with_units_offsets_and_empty_cells() -> None:
    first, second, third = read(tables.readings(PAST, VIENNA))
    assert first == {
        "time": "2031-07-14T14:00:00+02:00",
        "time_unix_ms": str(int(NOON_S) * 1_000),
        "lasts_seconds": "60",
        "series": "display",
        "kind": "water",
        "mean_celsius": "26.062",
        "lowest_celsius": "26.0",
        "highest_celsius": "26.125",
        "mean_humidity_percent": "",
        "lowest_humidity_percent": "",
        "highest_humidity_percent": "",
        "good_share": "0.75",
    }
    assert (second["kind"], second["mean_celsius"], second["mean_humidity_percent"]) == (
        "humidity",
        "",
        "45.67",
    )
    # A negative number is a number.
    assert (third["time"], third["mean_celsius"]) == ("2031-07-14T14:01:00+02:00", "-0.5")


def test_the_hour_that_comes_twice_is_told_apart() -> None:
    """The end of summer time, 2031-10-26 at 01:00 UTC (Directive 2000/84/EC)."""
    at_s = datetime(2031, 10, 26, 0, 30, tzinfo=UTC).timestamp()
    spans = (Span(at_s, 3_600, 26.0, 26.0, 26.0, 1.0), Span(at_s + 3_600, 3_600, 26.0, 26.0, 26.0, 1.0))
    rows = read(tables.readings(PAST._replace(series={DISPLAY: spans}), VIENNA))
    assert [row["time"] for row in rows] == ["2031-10-26T02:30:00+02:00", "2031-10-26T02:30:00+01:00"]


def test_outputs() -> None:
    (row,) = read(tables.outputs(PAST, UTC))
    assert row == {
        "output": "fan1",
        "from": "2031-07-14T12:00:00+00:00",
        "from_unix_ms": str(int(NOON_S) * 1_000),
        "until": "2031-07-14T12:01:01.250+00:00",
        "until_unix_ms": str(int(NOON_S) * 1_000 + 61_250),
        "lasted_seconds": "61.25",
        "start": "true",
        "still_on": "true",
    }


def test_events_and_a_text_that_would_be_a_formula() -> None:
    (row,) = read(tables.events([Recorded(7, EVENT)]))
    assert row == {
        "number": "7",
        "time": "2031-07-14T14:00:00+02:00",
        "time_unix_ms": str(int(NOON_S) * 1_000),
        "time_known": "false",
        "kind": "alarm",
        "subject": "water high",
        "change": "raised",
        "priority": "3",
        "what": '\'=HYPERLINK("x"), for "display"',
        "who": "",
        "details": '{"highest_c": 28.4}',
    }


def test_days_with_a_column_for_each_output() -> None:
    first, second = read(tables.days(DAYS))
    assert (first["date"], first["mean_celsius"], first["above_band_kelvin_hours"]) == (
        "2031-07-14",
        "26.123",
        "0.0012",
    )
    assert (second["lowest_celsius"], second["chiller_ran_seconds"], second["fan1_starts"]) == (
        "",
        "2.5",
        "1",
    )
    assert (first["chiller_ran_seconds"], second["chiller_starts"]) == ("0.0", "0")


def one_cell(text: str) -> Table:
    return Table("t", "", (Column("text", "string", ""), Column("n", "integer", "")), ("n",), ((text, 1),))


@given(st.text(max_size=30))
@example(" =1+1")
@example("\t=1+1")
@example("-2 °C")
def test_any_text_comes_back_and_none_begins_as_a_formula(text: str) -> None:
    """RFC 4180 for the quoting; OWASP's "CSV Injection" for what a formula begins with."""
    if any(0xD800 <= ord(character) <= 0xDFFF or character == "\0" for character in text):
        return
    (row,) = read(one_cell(text))
    assert row["text"].removeprefix("'") == text.removeprefix("'")
    assert not row["text"].lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


def test_what_is_no_text_is_written_all_the_same() -> None:
    assert b"reef\\udcff" in tables.csv(one_cell("reef\udcff"))


def test_lines_end_as_the_standard_says() -> None:
    assert tables.csv(one_cell("a\nb")) == b'text,n\r\n"a\nb",1\r\n'


@pytest.mark.parametrize("year", [1970, 2031])
def test_a_package_says_what_its_tables_hold(year: int) -> None:
    made = (
        tables.readings(PAST, UTC),
        tables.outputs(PAST, UTC),
        tables.events([Recorded(7, EVENT)]),
        tables.days(DAYS),
    )
    content = packed(made, tank="Lagoon", created=datetime(year, 7, 14, 12, tzinfo=UTC))
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        assert package.testzip() is None
        assert package.namelist()[0] == "datapackage.json"
        described = json.loads(package.read("datapackage.json"))
        files = {name: package.read(name) for name in package.namelist()}
    assert described["profile"] == "tabular-data-package"
    assert described["title"] == "Lagoon: what the tank was like"
    assert described["created"] == f"{year}-07-14T12:00:00+00:00"
    assert [one["name"] for one in described["resources"]] == ["readings", "outputs", "events", "days"]
    for one, table in zip(described["resources"], made, strict=True):
        _resource_matches(one, files[one["path"]], table)
    (celsius,) = [
        one for one in described["resources"][0]["schema"]["fields"] if one["name"] == "mean_celsius"
    ]
    assert celsius == {
        "name": "mean_celsius",
        "type": "number",
        "description": "Mean temperature over the span",
        "unit": "°C",
    }


# How each type of Table Schema is read.
READS: dict[str, Callable[[str], object]] = {
    "string": str,
    "integer": int,
    "number": float,
    "boolean": {"true": True, "false": False}.__getitem__,
    "datetime": datetime.fromisoformat,
    "date": datetime.fromisoformat,
}


def _resource_matches(described: dict[str, Any], content: bytes, table: Table) -> None:
    assert described["bytes"] == len(content)
    assert described["hash"] == f"sha256:{hashlib.sha256(content).hexdigest()}"
    header, *rows = list(csv.reader(io.StringIO(content.decode("utf-8"), newline="")))
    fields = described["schema"]["fields"]
    assert [field["name"] for field in fields] == header
    assert set(described["schema"]["primaryKey"]) <= set(header)
    assert len(rows) == len(table.rows)
    places = [header.index(name) for name in described["schema"]["primaryKey"]]
    keys = [tuple(row[place] for place in places) for row in rows]
    assert all(all(key) for key in keys)
    assert len(set(keys)) == len(keys)
    for row in rows:
        for field, cell in zip(fields, row, strict=True):
            if cell:
                READS[field["type"]](cell)
