"""The history database, as its one writer sees it; what its tables hold stands in `history`.

`synchronous=NORMAL`: a power cut costs the last batches, never the file; what
must not be lost at once is in the events.  Small pages, for a batch touches
some six of them: with pages of 4 kB a day would write four times as much.

Nothing here takes long: each batch makes five minutes and hours of some hours
of minutes at most, and deletes some hundred spans at most.  How long something
is kept counts the time that was recorded, not the calendar, so that a clock
that was wrong for an hour does not delete years.
"""

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final, NamedTuple

from reefguard.records.database import Database, Kind, as_text, set_aside
from reefguard.records.history import (
    APPLICATION_ID,
    FILE_NAME,
    FIVE_MINUTES_S,
    FOLDED,
    HOUR_S,
    MINUTE_S,
    SCHEMA,
    Minute,
    Series,
    kept_from,
)

KIND: Final = Kind("history", FILE_NAME, APPLICATION_ID, (SCHEMA,), "NORMAL", page_size=1_024)

_DAY_S: Final = 86_400

# Recorded time.  Days are kept for ever; runs and watches as long as hours are.
KEPT_S: Final = {MINUTE_S: 14 * _DAY_S, FIVE_MINUTES_S: 100 * _DAY_S, HOUR_S: 5 * 365 * _DAY_S}

# A run longer than this goes on in a further row, so that a reader need not look further back than this.
LONGEST_ROW_MS: Final = _DAY_S * 1_000

# In one batch.
_MOST_FOLDED_S: Final = 6 * HOUR_S
_MOST_SPANS_DELETED: Final = 360

_MERGE: Final = """ ON CONFLICT DO UPDATE SET
 mean = CAST(round((1.0 * mean * good_ms + 1.0 * excluded.mean * excluded.good_ms)
  / (good_ms + excluded.good_ms)) AS INTEGER),
 low = min(low, excluded.low), high = max(high, excluded.high),
 good_ms = min(good_ms + excluded.good_ms, lasts_s * 1000)"""

_INSERT_SPAN: Final = (
    "INSERT INTO spans(lasts_s, from_s, series, mean, low, high, good_ms) VALUES (?, ?, ?, ?, ?, ?, ?)"  # noqa: S608  our own words
    + _MERGE
)

_FOLD: Final = (
    """INSERT INTO spans(lasts_s, from_s, series, mean, low, high, good_ms)
 SELECT :coarse, from_s / :coarse * :coarse, series,
  CAST(round(sum(1.0 * mean * good_ms) / sum(good_ms)) AS INTEGER), min(low), max(high), sum(good_ms)
 FROM spans WHERE lasts_s = 60 AND from_s >= :begin AND from_s < :end
 GROUP BY from_s / :coarse, series"""  # noqa: S608  our own words
    + _MERGE
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
            for one in {one for minute in new for one in minute.spans if one not in series}:
                series[one] = _new_series(sql, one)
            _write_spans(sql, new, series)
            for minute in new:
                _write_runs(sql, minute, going_on)
            _write_days(sql, new)
            if new:
                _fold(sql, new[-1].from_s)
        self._series, self._going_on = series, going_on
        return len(minutes) - len(new)

    def tidy(self) -> None:
        """Delete some of what is older than it is kept.

        Raises:
            Broken: the database turned out to be damaged.
            sqlite3.Error: it could not be written; nothing of it was.
        """
        with self._database.transaction() as sql:
            for lasts_s, kept_s in KEPT_S.items():
                _expire(sql, lasts_s, kept_s)

    def close(self) -> None:
        """Let go of it, as well as can be."""
        self._database.close()


def set_history_aside(directory: Path) -> Path:
    """Move a damaged database out of the way; return where to.

    Raises:
        OSError: it could not be moved.
    """
    return set_aside(directory, KIND)


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
    sql.execute("INSERT INTO series(name, kind) VALUES (?, ?)", (as_text(series.name), series.kind))
    return int(sql.execute("SELECT last_insert_rowid()").fetchone()[0])


def _write_spans(
    sql: sqlite3.Connection, minutes: Iterable[Minute], numbers: dict[tuple[str, str], int]
) -> None:
    folded_until_s = _mark(sql, FOLDED)
    rows = []
    for minute in minutes:
        for series, span in minute.spans.items():
            scale = 10_000 if series.kind == "humidity" else 1_000
            values = (
                numbers[series],
                round(span.mean * scale),
                round(span.low * scale),
                round(span.high * scale),
                max(1, _ms(span.good * span.lasts_s)),
            )
            from_s = int(span.from_s)
            rows.append((MINUTE_S, from_s, *values))
            if from_s < folded_until_s:
                # Its hour has been made already, without it.
                rows += [(coarse, from_s // coarse * coarse, *values) for coarse in (FIVE_MINUTES_S, HOUR_S)]
    sql.executemany(_INSERT_SPAN, rows)


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


def _fold(sql: sqlite3.Connection, newest_s: float) -> None:
    """Make five minutes and hours of the minutes before the newest one's hour, of some hours at most."""
    begin_s = _mark(sql, FOLDED)
    first = sql.execute(
        "SELECT min(from_s) FROM spans WHERE lasts_s = ? AND from_s >= ?", (MINUTE_S, begin_s)
    ).fetchone()[0]
    if first is None:
        return
    # Over a gap at once.
    begin_s = max(begin_s, first // HOUR_S * HOUR_S)
    end_s = min(int(newest_s) // HOUR_S * HOUR_S, begin_s + _MOST_FOLDED_S)
    if end_s <= begin_s:
        return
    for coarse in (FIVE_MINUTES_S, HOUR_S):
        sql.execute(_FOLD, {"coarse": coarse, "begin": begin_s, "end": end_s})
    _set_mark(sql, FOLDED, end_s)


def _expire(sql: sqlite3.Connection, lasts_s: int, kept_s: int) -> None:
    oldest = sql.execute("SELECT min(from_s) FROM spans WHERE lasts_s = ?", (lasts_s,)).fetchone()[0]
    if oldest is None:
        return
    until_s = min(_recorded_since(sql, kept_s), oldest + _MOST_SPANS_DELETED * lasts_s)
    if lasts_s == MINUTE_S:
        until_s = min(until_s, _mark(sql, FOLDED))
    # Whole hours, so that what is finer and what is coarser meet without overlapping.
    until_s = until_s // HOUR_S * HOUR_S
    if until_s <= oldest:
        return
    sql.execute("DELETE FROM spans WHERE lasts_s = ? AND from_s < ?", (lasts_s, until_s))
    _set_mark(sql, kept_from(lasts_s), max(until_s, _mark(sql, kept_from(lasts_s))))
    if lasts_s == HOUR_S:
        sql.execute("DELETE FROM runs WHERE from_ms < ?", (until_s * 1_000,))
        sql.execute("DELETE FROM watches WHERE until_ms < ?", (until_s * 1_000,))


def _recorded_since(sql: sqlite3.Connection, kept_s: int) -> int:
    """Return since when so much time was recorded; 0 where it is less."""
    left_ms = kept_s * 1_000
    for from_ms, until_ms in sql.execute("SELECT from_ms, until_ms FROM watches ORDER BY from_ms DESC"):
        left_ms -= until_ms - from_ms
        if left_ms <= 0:
            return int(from_ms - left_ms) // 1_000
    return 0


def _mark(sql: sqlite3.Connection, name: str) -> int:
    row = sql.execute("SELECT at_s FROM marks WHERE name = ?", (name,)).fetchone()
    return 0 if row is None else int(row[0])


def _set_mark(sql: sqlite3.Connection, name: str, at_s: int) -> None:
    sql.execute(
        "INSERT INTO marks VALUES (?, ?) ON CONFLICT DO UPDATE SET at_s = excluded.at_s", (name, at_s)
    )
