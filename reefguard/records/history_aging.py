"""What becomes of minutes with time: five minutes, hours, and nothing, a little of it with each batch.

How long something is kept counts the time that was recorded, not the calendar:
a clock that was wrong for a day does not delete years.
"""

import sqlite3
from typing import Final

from reefguard.records.history import (
    FIVE_MINUTES_S,
    FOLDED,
    HOUR_S,
    MINUTE_S,
    TABLES,
    kept_from,
    key_from,
)

_DAY_S: Final = 86_400

# Recorded time.  Days are kept for ever; runs and watches as long as hours are.
KEPT_S: Final = {MINUTE_S: 14 * _DAY_S, FIVE_MINUTES_S: 100 * _DAY_S, HOUR_S: 5 * 365 * _DAY_S}

# Made and deleted in such steps: the larger, the fewer pages are written, and the longer one batch takes.
_FOLDED_S: Final = 6 * HOUR_S
_DELETED_S: Final = {MINUTE_S: _DAY_S, FIVE_MINUTES_S: 5 * _DAY_S, HOUR_S: 60 * _DAY_S}

# Two parts of one span; `:lasts` is the whole's length in milliseconds.
MERGE: Final = """ ON CONFLICT DO UPDATE SET
 mean = CAST(round((1.0 * mean * (:lasts - lost_ms) + 1.0 * excluded.mean * (:lasts - excluded.lost_ms))
  / (2 * :lasts - lost_ms - excluded.lost_ms)) AS INTEGER),
 low = min(low, excluded.low), high = max(high, excluded.high),
 lost_ms = max(lost_ms + excluded.lost_ms - :lasts, 0)"""


def _fold_into(table: str) -> str:
    return (
        f"""INSERT INTO {table}
 SELECT key / 256 / :span * :span * 256 + key % 256 AS slot,
  CAST(round(sum(1.0 * mean * (60000 - lost_ms)) / sum(60000 - lost_ms)) AS INTEGER),
  min(low), max(high), :lasts - sum(60000 - lost_ms)
 FROM minutes WHERE key >= :begin AND key < :end GROUP BY slot"""  # noqa: S608  our own words
        + MERGE
    )


def fold(sql: sqlite3.Connection, newest_s: float) -> None:
    """Make five minutes and hours of a quarter of a day of minutes, once it is over."""
    begin_s = mark(sql, FOLDED)
    first = sql.execute(
        "SELECT min(key) / 256 * 60 FROM minutes WHERE key >= ?", (key_from(begin_s),)
    ).fetchone()[0]
    if first is None:
        return
    # Over a gap at once.
    begin_s = max(begin_s, first // _FOLDED_S * _FOLDED_S)
    end_s = begin_s + _FOLDED_S
    if newest_s < end_s:
        return
    stretch = {"begin": key_from(begin_s), "end": key_from(end_s)}
    for lasts_s in (FIVE_MINUTES_S, HOUR_S):
        sql.execute(
            _fold_into(TABLES[lasts_s]), {**stretch, "span": lasts_s // MINUTE_S, "lasts": lasts_s * 1_000}
        )
    _set_mark(sql, FOLDED, end_s)


def expire(sql: sqlite3.Connection) -> None:
    """Delete a step of each length of spans that is older than it is kept."""
    for lasts_s, kept_s in KEPT_S.items():
        _expire(sql, lasts_s, kept_s)


def _expire(sql: sqlite3.Connection, lasts_s: int, kept_s: int) -> None:
    table, step_s = TABLES[lasts_s], _DELETED_S[lasts_s]
    oldest = sql.execute(f"SELECT min(key) / 256 * 60 FROM {table}").fetchone()[0]  # noqa: S608  our own names
    # Whole steps, so that what is finer and what is coarser meet without overlapping.
    until_s = 0 if oldest is None else (oldest // step_s + 1) * step_s
    if oldest is None or until_s > _recorded_since(sql, kept_s) or until_s > mark(sql, FOLDED):
        return
    sql.execute(f"DELETE FROM {table} WHERE key < ?", (key_from(until_s),))  # noqa: S608  our own names
    _set_mark(sql, kept_from(lasts_s), max(until_s, mark(sql, kept_from(lasts_s))))
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


def mark(sql: sqlite3.Connection, name: str) -> int:
    """Return where a mark stands, 0 where it was never set."""
    row = sql.execute("SELECT at_s FROM marks WHERE name = ?", (name,)).fetchone()
    return 0 if row is None else int(row[0])


def _set_mark(sql: sqlite3.Connection, name: str, at_s: int) -> None:
    sql.execute(
        "INSERT INTO marks VALUES (?, ?) ON CONFLICT DO UPDATE SET at_s = excluded.at_s", (name, at_s)
    )
