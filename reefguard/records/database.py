"""A SQLite database with one writer, as that writer sees it.

Write-ahead log, so that others read while it writes.  A database that cannot
be read, is of another program or of a later version is set aside, never
deleted and never written to, and a new one begun; an older version is brought
up to date, one step after the other, in a transaction each.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Final, Literal, NamedTuple

# How long SQLite waits for somebody who has the database locked.
PATIENCE_S: Final = 5.0

# Of pages kept in memory; SQLite's own measure is 2000.
_CACHE_KIB: Final = 256


class Broken(Exception):  # noqa: N818  it names a condition of the disk, not a bug
    """The database cannot be read; the message says why."""


class Kind(NamedTuple):
    """What a database of ours is known by.

    Attributes:
        what: what it holds, in a word.
        file_name: in the state directory.
        application_id: as file(1) sees it.
        steps: statements that lead from each version to the next; the first make an empty file version 1.
        synchronous: `FULL`: what was committed has reached the disk.  `NORMAL`: a power cut may cost the
            last commits, never the file.
        page_size: bytes; only an empty file takes it.
        log_pages: how many the log holds before it is folded into the file.
    """

    what: str
    file_name: str
    application_id: int
    steps: tuple[tuple[str, ...], ...]
    synchronous: Literal["FULL", "NORMAL"]
    page_size: int = 4_096
    log_pages: int = 1_000


class Database:
    """An open database.  Used from one thread at a time; everything here may block as long as the disk does.

    Attributes:
        sql: the connection, for reading; writing goes through `transaction`.
    """

    def __init__(self, directory: Path, kind: Kind) -> None:
        """Open or create it.

        Raises:
            Broken: what is there is damaged, or no database of this kind and version.
            sqlite3.Error: it cannot be opened now.
        """
        self._path = directory / kind.file_name
        self.sql = sqlite3.connect(
            self._path, timeout=PATIENCE_S, isolation_level=None, check_same_thread=False
        )
        try:
            with _telling_damage():
                self._prepare(kind)
            self._inode = self._path.stat().st_ino
        except BaseException:
            self.sql.close()
            raise

    @contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """Write all of what is done inside, or none of it.

        Raises:
            Broken: the database turned out to be damaged.
            sqlite3.Error: it could not be written; nothing of it was.
        """
        with _telling_damage():
            self._still_there()
            self.sql.execute("BEGIN IMMEDIATE")
            try:
                yield self.sql
                self.sql.execute("COMMIT")
            except BaseException:
                if self.sql.in_transaction:
                    self.sql.execute("ROLLBACK")
                raise

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """Read from it.

        Raises:
            Broken: the database turned out to be damaged.
            sqlite3.Error: it could not be read.
        """
        with _telling_damage():
            yield self.sql

    def close(self) -> None:
        """Let go of it, as well as can be."""
        with suppress(sqlite3.Error):
            self.sql.close()

    def _prepare(self, kind: Kind) -> None:
        version = self.sql.execute("PRAGMA user_version").fetchone()[0]
        application = self.sql.execute("PRAGMA application_id").fetchone()[0]
        tables = self.sql.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
        if not tables:
            version = 0
            self.sql.execute(f"PRAGMA page_size={kind.page_size}")
        elif application != kind.application_id or not 1 <= version <= len(kind.steps):
            message = f"it is no {kind.what} database of version {len(kind.steps)}"
            raise Broken(message)
        elif version == len(kind.steps) and not _tables_wanted(kind) <= _tables(self.sql):
            message = f"its tables are not those of {kind.what} of version {version}"
            raise Broken(message)
        # The check reads all of it, once: that must not stay in memory.
        self.sql.execute(f"PRAGMA cache_size=-{_CACHE_KIB}")
        checked = self.sql.execute("PRAGMA quick_check(1)").fetchone()[0]
        if checked != "ok":
            raise Broken(checked)
        self.sql.execute("PRAGMA journal_mode=WAL")
        self.sql.execute(f"PRAGMA synchronous={kind.synchronous}")
        self.sql.execute(f"PRAGMA wal_autocheckpoint={kind.log_pages}")
        for number, step in enumerate(kind.steps[version:], start=version + 1):
            self.sql.execute("BEGIN IMMEDIATE")
            for statement in step:
                self.sql.execute(statement)
            self.sql.execute(f"PRAGMA application_id={kind.application_id}")
            self.sql.execute(f"PRAGMA user_version={number}")
            self.sql.execute("COMMIT")

    def _still_there(self) -> None:
        """See that the file is the one that was opened: what goes into a deleted one is lost."""
        try:
            there = self._path.stat().st_ino == self._inode
        except OSError:
            there = False
        if not there:
            message = "the file has been taken away"
            raise sqlite3.OperationalError(message)


def set_aside(path: Path) -> Path:
    """Move a damaged database, with what belongs to it, out of the way; return where to.

    Raises:
        OSError: it could not be moved.
    """
    aside = path.with_name(f"{path.name}.broken-{highest_set_aside(path) + 1}")
    path.replace(aside)
    # Under these names SQLite finds them again.
    for belongs in ("-wal", "-shm"):
        with suppress(FileNotFoundError):
            path.with_name(f"{path.name}{belongs}").replace(aside.with_name(f"{aside.name}{belongs}"))
    return aside


def highest_set_aside(path: Path) -> int:
    """Return the number of the database of this name that was set aside last, 0 where there is none."""
    numbers = [one.name.rpartition("-")[2] for one in path.parent.glob(f"{path.name}.broken-*")]
    return max((int(number) for number in numbers if number.isdecimal()), default=0)


def as_text(text: str | None) -> str | None:
    """Return what UTF-8 can hold: bytes of a file's name that are no text come here as lone surrogates."""
    return None if text is None else text.encode(errors="backslashreplace").decode()


def _tables_wanted(kind: Kind) -> set[tuple[str, str]]:
    with closing(sqlite3.connect(":memory:")) as sql:
        for step in kind.steps:
            for statement in step:
                sql.execute(statement)
        return _tables(sql)


def _tables(sql: sqlite3.Connection) -> set[tuple[str, str]]:
    """Return each table with each of its columns."""
    return set(
        sql.execute(
            "SELECT one.name, belongs.name FROM sqlite_schema AS one, pragma_table_info(one.name) AS belongs "
            "WHERE one.type = 'table'"
        )
    )


@contextmanager
def _telling_damage() -> Iterator[None]:
    """Raise `Broken` in place of SQLite's error if that is what it means."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", None)
        if isinstance(code, int) and code & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            raise Broken(str(error)) from error
        raise
