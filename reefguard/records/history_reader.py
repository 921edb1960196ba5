"""The history database, as others read it: while the guard writes, after its end, after it was killed."""

import math
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Final, NamedTuple, TypeVar

from reefguard.records.database_reader import Unread, opened
from reefguard.records.history import (
    FILE_NAME,
    FIVE_MINUTES_S,
    FOLDED,
    HOUR_S,
    LONGEST_ROW_MS,
    MINUTE_S,
    TABLES,
    DayTotals,
    Interval,
    Past,
    Series,
    Span,
    Watch,
    kept_from,
    key_from,
)

# Those made already, and of minutes that are not folded yet, those still to be made.
_MADE: Final = """
SELECT key % 256, key / 256 * 60, mean, low, high, :lasts - lost_ms FROM {table}
 WHERE key >= :begin AND key < :end"""
_TO_BE_MADE: Final = """
UNION ALL
SELECT key % 256, key / 256 / :span * :span * 60 AS slot,
  sum(1.0 * mean * (60000 - lost_ms)) / sum(60000 - lost_ms), min(low), max(high), sum(60000 - lost_ms)
 FROM minutes WHERE key >= max(:folded, :begin) AND key < :end GROUP BY slot, key % 256"""

_Answer = TypeVar("_Answer")


class NoHistory(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """The history cannot be read; the message says why."""


class Extent(NamedTuple):
    """From when to when something is recorded (Unix seconds)."""

    from_s: float
    until_s: float


class HistoryReader:
    """Reads the history that the guard has written."""

    def __init__(self, directory: Path) -> None:
        """Take note of the guard's state directory; nothing is opened yet."""
        self._path = directory / FILE_NAME

    def past(self, from_s: float, until_s: float, most_spans: int) -> Past:
        """Return a stretch of time, as finely as `most_spans` a series allow and as it is still kept.

        Hours are the coarsest there is, however many they are.

        Raises:
            NoHistory: there is no database, or it cannot be read.
        """

        def answer(sql: sqlite3.Connection) -> Past:
            marks = _marks(sql)
            for lasts_s in (MINUTE_S, FIVE_MINUTES_S):
                few = until_s - from_s <= most_spans * lasts_s
                if few and from_s >= marks.get(kept_from(lasts_s), 0):
                    return _past(sql, from_s, until_s, lasts_s, marks)
            return _past(sql, from_s, until_s, HOUR_S, marks)

        return self._asked(answer)

    def stretch(self, from_s: float, until_s: float, span_s: int) -> Past:
        """Return a stretch of time in spans of 60, 300 or 3600 s, as far back as such are kept.

        Raises:
            NoHistory: there is no database, or it cannot be read.
        """
        return self._asked(lambda sql: _past(sql, from_s, until_s, span_s, _marks(sql)))

    def kept_from(self, span_s: int) -> float:
        """Return since when spans of 60, 300 or 3600 s are kept; 0 where all still are.

        Raises:
            NoHistory: there is no database, or it cannot be read.
        """
        return self._asked(lambda sql: float(_marks(sql).get(kept_from(span_s), 0)))

    def extent(self) -> Extent | None:
        """Return from when to when something is recorded, or `None` where nothing is.

        Raises:
            NoHistory: there is no database, or it cannot be read.
        """

        def answer(sql: sqlite3.Connection) -> Extent | None:
            first_ms, last_ms = sql.execute("SELECT min(from_ms), max(until_ms) FROM watches").fetchone()
            return None if first_ms is None else Extent(first_ms / 1_000, last_ms / 1_000)

        return self._asked(answer)

    def watches(self, from_s: float, until_s: float) -> tuple[Watch, ...]:
        """Return when in a stretch of time the guard recorded, in order; cut to the stretch.

        Raises:
            NoHistory: there is no database, or it cannot be read.
        """

        def answer(sql: sqlite3.Connection) -> tuple[Watch, ...]:
            rows = sql.execute(
                "SELECT from_ms / 1000.0, until_ms / 1000.0 FROM watches "
                "WHERE until_ms > ? AND from_ms < ? ORDER BY from_ms",
                (from_s * 1_000, until_s * 1_000),
            )
            return tuple(Watch(max(begin_s, from_s), min(end_s, until_s)) for begin_s, end_s in rows)

        return self._asked(answer)

    def days(self, first: str, last: str) -> tuple[DayTotals, ...]:
        """Return the totals of the local days from `first` to `last`, both included (ISO 8601).

        Raises:
            NoHistory: there is no database, or it cannot be read.
        """
        return self._asked(lambda sql: tuple(_days(sql, first, last)))

    def _asked(self, answer: Callable[[sqlite3.Connection], _Answer]) -> _Answer:
        try:
            with opened(self._path) as sql:
                # What is read belongs together, though the guard goes on writing.
                sql.execute("BEGIN")
                return answer(sql)
        except Unread as error:
            raise NoHistory(str(error)) from error


def _marks(sql: sqlite3.Connection) -> dict[str, int]:
    return dict(sql.execute("SELECT name, at_s FROM marks").fetchall())


def _past(
    sql: sqlite3.Connection, from_s: float, until_s: float, lasts_s: int, marks: dict[str, int]
) -> Past:
    named = {
        number: Series(name, kind)
        for number, name, kind in sql.execute("SELECT id, name, kind FROM series ORDER BY id")
    }
    spans: dict[int, list[Span]] = defaultdict(list)
    # From the span that the beginning lies in.
    begin_s = math.floor(from_s / lasts_s) * lasts_s
    asked = {
        "span": lasts_s // MINUTE_S,
        "lasts": lasts_s * 1_000,
        "begin": key_from(begin_s),
        "end": key_from(math.ceil(until_s / MINUTE_S) * MINUTE_S),
        "folded": key_from(marks.get(FOLDED, 0)),
    }
    question = _MADE.format(table=TABLES[lasts_s]) + (_TO_BE_MADE if lasts_s > MINUTE_S else "")
    scales = {number: 10_000 if series.kind == "humidity" else 1_000 for number, series in named.items()}
    for number, at_s, mean, low, high, good_ms in sql.execute(question, asked):
        scale = scales[number]
        spans[number].append(
            Span(at_s, lasts_s, mean / scale, low / scale, high / scale, good_ms / (lasts_s * 1_000))
        )
    series = {named[number]: tuple(spans[number]) for number in named if number in spans}
    return Past(from_s, until_s, lasts_s, series, tuple(_intervals(sql, from_s, until_s)))


def _intervals(sql: sqlite3.Connection, from_s: float, until_s: float) -> Iterator[Interval]:
    rows = sql.execute(
        "SELECT output, from_ms / 1000.0, until_ms / 1000.0, running, start FROM runs "
        "WHERE from_ms >= ? AND from_ms < ? ORDER BY from_ms",
        (from_s * 1_000 - 2 * LONGEST_ROW_MS, until_s * 1_000),
    )
    whole = (
        Interval(output, begin_s, end_s, bool(running), bool(start))
        for output, begin_s, end_s, running, start in rows
    )
    for one in sorted(_joined(whole), key=lambda one: one.from_s):
        if one.until_s > from_s:
            yield _cut(one, from_s, until_s)


def _joined(rows: Iterable[Interval]) -> Iterator[Interval]:
    """Make one interval of what goes on from row to row."""
    under_way: dict[str, Interval] = {}
    for row in rows:
        before = under_way.get(row.output)
        if before is not None and not row.start and row.from_s == before.until_s:
            under_way[row.output] = before._replace(until_s=row.until_s, running=row.running)
            continue
        if before is not None:
            yield before
        under_way[row.output] = row
    yield from under_way.values()


def _cut(one: Interval, from_s: float, until_s: float) -> Interval:
    if one.from_s < from_s:
        one = one._replace(from_s=from_s, start=False)
    if one.until_s > until_s:
        one = one._replace(until_s=until_s, running=False)
    return one


def _days(sql: sqlite3.Connection, first: str, last: str) -> Iterator[DayTotals]:
    ran_s: dict[str, dict[str, float]] = defaultdict(dict)
    starts: dict[str, dict[str, int]] = defaultdict(dict)
    for date, output, ran_ms, count in sql.execute(
        "SELECT date, output, ran_ms, starts FROM day_outputs WHERE date BETWEEN ? AND ?", (first, last)
    ):
        ran_s[date][output] = ran_ms / 1_000
        starts[date][output] = count
    for date, low, high, known_ms, guarded_ms, above_ms, below_ms, warmest, above, below in sql.execute(
        "SELECT date, low, high, known_ms, guarded_ms, above_ms, below_ms, warmest_mc_s, above_mk_s, "
        "below_mk_s FROM days WHERE date BETWEEN ? AND ? ORDER BY date",
        (first, last),
    ):
        yield DayTotals(
            date=date,
            low_c=None if low is None else low / 1_000,
            high_c=None if high is None else high / 1_000,
            mean_c=warmest / known_ms if known_ms else None,
            known_s=known_ms / 1_000,
            guarded_s=guarded_ms / 1_000,
            above_s=above_ms / 1_000,
            below_s=below_ms / 1_000,
            above_k_h=above / 1_000 / HOUR_S,
            below_k_h=below / 1_000 / HOUR_S,
            ran_s=ran_s[date],
            starts=starts[date],
        )
