"""The history database, as its one writer sees it.

Readings come in batches, so `synchronous=NORMAL` is enough: after a power cut
the last batch may be missing, never a part of one.  Whatever must not be lost
is an event, and those have a database of their own.
"""

import sqlite3
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Final

from reefguard.records import databases
from reefguard.records.databases import Kind, told
from reefguard.records.gathering import Batch, added
from reefguard.records.history import (
    APPLICATION_ID,
    FILE_NAME,
    FIVE_MINUTES_S,
    GOOD_PARTS,
    HOUR_S,
    MINUTE_S,
    PARTS,
    SCHEMA,
    USER_VERSION,
    DayTotals,
    Interval,
    Series,
    Span,
)

_DAY_S: Final = 86_400
# How long spans are kept; days stay for ever.
KEPT_S: Final = {"minutes": 30 * _DAY_S, "five_minutes": 120 * _DAY_S, "hours": 5 * 366 * _DAY_S}
_INTERVALS_KEPT_S: Final = 5 * 366 * _DAY_S
# Retention takes at most this much of the oldest at once: a clock that is wrong for a day costs little.
_AT_ONCE_S: Final = 2 * HOUR_S
# What belongs to an hour has been written by then.
_LAG_S: Final = 900
_HOURS_AT_ONCE: Final = 24
# How far five minutes and hours have been made of minutes.
ROLLED: Final = "rolled up until"
_KIND: Final = Kind("history", APPLICATION_ID, USER_VERSION)


class HistoryStore:
    """An open history database.  Used from one thread."""

    def __init__(self, directory: Path) -> None:
        """Open or create it.  Everything here may block as long as the disk does.

        Raises:
            Broken: what is there is damaged, or no history database of this version.
            sqlite3.Error: it cannot be opened now.
        """
        self._path = directory / FILE_NAME
        self._series: dict[Series, int] = {}
        self._open = sqlite3.connect(
            self._path, timeout=databases.PATIENCE_S, isolation_level=None, check_same_thread=False
        )
        try:
            self._prepare()
        except BaseException as error:
            self._open.close()
            raise told(error) from error
        self._inode = self._path.stat().st_ino

    def append(self, batch: Batch) -> None:
        """Keep a batch: all of it or none.  Of two readings of the same minute the first stays.

        Raises:
            Broken: the database turned out to be damaged.
            sqlite3.Error: it could not be written; nothing of it was.
        """
        self._in_one(lambda: self._put(batch))

    def tidy(self, now_s: float) -> None:
        """Make five minutes and hours of minutes, and let go of what is too old, in small steps.

        Raises:
            Broken: the database turned out to be damaged.
            sqlite3.Error: it could not be written; nothing of it was.
        """
        self._in_one(lambda: self._roll_up(int(now_s)))
        self._in_one(lambda: self._let_go(int(now_s)))

    def close(self) -> None:
        """Let go of it, as well as can be."""
        with suppress(sqlite3.Error):
            self._open.close()

    def _prepare(self) -> None:
        tables = databases.checked(self._open, _KIND)
        # A page of a batch is mostly empty; small ones wear the card less.
        self._open.execute("PRAGMA page_size=1024")
        self._open.execute("PRAGMA journal_mode=WAL")
        self._open.execute("PRAGMA synchronous=NORMAL")
        self._open.execute("PRAGMA cache_size=-256")
        if not tables:
            self._open.execute("BEGIN IMMEDIATE")
            for statement in SCHEMA:
                self._open.execute(statement)
            self._open.execute("COMMIT")
        # Whatever ran when the last writer ended was seen to run until its last commit, and no longer.
        self._open.execute("UPDATE intervals SET running = 0 WHERE running = 1")

    def _in_one(self, work: Callable[[], None]) -> None:
        try:
            databases.still_there(self._path, self._inode)
            self._open.execute("BEGIN IMMEDIATE")
            try:
                work()
                self._open.execute("COMMIT")
            except BaseException:
                self._series.clear()  # those that were new are not there
                if self._open.in_transaction:
                    self._open.execute("ROLLBACK")
                raise
        except sqlite3.Error as error:
            raise told(error) from error

    # --- keep ---

    def _put(self, batch: Batch) -> None:
        rows = [_row(self._number_of(series), series, span) for series, span in batch.spans]
        self._open.executemany("INSERT OR IGNORE INTO minutes VALUES (?, ?, ?, ?, ?, ?)", rows)
        self._open.executemany(
            "INSERT INTO intervals VALUES (?, ?, ?, ?, ?) ON CONFLICT(output, from_s) "
            "DO UPDATE SET until_s = max(until_s, excluded.until_s), running = excluded.running",
            [_interval_row(interval) for interval in batch.intervals],
        )
        for day in batch.days:
            self._put_day(day)
        if rows:
            # A clock that was set back brings minutes of hours that count as done.
            first_s = min(row[0] for row in rows) // HOUR_S * HOUR_S
            self._open.execute(
                "INSERT INTO progress VALUES (?, ?) ON CONFLICT(name) "
                "DO UPDATE SET at_s = excluded.at_s WHERE excluded.at_s < at_s",
                (ROLLED, first_s),
            )

    def _number_of(self, series: Series) -> int:
        known = self._series.get(series)
        if known is None:
            self._open.execute("INSERT OR IGNORE INTO series(name, kind) VALUES (?, ?)", series)
            asked = self._open.execute("SELECT id FROM series WHERE name = ? AND kind = ?", series)
            known = self._series[series] = int(asked.fetchone()[0])
        return known

    def _put_day(self, day: DayTotals) -> None:
        kept = day_in(self._open, day.date)
        day = day if kept is None else added(kept, day)
        low, high = (
            None if value is None else round(value * PARTS["water"]) for value in (day.low_c, day.high_c)
        )
        self._open.execute(
            "INSERT OR REPLACE INTO days VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                *(day.date, low, high, day.mean_c, day.known_s, day.guarded_s),
                *(day.above_s, day.below_s, day.above_k_h, day.below_k_h),
            ),
        )
        self._open.executemany(
            "INSERT OR REPLACE INTO day_outputs VALUES (?, ?, ?, ?)",
            [(day.date, output, ran_s, day.starts.get(output, 0)) for output, ran_s in day.ran_s.items()],
        )

    # --- roll up, let go ---

    def _roll_up(self, now_s: int) -> None:
        rolled = self._open.execute("SELECT at_s FROM progress WHERE name = ?", (ROLLED,)).fetchone()
        if rolled is None:
            return
        until_s = (now_s - _LAG_S) // HOUR_S * HOUR_S
        asked = self._open.execute(
            f"SELECT DISTINCT from_s / {HOUR_S} * {HOUR_S} FROM minutes "  # noqa: S608  our own numbers
            "WHERE from_s >= ? AND from_s < ? ORDER BY 1 LIMIT ?",
            (rolled[0], until_s, _HOURS_AT_ONCE),
        )
        hours: Sequence[int] = [row[0] for row in asked]
        for hour_s in hours:
            self._summed_up("five_minutes", FIVE_MINUTES_S, hour_s)
            self._summed_up("hours", HOUR_S, hour_s)
        done_s = hours[-1] + HOUR_S if len(hours) == _HOURS_AT_ONCE else max(rolled[0], until_s)
        self._open.execute("UPDATE progress SET at_s = ? WHERE name = ?", (done_s, ROLLED))

    def _summed_up(self, table: str, lasts_s: int, hour_s: int) -> None:
        self._open.execute(
            f"INSERT OR REPLACE INTO {table} "  # noqa: S608  our own words and numbers
            f"SELECT from_s / {lasts_s} * {lasts_s} AS begins_s, series, "
            "CAST(round(sum(mean * good) * 1.0 / sum(good)) AS INTEGER), min(low), max(high), "
            f"max(1, sum(good) * {MINUTE_S} / {lasts_s}) "
            "FROM minutes WHERE from_s >= ? AND from_s < ? GROUP BY begins_s, series",
            (hour_s, hour_s + HOUR_S),
        )

    def _let_go(self, now_s: int) -> None:
        for table, kept_s in KEPT_S.items():
            oldest = self._open.execute(f"SELECT min(from_s) FROM {table}").fetchone()[0]  # noqa: S608  our own words
            if oldest is not None:
                until_s = min(now_s - kept_s, oldest + _AT_ONCE_S)
                self._open.execute(f"DELETE FROM {table} WHERE from_s < ?", (until_s,))  # noqa: S608  the same
        oldest = self._open.execute("SELECT min(until_s) FROM intervals").fetchone()[0]
        if oldest is not None:
            until_s = min(now_s - _INTERVALS_KEPT_S, oldest + _AT_ONCE_S)
            self._open.execute("DELETE FROM intervals WHERE until_s < ?", (until_s,))


def day_in(connection: sqlite3.Connection, date: str) -> DayTotals | None:
    """Return a day's totals as they are kept, `None` where there are none.

    Raises:
        sqlite3.Error: they cannot be read.
    """
    return next(iter(days_in(connection, date, date)), None)


def days_in(connection: sqlite3.Connection, first: str, last: str) -> Iterable[DayTotals]:
    """Return the totals of days, both ends included, in order.

    Raises:
        sqlite3.Error: they cannot be read.
    """
    outputs: dict[str, tuple[dict[str, float], dict[str, int]]] = {}
    asked = connection.execute(
        "SELECT date, output, ran_s, starts FROM day_outputs WHERE date BETWEEN ? AND ?", (first, last)
    )
    for date, output, ran_s, starts in asked:
        ran, started = outputs.setdefault(date, ({}, {}))
        ran[output], started[output] = ran_s, starts
    asked = connection.execute("SELECT * FROM days WHERE date BETWEEN ? AND ? ORDER BY date", (first, last))
    for date, low, high, mean_c, *sums in asked:
        low_c, high_c = (None if value is None else value / PARTS["water"] for value in (low, high))
        yield DayTotals._make([date, low_c, high_c, mean_c, *sums, *outputs.get(date, ({}, {}))])


def _row(number: int, series: Series, span: Span) -> tuple[int, ...]:
    parts = PARTS[series.kind]
    values = (round(value * parts) for value in (span.mean, span.low, span.high))
    return (int(span.from_s), number, *values, max(1, round(span.good * GOOD_PARTS)))


def _interval_row(interval: Interval) -> tuple[str, int, int, int, int]:
    from_s, until_s = round(interval.from_s), round(interval.until_s)
    return (interval.output, from_s, until_s, int(interval.running), int(interval.start))
