"""The history database, as others read it: while the guard writes, after its end, after it was killed."""

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Final, TypeVar

from reefguard.records.event_reader import opened
from reefguard.records.history import (
    FILE_NAME,
    GOOD_PARTS,
    MINUTE_S,
    PARTS,
    TABLES,
    DayTotals,
    Interval,
    Past,
    Series,
    Span,
)
from reefguard.records.history_store import ROLLED, days_in

_Answer = TypeVar("_Answer")

_COARSEST: Final = "hours"


class NoHistory(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """The history cannot be read; the message says why."""


class HistoryReader:
    """Reads the history that the guard has written."""

    def __init__(self, directory: Path) -> None:
        """Take note of the guard's state directory; nothing is opened yet."""
        self._path = directory / FILE_NAME

    def past(self, from_s: float, until_s: float, most_spans: int) -> Past:
        """Return a stretch of time, as finely as `most_spans` a series allow and as it is still kept.

        Raises:
            NoHistory: there is no database, or it cannot be read.
        """
        return self._asked(lambda database: _past(database, from_s, until_s, most_spans))

    def days(self, first: str, last: str) -> tuple[DayTotals, ...]:
        """Return the totals of the local days from `first` to `last`, both included (ISO 8601).

        Raises:
            NoHistory: there is no database, or it cannot be read.
        """
        return self._asked(lambda database: tuple(days_in(database, first, last)))

    def reach(self) -> tuple[float, float] | None:
        """Return from when until when there are readings, Unix seconds; `None` where there are none.

        Raises:
            NoHistory: there is no database, or it cannot be read.
        """
        return self._asked(_reach)

    def _asked(self, question: Callable[[sqlite3.Connection], _Answer]) -> _Answer:
        try:
            with opened(self._path) as database:
                return question(database)
        except FileNotFoundError:
            message = f"{self._path} is not there: no guard has run with these settings"
            raise NoHistory(message) from None
        except (sqlite3.Error, OSError, ValueError, TypeError, KeyError) as error:
            why = (error.strerror if isinstance(error, OSError) else None) or str(error)
            message = f"{self._path} cannot be read: {why}"
            raise NoHistory(message) from error


def _past(database: sqlite3.Connection, from_s: float, until_s: float, most_spans: int) -> Past:
    table = _table(database, from_s, until_s, most_spans)
    lasts_s = TABLES[table]
    rolled = database.execute("SELECT at_s FROM progress WHERE name = ?", (ROLLED,)).fetchone()
    rolled_s = float("inf") if table == "minutes" else rolled[0] if rolled is not None else from_s
    asked = database.execute(
        f"SELECT from_s, series, mean, low, high, good FROM {table} "  # noqa: S608  our own word
        "WHERE from_s > ? AND from_s < ? ORDER BY from_s",
        (from_s - lasts_s, min(until_s, rolled_s)),
    )
    rows: list[tuple[int, int, int, int, int, float]] = asked.fetchall()
    if rolled_s < until_s:
        rows += _not_yet_rolled(database, max(rolled_s, from_s - lasts_s), until_s, lasts_s)
    known = {number: Series(name, kind) for number, name, kind in database.execute("SELECT * FROM series")}
    found: dict[Series, list[Span]] = {series: [] for series in known.values()}
    for begins_s, number, mean, low, high, good in rows:
        series = known[number]
        parts = PARTS[series.kind]
        share = min(1.0, good / GOOD_PARTS)
        found[series].append(
            Span(float(begins_s), float(lasts_s), mean / parts, low / parts, high / parts, share)
        )
    series_found = {series: tuple(spans) for series, spans in found.items() if spans}
    return Past(from_s, until_s, float(lasts_s), series_found, _intervals(database, from_s, until_s))


def _table(database: sqlite3.Connection, from_s: float, until_s: float, most_spans: int) -> str:
    """Return the finest table that is not too fine, and reaches as far back as any does."""
    oldest = {
        table: database.execute(f"SELECT min(from_s) FROM {table}").fetchone()[0]  # noqa: S608  our own words
        for table in TABLES
    }
    first_s = min((begun for begun in oldest.values() if begun is not None), default=from_s)
    for table, lasts_s in TABLES.items():
        begun = oldest[table]
        # What is not there yet is made of minutes.
        reaches = begun is None or begun <= max(from_s, first_s) + lasts_s
        if (until_s - from_s) / lasts_s <= most_spans and reaches:
            return table
    return _COARSEST


def _not_yet_rolled(
    database: sqlite3.Connection, from_s: float, until_s: float, lasts_s: int
) -> list[tuple[int, int, int, int, int, float]]:
    """Return spans of the latest minutes; one that still goes on counts as long as it has lasted."""
    newest_s = database.execute("SELECT max(from_s) FROM minutes").fetchone()[0]
    if newest_s is None:
        return []
    asked = database.execute(
        f"SELECT from_s / {lasts_s} * {lasts_s} AS begins_s, series, "  # noqa: S608  our own numbers
        "CAST(round(sum(mean * good) * 1.0 / sum(good)) AS INTEGER), min(low), max(high), "
        f"sum(good) * {MINUTE_S}.0 / "
        f"min({lasts_s}, {newest_s} + {MINUTE_S} - from_s / {lasts_s} * {lasts_s}) "
        "FROM minutes WHERE from_s >= ? AND from_s < ? GROUP BY begins_s, series ORDER BY begins_s",
        (from_s, until_s),
    )
    return asked.fetchall()


def _intervals(database: sqlite3.Connection, from_s: float, until_s: float) -> tuple[Interval, ...]:
    asked = database.execute(
        "SELECT output, from_s, until_s, running, start FROM intervals "
        "WHERE until_s >= ? AND from_s < ? ORDER BY from_s, output",
        (from_s, until_s),
    )
    return tuple(
        Interval(
            output,
            max(from_s, float(begins_s)),
            min(until_s, float(ends_s)),
            bool(running) and ends_s <= until_s,
            bool(start) and begins_s >= from_s,
        )
        for output, begins_s, ends_s, running, start in asked
    )


def _reach(database: sqlite3.Connection) -> tuple[float, float] | None:
    found = [
        database.execute(f"SELECT min(from_s), max(from_s) + {lasts_s} FROM {table}").fetchone()  # noqa: S608  our own
        for table, lasts_s in TABLES.items()
    ]
    known = [(first, last) for first, last in found if first is not None]
    if not known:
        return None
    return float(min(first for first, _ in known)), float(max(last for _, last in known))
