"""The events database, as its one writer sees it.

SQLite with a write-ahead log and `synchronous=FULL`: what `append` returned
from has reached the disk, and others read while it writes.  A database that
cannot be read is set aside, never deleted, and a new one begun.
"""

import json
import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Final

from reefguard.records import databases
from reefguard.records.databases import Kind, told
from reefguard.records.events import APPLICATION_ID, COLUMNS, FILE_NAME, SCHEMA, USER_VERSION, Event

# A new database counts on from far above the one set aside before it, so that no reader's place lies ahead.
SEQ_STEP: Final = 1_000_000_000_000

# Kept at each start of the guard: at 60 changes of outputs a day, nine years of them.
MOST_OUTPUTS: Final = 200_000
MOST_OTHERS: Final = 100_000

_INSERT: Final = f"INSERT INTO events({COLUMNS}) VALUES ({', '.join('?' * 11)})"  # noqa: S608  our own columns

_KIND: Final = Kind("events", APPLICATION_ID, USER_VERSION)


class EventStore:
    """An open events database.  Used from one thread."""

    def __init__(self, directory: Path) -> None:
        """Open or create it.  Everything here may block as long as the disk does.

        Raises:
            Broken: what is there is damaged, or no events database of this version.
            sqlite3.Error: it cannot be opened now.
        """
        self._path = directory / FILE_NAME
        self._open = sqlite3.connect(
            self._path, timeout=databases.PATIENCE_S, isolation_level=None, check_same_thread=False
        )
        try:
            self._prepare()
        except BaseException as error:
            self._open.close()
            raise told(error) from error
        self._inode = self._path.stat().st_ino

    def append(self, events: Sequence[Event], remembered: Mapping[str, str] | None = None) -> None:
        """Add events in their order, and keep texts by name: all of it or none.

        Raises:
            Broken: the database turned out to be damaged.
            sqlite3.Error: it could not be written; nothing of it was.
        """
        try:
            databases.still_there(self._path, self._inode)
            self._open.execute("BEGIN IMMEDIATE")
            try:
                self._open.executemany(_INSERT, [_row(event) for event in events])
                self._open.executemany(
                    "INSERT INTO remembered(name, value) VALUES (?, ?) "
                    "ON CONFLICT(name) DO UPDATE SET value = excluded.value",
                    [(name, _as_text(value)) for name, value in (remembered or {}).items()],
                )
                self._open.execute("COMMIT")
            except BaseException:
                if self._open.in_transaction:
                    self._open.execute("ROLLBACK")
                raise
        except sqlite3.Error as error:
            raise told(error) from error

    def remembered(self, name: str) -> str | None:
        """Return the text kept under a name, or `None`.

        Raises:
            Broken: the database is damaged.
            sqlite3.Error: it could not be read.
        """
        try:
            row = self._open.execute("SELECT value FROM remembered WHERE name = ?", (name,)).fetchone()
        except sqlite3.Error as error:
            raise told(error) from error
        return None if row is None else str(row[0])

    def close(self) -> None:
        """Let go of it, as well as can be."""
        with suppress(sqlite3.Error):
            self._open.close()

    def _prepare(self) -> None:
        tables = databases.checked(self._open, _KIND)
        self._open.execute("PRAGMA journal_mode=WAL")
        self._open.execute("PRAGMA synchronous=FULL")
        if not tables:
            self._create()
        else:
            self._let_go()

    def _let_go(self) -> None:
        """Let go of the oldest beyond so many.  By their number, not by a clock that may be wrong."""
        for which, most in (("= 'output'", MOST_OUTPUTS), ("<> 'output'", MOST_OTHERS)):
            self._open.execute(
                f"DELETE FROM events WHERE kind {which} AND seq <= (SELECT seq FROM events "  # noqa: S608  our own words
                f"WHERE kind {which} ORDER BY seq DESC LIMIT 1 OFFSET ?)",
                (most,),
            )

    def _create(self) -> None:
        first = SEQ_STEP * databases.highest_set_aside(self._path)
        self._open.execute("BEGIN IMMEDIATE")
        for statement in SCHEMA:
            self._open.execute(statement)
        self._open.execute("INSERT INTO sqlite_sequence(name, seq) VALUES ('events', ?)", (first,))
        self._open.execute("COMMIT")


def set_aside(directory: Path) -> Path:
    """Move a damaged database, with what belongs to it, out of the way; return where to.

    Raises:
        OSError: it could not be moved.
    """
    return databases.set_aside(directory / FILE_NAME)


def _row(event: Event) -> tuple[object, ...]:
    details = None if event.details is None else json.dumps(event.details, ensure_ascii=False)
    return (
        event.boot_id,
        event.at_boot_s,
        event.at_wall,
        int(event.clock_trusted),
        event.kind,
        _as_text(event.subject),
        event.change,
        event.priority,
        _as_text(event.what),
        _as_text(event.who),
        _as_text(details),
    )


def _as_text(text: str | None) -> str | None:
    """Return what UTF-8 can hold: bytes of a file's name that are no text come here as lone surrogates."""
    return None if text is None else text.encode(errors="backslashreplace").decode()
