"""The events database, as others read it: while the guard writes, after its end, after it was killed.

A reader writes nothing, not even SQLite's own index of the log, so it needs
no right to.  Each question opens the database anew: a reader that holds one
open would keep the log from being folded in, and would not see one that was
set aside.
"""

import json
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from reefguard.records.databases import PATIENCE_S
from reefguard.records.events import COLUMNS, FILE_NAME, Event, Recorded


class NoEvents(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """The events cannot be read; the message says why."""


class EventReader:
    """Reads the events that the guard has written."""

    def __init__(self, directory: Path) -> None:
        """Take note of the guard's state directory; nothing is opened yet."""
        self._path = directory / FILE_NAME

    def events_after(self, seq: int, limit: int) -> tuple[Recorded, ...]:
        """Return the first `limit` events after the one with `seq`, in order.

        Raises:
            NoEvents: there is no database, or it cannot be read.
        """
        return self._asked("WHERE seq > ? ORDER BY seq LIMIT ?", (seq, limit))

    def history(self, count: int) -> tuple[Recorded, ...]:
        """Return the newest `count` events, the newest last.

        Raises:
            NoEvents: there is no database, or it cannot be read.
        """
        return self._asked("ORDER BY seq DESC LIMIT ?", (count,))[::-1]

    def of_kind(self, kind: str, count: int) -> tuple[Recorded, ...]:
        """Return the newest `count` events of a kind, the newest last.

        Raises:
            NoEvents: there is no database, or it cannot be read.
        """
        return self._asked("WHERE kind = ? ORDER BY seq DESC LIMIT ?", (kind, count))[::-1]

    def between(self, from_s: float, until_s: float) -> tuple[Recorded, ...]:
        """Return the events of a stretch of time by the wall clock, in order of their writing.

        Args:
            from_s: Unix seconds.
            until_s: Unix seconds; an event of that second is not in it.

        Raises:
            NoEvents: there is no database, or it cannot be read.
        """
        # Their times carry offsets: as texts, those of a night with a change of clocks would be out of order.
        at_s = "CAST(strftime('%s', at_wall) AS INTEGER)"
        return self._asked(f"WHERE {at_s} >= ? AND {at_s} < ? ORDER BY seq", (from_s, until_s))

    def last_seq(self) -> int:
        """Return the place of the newest event, 0 where there is none.

        A reader whose own place is higher has another database's: it begins anew.

        Raises:
            NoEvents: there is no database, or it cannot be read.
        """
        newest = self.history(1)
        return newest[0].seq if newest else 0

    def _asked(self, which: str, values: tuple[float | str, ...]) -> tuple[Recorded, ...]:
        try:
            with opened(self._path) as database:
                rows = database.execute(
                    f"SELECT seq, {COLUMNS} FROM events {which}",  # noqa: S608  our own words
                    values,
                ).fetchall()
            return tuple(_recorded(row) for row in rows)
        except FileNotFoundError:
            message = f"{self._path} is not there: no guard has run with these settings"
            raise NoEvents(message) from None
        except (sqlite3.Error, OSError, ValueError) as error:
            why = (error.strerror if isinstance(error, OSError) else None) or str(error)
            message = f"{self._path} cannot be read: {why}"
            raise NoEvents(message) from error


@contextmanager
def opened(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a database of the guard without writing anything beside it, whoever else has it open.

    Raises:
        FileNotFoundError: it is not there.
        OSError, sqlite3.Error: it cannot be read.
    """
    # What is missing, or may not be read, shall say so in the system's words, not in SQLite's.
    path.open("rb").close()
    if not path.with_name(f"{path.name}-shm").exists():
        # The log's index is not there: nobody has the database open.  To open it as one with a log would make
        # an empty log: root's, where it is root who reads, and then the guard could not open its own events.
        yield from _without_index(path)
        return
    try:
        connection = _connected(path, "mode=ro&readonly_shm=1")
    except sqlite3.OperationalError:
        # The index has just gone, or nobody has it open any more.
        yield from _without_index(path)
    else:
        with closing(connection):
            yield connection


def _without_index(path: Path) -> Iterator[sqlite3.Connection]:
    log = path.with_name(f"{path.name}-wal")
    if not log.exists():
        # Closed in order, all of it in one file.
        with closing(_connected(path, "mode=ro&immutable=1")) as connection:
            yield connection
        return
    # The machine went down under it.  The next guard will mend it; until then a copy tells what it holds.
    with tempfile.TemporaryDirectory(prefix="reefguard-events-") as private:
        copy = Path(private) / path.name
        shutil.copyfile(path, copy)
        shutil.copyfile(log, copy.with_name(log.name))
        with closing(_connected(copy, "mode=rw")) as connection:
            yield connection


def _connected(path: Path, how: str) -> sqlite3.Connection:
    connection = sqlite3.connect(f"{path.absolute().as_uri()}?{how}", uri=True, timeout=PATIENCE_S)
    try:
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _recorded(row: tuple[Any, ...]) -> Recorded:
    seq, boot_id, at_boot_s, at_wall, trusted, kind, subject, change, priority, what, who, details = row
    return Recorded(
        seq,
        Event(
            boot_id=boot_id,
            at_boot_s=at_boot_s,
            at_wall=at_wall,
            clock_trusted=bool(trusted),
            kind=kind,
            subject=subject,
            change=change,
            what=what,
            priority=priority,
            who=who,
            details=None if details is None else json.loads(details),
        ),
    )
