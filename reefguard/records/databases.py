"""What our databases have in common: how one that is damaged is known, and put out of the way."""

import sqlite3
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

PATIENCE_S = 5.0


class Broken(Exception):  # noqa: N818  it names a condition of the disk, not a bug
    """A database cannot be read; the message says why."""


class Kind(NamedTuple):
    """What tells one of our databases.

    Attributes:
        name: what it is called in a sentence.
        application_id: for file(1) and for ourselves: a database of somebody else's is left alone.
        version: of its tables.
    """

    name: str
    application_id: int
    version: int


def checked(connection: sqlite3.Connection, kind: Kind) -> bool:
    """See that a database is of a kind and sound; return whether it has tables already.

    Raises:
        Broken: it is damaged, or another's.
        sqlite3.Error: it cannot be read.
    """
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    application = connection.execute("PRAGMA application_id").fetchone()[0]
    tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if tables and (application, version) != (kind.application_id, kind.version):
        message = f"it is no {kind.name} database of version {kind.version}"
        raise Broken(message)
    said = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if said != "ok":
        raise Broken(said)
    return bool(tables)


def still_there(path: Path, inode: int) -> None:
    """See that the file is the one that was opened: what goes into a deleted one is lost.

    Raises:
        sqlite3.OperationalError: it is another, or none.
    """
    try:
        there = path.stat().st_ino == inode
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
    """Return the highest number a database of this name was set aside under, 0 for none."""
    numbers = [one.name.rpartition("-")[2] for one in path.parent.glob(f"{path.name}.broken-*")]
    return max((int(number) for number in numbers if number.isdecimal()), default=0)


def told(error: BaseException) -> BaseException:
    """Return the error, or that the database is damaged if that is what it means."""
    code = getattr(error, "sqlite_errorcode", None)
    if isinstance(code, int) and code & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return Broken(str(error))
    return error
