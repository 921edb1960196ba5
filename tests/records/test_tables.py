"""Tables for other programs: read back by the standard library's reader, as a spreadsheet would."""

import csv
import io
import json
from datetime import UTC, timedelta, timezone
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from reefguard.records import tables
from reefguard.records.events import Event, Recorded
from reefguard.records.history import DayTotals, Interval, Past, Series, Span

ZONE = timezone(timedelta(hours=2))
PAST = Past(
    0.0,
    600.0,
    60.0,
    {
        Series("display", "water"): (Span(60.0, 60.0, 26.1234, 26.0, 26.5, 1.0),),
        Series("room", "humidity"): (Span(60.0, 60.0, 0.4512, 0.45, 0.46, 0.5),),
    },
    (Interval("fan1", 100.0, 200.0, False, True),),
)
DAY = DayTotals("2027-07-12", 25.0, None, 26.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, {"fan1": 10.04}, {"fan1": 2})


def read(table: tables.Table) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(tables.as_csv(table), newline=""), strict=True))


def test_readings_carry_their_units_and_times_their_offset() -> None:
    (row,) = read(tables.temperatures(PAST, ZONE))
    assert row == {
        "time": "1970-01-01T02:01:00+02:00", "time_unix_ms": "60000", "span_s": "60", "kind": "water",
        "series": "display", "mean_celsius": "26.123", "low_celsius": "26.0", "high_celsius": "26.5",
        "good_share": "1.0",
    }  # fmt: skip
    (damp,) = read(tables.humidity(PAST, ZONE))
    assert (damp["mean_percent"], damp["good_share"]) == ("45.12", "0.5")


def test_outputs_and_days() -> None:
    (row,) = read(tables.outputs(PAST, UTC))
    assert (row["output"], row["until_unix_ms"], row["running"], row["start"]) == (
        "fan1",
        "200000",
        "false",
        "true",
    )
    (day,) = read(tables.days([DAY]))
    assert (day["low_celsius"], day["high_celsius"], day["below_kelvin_hours"]) == ("25.0", "", "6.0")
    assert read(tables.day_outputs([DAY])) == [
        {"date": "2027-07-12", "output": "fan1", "ran_s": "10.0", "starts": "2"}
    ]


def test_the_hour_that_comes_twice_is_told_apart() -> None:
    # Lisbon, 2027-10-31: summer time ends at 01:00 UTC (directive 2000/84/EC).
    spans = tuple(Span(1_824_942_600.0 + 3_600.0 * hour, 60.0, 26.0, 26.0, 26.0, 1.0) for hour in range(2))
    past = PAST._replace(series={Series("display", "water"): spans})
    first, second = (row["time"] for row in read(tables.temperatures(past, ZoneInfo("Europe/Lisbon"))))
    assert first.endswith("+01:00")
    assert second.endswith("+00:00")
    assert first[:-6] == second[:-6]


TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20)


@given(TEXTS, TEXTS)
def test_any_text_comes_back_and_none_is_a_formula(what: str, who: str) -> None:
    event = Event(
        "boot", 1.0, "2027-07-12T12:00:00+01:00", True, "alarm", what, "raised", what, 3, who, {"a": what}
    )
    (row,) = read(tables.events([Recorded(7, event)]))
    for written, text in ((row["what"], what), (row["who"], who)):
        assert written in (text, f"'{text}")
        assert not written.startswith(("=", "+", "-", "@", "\t", "\r"))
    assert json.loads(row["details"]) == {"a": what}
    assert row["time_unix_ms"] == "1815390000000"


def test_a_package_describes_each_column_of_each_table() -> None:
    made = [tables.temperatures(PAST, UTC), tables.days([DAY])]
    package = json.loads(tables.data_package(made, "the reef", "2027-07-12T12:00:00+01:00"))
    assert package["profile"] == "tabular-data-package"
    for resource, table in zip(package["resources"], made, strict=True):
        fields = [field["name"] for field in resource["schema"]["fields"]]
        assert fields == tables.as_csv(table).splitlines()[0].split(",")
        assert resource["path"] == f"{table.name}.csv"
