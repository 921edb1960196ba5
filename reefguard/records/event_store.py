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

from reefguard.records.events import APPLICATION_ID, COLUMNS, FILE_NAME, SCHEMA, USER_VERSION, Event

# A new database counts on from far above the one set aside before it, so that no reader's place lies ahead.
SEQ_STEP: Final = 1_000_000_000_000

_INSERT: Final = f"INSERT INTO events({COLUMNS}) VALUES ({', '.join('?' * 11)})"  # noqa: S608  our own columns

_PATIENCE_S = 5.0


class Broken(Exception):  # noqa: N818  it names a condition of the disk, not a bug
    """The database cannot be read; the message says why."""


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
            self._path, timeout=_PATIENCE_S, isolation_level=None, check_same_thread=False
        )
        try:
            self._prepare()
        except BaseException as error:
            self._open.close()
            raise _told(error) from error
        self._inode = self._path.stat().st_ino

    def append(self, events: Sequence[Event], remembered: Mapping[str, str] | None = None) -> None:
        """Add events in their order, and keep texts by name: all of it or none.

        Raises:
            Broken: the database turned out to be damaged.
            sqlite3.Error: it could not be written; nothing of it was.
        """
        try:
            self._still_there()
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
            raise _told(error) from error

    def remembered(self, name: str) -> str | None:
        """Return the text kept under a name, or `None`.

        Raises:
            Broken: the database is damaged.
            sqlite3.Error: it could not be read.
        """
        try:
            row = self._open.execute("SELECT value FROM remembered WHERE name = ?", (name,)).fetchone()
        except sqlite3.Error as error:
            raise _told(error) from error
        return None if row is None else str(row[0])

    def close(self) -> None:
        """Let go of it, as well as can be."""
        with suppress(sqlite3.Error):
            self._open.close()

    def _prepare(self) -> None:
        version = self._open.execute("PRAGMA user_version").fetchone()[0]
        application = self._open.execute("PRAGMA application_id").fetchone()[0]
        tables = self._open.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
        if tables and (application != APPLICATION_ID or version != USER_VERSION):
            message = f"it is no events database of version {USER_VERSION}"
            raise Broken(message)
        checked = self._open.execute("PRAGMA quick_check(1)").fetchone()[0]
        if checked != "ok":
            raise Broken(checked)
        self._open.execute("PRAGMA journal_mode=WAL")
        self._open.execute("PRAGMA synchronous=FULL")
        if not tables:
            self._create()

    def _create(self) -> None:
        first = SEQ_STEP * _highest_set_aside(self._path)
        self._open.execute("BEGIN IMMEDIATE")
        for statement in SCHEMA:
            self._open.execute(statement)
        self._open.execute("INSERT INTO sqlite_sequence(name, seq) VALUES ('events', ?)", (first,))
        self._open.execute("COMMIT")

    def _still_there(self) -> None:
        """See that the file is the one that was opened: what goes into a deleted one is lost."""
        try:
            there = self._path.stat().st_ino == self._inode
        except OSError:
            there = False
        if not there:
            message = "the file has been taken away"
            raise sqlite3.OperationalError(message)


def set_aside(directory: Path) -> Path:
    """Move a damaged database, with what belongs to it, out of the way; return where to.

    Raises:
        OSError: it could not be moved.
    """
    path = directory / FILE_NAME
    aside = path.with_name(f"{FILE_NAME}.broken-{_highest_set_aside(path) + 1}")
    path.replace(aside)
    # Under these names SQLite finds them again.
    for belongs in ("-wal", "-shm"):
        with suppress(FileNotFoundError):
            path.with_name(f"{FILE_NAME}{belongs}").replace(aside.with_name(f"{aside.name}{belongs}"))
    return aside


def _highest_set_aside(path: Path) -> int:
    numbers = [one.name.rpartition("-")[2] for one in path.parent.glob(f"{FILE_NAME}.broken-*")]
    return max((int(number) for number in numbers if number.isdecimal()), default=0)


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


def _told(error: BaseException) -> BaseException:
    """Return the error, or that the database is damaged if that is what it means."""
    code = getattr(error, "sqlite_errorcode", None)
    if isinstance(code, int) and code & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return Broken(str(error))
    return error
