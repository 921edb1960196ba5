"""A database of the guard's, as others read it: while the guard writes, after its end, after it was killed.

A reader writes nothing, not even SQLite's own index of the log, so it needs
no right to.  Each question opens the database anew: a reader that holds one
open would keep the log from being folded in, and would not see one that was
set aside.
"""

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from reefguard.records.database import PATIENCE_S


class Unread(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """The database cannot be read; the message says which and why."""


@contextmanager
def opened(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a database to ask one question.

    Raises:
        Unread: it is not there, cannot be read, or does not hold what was asked for; from within, too.
    """
    try:
        with open_for_reading(path) as sql:
            yield sql
    except FileNotFoundError:
        message = f"{path} is not there: no guard has run with these settings"
        raise Unread(message) from None
    except (sqlite3.Error, OSError, ValueError) as error:
        why = (error.strerror if isinstance(error, OSError) else None) or str(error)
        message = f"{path} cannot be read: {why}"
        raise Unread(message) from error


@contextmanager
def open_for_reading(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a database without writing anything beside it, whoever else has it open.

    Raises:
        FileNotFoundError: it is not there.
        OSError, sqlite3.Error: it cannot be read.
    """
    # What is missing, or may not be read, shall say so in the system's words, not in SQLite's.
    path.open("rb").close()
    log, index = path.with_name(f"{path.name}-wal"), path.with_name(f"{path.name}-shm")
    if not (log.exists() and index.exists()):
        # SQLite would make a log that is missing, in the reader's name: the guard could not write to it.
        yield from _without_index(path, log)
        return
    try:
        connection = _connected(path, "mode=ro&readonly_shm=1")
    except sqlite3.OperationalError:
        # They went away, or are of nobody who has the database open.
        yield from _without_index(path, log)
    else:
        with closing(connection):
            yield connection


def _without_index(path: Path, log: Path) -> Iterator[sqlite3.Connection]:
    if not log.exists():
        # Closed in order, all of it in one file.
        with closing(_connected(path, "mode=ro&immutable=1")) as connection:
            yield connection
        return
    # The machine went down under it.  The next guard will mend it; until then a copy tells what it holds.
    with tempfile.TemporaryDirectory(prefix="reefguard-read-") as private:
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
