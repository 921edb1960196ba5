"""The history database, as its one writer sees it; what its tables hold stands in `history`.

`synchronous=NORMAL`: a power cut costs the last batches, never the file; what
must not be lost at once is in the events.  Small pages, for a batch touches a
dozen whatever their size: with pages of 4 kB a day would write three times as
much.

Nothing here takes long: with each batch, a step at most of what is old becomes
coarser or goes (`history_aging`).
"""

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Sequence
from operator import itemgetter
from pathlib import Path
from typing import Final, NamedTuple

from reefguard.records.database import Broken, Database, Kind, as_text, set_aside
from reefguard.records.history import (
    APPLICATION_ID,
    FILE_NAME,
    FOLDED,
    LONGEST_ROW_MS,
    MINUTE_S,
    MOST_SERIES,
    SCHEMA,
    TABLES,
    Minute,
    Series,
    key_from,
)
from reefguard.records.history_aging import MERGE, expire, fold, mark

KIND: Final = Kind("history", FILE_NAME, APPLICATION_ID, (SCHEMA,), "NORMAL", page_size=512, log_pages=4_000)


def _insert_into(table: str) -> str:
    return (
        f"INSERT INTO {table} VALUES (:key, :mean, :low, :high, :lasts - :good)"  # noqa: S608  our own words
        + MERGE
    )


_ADD_TO_DAY: Final = """INSERT INTO days VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
 ON CONFLICT DO UPDATE SET
 low = min(coalesce(low, excluded.low), coalesce(excluded.low, low)),
 high = max(coalesce(high, excluded.high), coalesce(excluded.high, high)),
 known_ms = known_ms + excluded.known_ms, guarded_ms = guarded_ms + excluded.guarded_ms,
 above_ms = above_ms + excluded.above_ms, below_ms = below_ms + excluded.below_ms,
 warmest_mc_s = warmest_mc_s + excluded.warmest_mc_s,
 above_mk_s = above_mk_s + excluded.above_mk_s, below_mk_s = below_mk_s + excluded.below_mk_s"""

_ADD_TO_OUTPUT: Final = """INSERT INTO day_outputs VALUES (?, ?, ?, ?)
 ON CONFLICT DO UPDATE SET ran_ms = ran_ms + excluded.ran_ms, starts = starts + excluded.starts"""


class _Row(NamedTuple):
    """The row of a run that goes on."""

    from_ms: int
    until_ms: int


class HistoryStore:
    """An open history database.  Used from one thread."""

    def __init__(self, directory: Path) -> None:
        """Open or create it.  Everything here may block as long as the disk does.

        Raises:
            Broken: what is there is damaged, or no history database of this version.
            sqlite3.Error: it cannot be opened now.
        """
        self._database = Database(directory, KIND)
        try:
            with self._database.reading() as sql:
                self._series = {
                    (name, kind): number for number, name, kind in sql.execute("SELECT * FROM series")
                }
                self._going_on = {
                    output: _Row(from_ms, until_ms)
                    for output, from_ms, until_ms in sql.execute(
                        "SELECT output, from_ms, until_ms FROM runs WHERE running"
                    )
                }
        except BaseException:
            self._database.close()
            raise

    def write(self, minutes: Sequence[Minute]) -> int:
        """Record minutes, all of them or none; return how many were refused, for their time is recorded.

        Raises:
            Broken: the database turned out to be damaged.
            sqlite3.Error: it could not be written; nothing of it was.
        """
        # A batch that fails leaves these as they were.
        series, going_on = dict(self._series), dict(self._going_on)
        with self._database.transaction() as sql:
            new = [minute for minute in minutes if _watched(sql, minute)]
            # Numbered in the order of the settings, in which all that reads them shows them.
            for one in dict.fromkeys(one for minute in new for one in minute.spans if one not in series):
                series[one] = _new_series(sql, one)
            _write_spans(sql, new, series)
            for minute in new:
                _write_runs(sql, minute, going_on)
            _write_days(sql, new)
            if new:
                fold(sql, new[-1].from_s)
        self._series, self._going_on = series, going_on
        return len(minutes) - len(new)

    def tidy(self) -> None:
        """Delete some of what is older than it is kept.

        Raises:
            Broken: the database turned out to be damaged.
            sqlite3.Error: it could not be written; nothing of it was.
        """
        with self._database.transaction() as sql:
            expire(sql)

    def close(self) -> None:
        """Let go of it, as well as can be."""
        self._database.close()


def set_history_aside(directory: Path) -> Path:
    """Move a damaged database out of the way; return where to.

    Raises:
        OSError: it could not be moved.
    """
    return set_aside(directory / FILE_NAME)


def _ms(seconds: float) -> int:
    return round(seconds * 1_000)


def _thousandths(value: float | None) -> int | None:
    return None if value is None else round(value * 1_000)


def _watched(sql: sqlite3.Connection, minute: Minute) -> bool:
    """Take a minute's time as recorded; return whether it was not before."""
    from_ms, until_ms = _ms(minute.from_s), _ms(minute.until_s)
    if until_ms <= from_ms:
        return False
    before = sql.execute(
        "SELECT from_ms, until_ms FROM watches WHERE from_ms < ? ORDER BY from_ms DESC LIMIT 1", (until_ms,)
    ).fetchone()
    if before is not None and before[1] > from_ms:
        return False
    if before is not None and before[1] == from_ms:
        sql.execute("UPDATE watches SET until_ms = ? WHERE from_ms = ?", (until_ms, before[0]))
    else:
        sql.execute("INSERT INTO watches VALUES (?, ?)", (from_ms, until_ms))
    return True


def _new_series(sql: sqlite3.Connection, series: Series) -> int:
    """Return the number of a series that is new, or was written in other letters.

    Raises:
        Broken: there is no number left.
    """
    known = (as_text(series.name), series.kind)
    found = sql.execute("SELECT id FROM series WHERE name = ? AND kind = ?", known).fetchone()
    if found is not None:
        return int(found[0])
    if sql.execute("SELECT count(*) FROM series").fetchone()[0] >= MOST_SERIES:
        message = f"it holds {MOST_SERIES} probes already"
        raise Broken(message)
    sql.execute("INSERT INTO series(name, kind) VALUES (?, ?)", known)
    return int(sql.execute("SELECT last_insert_rowid()").fetchone()[0])


def _write_spans(
    sql: sqlite3.Connection, minutes: Iterable[Minute], numbers: dict[tuple[str, str], int]
) -> None:
    folded_until_s = mark(sql, FOLDED)
    rows = defaultdict(list)
    for minute in minutes:
        for series, span in minute.spans.items():
            scale = 10_000 if series.kind == "humidity" else 1_000
            from_s = int(span.from_s)
            row = {
                "mean": round(span.mean * scale),
                "low": round(span.low * scale),
                "high": round(span.high * scale),
                "good": max(1, _ms(span.good * span.lasts_s)),
            }
            # Where its hour has been made already, without it, it is added to that, too.
            for lasts_s in (MINUTE_S,) if from_s >= folded_until_s else TABLES:
                key = key_from(from_s // lasts_s * lasts_s) + numbers[series]
                rows[lasts_s].append({**row, "key": key, "lasts": lasts_s * 1_000})
    for lasts_s, of_table in rows.items():
        # In order: appended, they touch the fewest pages.
        sql.executemany(_insert_into(TABLES[lasts_s]), sorted(of_table, key=itemgetter("key")))


def _write_runs(sql: sqlite3.Connection, minute: Minute, going_on: dict[str, _Row]) -> None:
    for run in minute.runs:
        from_ms, until_ms = _ms(run.from_s), _ms(run.until_s)
        row = going_on.get(run.output)
        continues = row is not None and row.until_ms == from_ms and not run.start
        if row is not None and continues and from_ms - row.from_ms < LONGEST_ROW_MS:
            from_ms = row.from_ms
        sql.execute(
            "INSERT INTO runs VALUES (?, ?, ?, ?, 1) ON CONFLICT DO UPDATE SET until_ms = excluded.until_ms",
            (from_ms, as_text(run.output), until_ms, int(run.start)),
        )
        if row is not None and row.from_ms != from_ms:
            _ended(sql, run.output, row)
        going_on[run.output] = _Row(from_ms, until_ms)
    for output in [output for output in going_on if output not in minute.running]:
        _ended(sql, output, going_on.pop(output))


def _ended(sql: sqlite3.Connection, output: str, row: _Row) -> None:
    sql.execute(
        "UPDATE runs SET running = 0 WHERE from_ms = ? AND output = ?", (row.from_ms, as_text(output))
    )


def _write_days(sql: sqlite3.Connection, minutes: Iterable[Minute]) -> None:
    ran_ms: dict[tuple[str, str], int] = defaultdict(int)
    starts: dict[tuple[str, str], int] = defaultdict(int)
    for minute in minutes:
        sql.execute(
            _ADD_TO_DAY,
            (
                minute.date,
                _thousandths(minute.low_c),
                _thousandths(minute.high_c),
                _ms(minute.known_s),
                _ms(minute.until_s) - _ms(minute.from_s),
                _ms(minute.above_s),
                _ms(minute.below_s),
                round(minute.warmest_c_s * 1_000),
                round(minute.above_k_s * 1_000),
                round(minute.below_k_s * 1_000),
            ),
        )
        for run in minute.runs:
            key = (minute.date, run.output)
            ran_ms[key] += _ms(run.until_s) - _ms(run.from_s)
            starts[key] += run.start
    sql.executemany(
        _ADD_TO_OUTPUT,
        [(date, as_text(output), ran, starts[date, output]) for (date, output), ran in ran_ms.items()],
    )
