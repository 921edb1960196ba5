"""One archive of what a keeper cannot make again: settings, records, the cutoff's latch.

It is made while everything runs: a database is copied as of one moment, and a
file that is replaced whole is found whole.  Only plain files are taken, and
none through a link: it may be root who makes the archive, of directories that
are others'.  The archive is complete, or it is not there.
"""

import io
import os
import re
import sqlite3
import stat
import tarfile
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import closing, suppress
from pathlib import Path
from typing import Final, NamedTuple

from reefguard.records.database_reader import open_for_reading

TOP: Final = "reefguard-backup"

_SQLITE: Final = b"SQLite format 3\0"
# What SQLite keeps beside a database; its content is in the copy.
_BESIDE: Final = ("-wal", "-shm", "-journal")
# What `replace_file` leaves when it is cut short.
_UNFINISHED: Final = re.compile(r"\..*\.new")


class NotArchived(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """There is no archive; the message says why."""


class Archived(NamedTuple):
    """What an archive holds: names as in it, and its size in bytes."""

    names: tuple[str, ...]
    size: int


def archive(
    target: Path,
    files: Mapping[str, Path],
    directories: Mapping[str, Path],
    about: str,
    owner: tuple[int, int],
) -> Archived:
    """Make the archive.

    Args:
        target: where it is made; nothing may be there.
        files: by their names in it; those that are not there are left out.
        directories: by their names in it, with all below them; the same.
        about: a text for whoever opens it.
        owner: the user and the group it is given to; -1 leaves it with who makes it.

    Raises:
        NotArchived: something cannot be read, there is nothing, or the archive cannot be written.
    """
    if target.exists() or target.is_symlink():
        message = f"{target} is there already; mend: name another file, or move that one away"
        raise NotArchived(message)
    if not target.parent.is_dir():
        message = f"{target.parent} is no directory; mend: make it, or name another place"
        raise NotArchived(message)
    try:
        with tempfile.TemporaryDirectory(prefix=".reefguard-backup-", dir=target.parent) as private:
            made = Path(private) / "archive"
            names = _written(made, _sources(files, directories), about, Path(private) / "copy")
            if not names:
                message = "no settings and no records are where they were looked for; there is no archive"
                raise NotArchived(message)
            with suppress(PermissionError):  # a stick with FAT knows no owners
                made.chmod(0o600)
                os.chown(made, *owner)
            size = made.stat().st_size
            made.rename(target)
            _reach_disk(target.parent)
    except OSError as error:
        about_what = error.filename or target
        message = f"{about_what}: {error.strerror or error}; there is no archive"
        if isinstance(error, PermissionError):
            message += "; mend: run it with sudo"
        raise NotArchived(message) from None
    return Archived(names, size)


def _sources(files: Mapping[str, Path], directories: Mapping[str, Path]) -> Iterator[tuple[str, Path]]:
    yield from ((name, path) for name, path in files.items() if path.exists())
    apart = {path.absolute() for path in directories.values()}
    for name, directory in directories.items():
        if directory.is_dir():
            for path in _below(directory, apart - {directory.absolute()}):
                yield f"{name}/{path.relative_to(directory)}", path


def _below(directory: Path, apart: set[Path]) -> Iterator[Path]:
    """Yield what is below a directory, in order; not what is another source of its own."""
    for entry in sorted(os.scandir(directory), key=lambda one: one.name):
        path = Path(entry.path)
        if entry.is_dir(follow_symlinks=False):
            if path.absolute() not in apart and not entry.name.startswith(".reefguard-backup-"):
                yield from _below(path, apart)
        elif (
            entry.is_file(follow_symlinks=False)
            and not entry.name.endswith(_BESIDE)
            and not _UNFINISHED.fullmatch(entry.name)
        ):
            yield path


def _written(made: Path, sources: Iterator[tuple[str, Path]], about: str, copy: Path) -> tuple[str, ...]:
    names = []
    with made.open("wb") as file:
        with tarfile.open(fileobj=file, mode="w:gz", format=tarfile.PAX_FORMAT) as packed:
            _put(packed, "README.txt", about.encode(), time.time())
            for name, path in sources:
                read = _content(path, copy)
                if read is not None:
                    _put(packed, name, *read)
                    names.append(name)
        file.flush()
        os.fsync(file.fileno())
    return tuple(names)


def _put(packed: tarfile.TarFile, name: str, content: bytes, modified: float) -> None:
    entry = tarfile.TarInfo(f"{TOP}/{name}")
    entry.size, entry.mtime, entry.mode = len(content), int(modified), 0o640
    packed.addfile(entry, io.BytesIO(content))


def _content(path: Path, copy: Path) -> tuple[bytes, float] | None:
    """Return a plain file's content, and when it was changed; `None` where there is none (any more)."""
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    except FileNotFoundError:
        return None
    with open(descriptor, "rb") as file:  # noqa: PTH123  of a descriptor, not of a path
        known = os.fstat(descriptor)
        if not stat.S_ISREG(known.st_mode):
            return None
        content = file.read()
    if content.startswith(_SQLITE):
        content = _database(path, copy) or content
    return content, known.st_mtime


def _database(path: Path, copy: Path) -> bytes | None:
    """Return a database as of one moment; `None` if it is damaged: then its bytes are all there is."""
    copy.unlink(missing_ok=True)
    try:
        with open_for_reading(path) as source, closing(sqlite3.connect(copy)) as whole:
            source.backup(whole)
            # One file, wherever it is unpacked.
            whole.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.Error as error:
        if error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            return None
        message = f"{path} cannot be copied: {error}; there is no archive; mend: run it again, with sudo"
        raise NotArchived(message) from None
    return copy.read_bytes()


def _reach_disk(directory: Path) -> None:
    descriptor = os.open(directory, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
