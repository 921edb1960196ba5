"""Secrets by their names: from the service manager's credentials, or from files only their user can read."""

import os
import stat
from collections.abc import Mapping
from pathlib import Path
from typing import Final

# `LoadCredential=link:DIRECTORY` puts this before the name of each file in it (systemd.exec(5)).
_PREFIX: Final = "link_"
_LONGEST: Final = 65_536
_OTHERS: Final = stat.S_IRWXG | stat.S_IRWXO


class NoSecret(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """A secret cannot be had; the message says why, and never what it is."""


class Secrets:
    """Finds secrets anew each time they are asked for: one that was mended is used at once."""

    def __init__(self, directory: Path, environ: Mapping[str, str] = os.environ) -> None:
        """Take note of where to look.

        Args:
            directory: the keeper's own, when the service manager gives none.
            environ: where the service manager says what it gives.
        """
        given = environ.get("CREDENTIALS_DIRECTORY")
        self._given = None if given is None else Path(given)
        self._directory = directory

    def lines(self, name: str) -> tuple[str, ...]:
        """Return the lines of a secret that are neither empty nor comments (`#`).

        Raises:
            NoSecret: it is not there, cannot be read, holds nothing, or others can read it.
        """
        path = self._path(name)
        try:
            text = path.read_bytes()[:_LONGEST].decode()
        except OSError as error:
            message = f"the secret `{name}` cannot be read: {path}: {error.strerror}"
            raise NoSecret(message) from None
        except UnicodeDecodeError:
            message = f"the secret `{name}` is no text: {path}"
            raise NoSecret(message) from None
        lines = tuple(line for one in text.splitlines() if (line := one.strip()) and not line.startswith("#"))
        if not lines:
            message = f"the secret `{name}` is empty: {path}; mend: write the address into it"
            raise NoSecret(message)
        return lines

    def one(self, name: str) -> str:
        """Return a secret of one line.

        Raises:
            NoSecret: as `lines`, or it has several lines.
        """
        lines = self.lines(name)
        if len(lines) > 1:
            message = f"the secret `{name}` has several lines where one is wanted"
            raise NoSecret(message)
        return lines[0]

    def _path(self, name: str) -> Path:
        if self._given is not None:
            for given in (self._given / f"{_PREFIX}{name}", self._given / name):
                if given.exists():
                    return given
        path = self._directory / name
        try:
            mode = path.stat().st_mode
        except OSError as error:
            raise NoSecret(self._missing(name, path, error)) from None
        if not stat.S_ISREG(mode):
            message = f"the secret `{name}` is no file: {path}"
            raise NoSecret(message)
        if mode & _OTHERS:
            message = f"the secret `{name}` can be read by others: {path}; mend: chmod 600 {path}"
            raise NoSecret(message)
        return path

    def _missing(self, name: str, path: Path, error: OSError) -> str:
        """Say why a secret cannot be had: the service manager looks once, a person may lack the right."""
        if self._given is not None:
            return (
                f"the secret `{name}` was not there when this was started; "
                f"mend: put the address into {path}, then: sudo systemctl restart reefguard-link"
            )
        if isinstance(error, PermissionError):
            return f"the secret `{name}` may not be read by you: {path}; mend: run this with sudo"
        return (
            f"the secret `{name}` is not there: {path}: {error.strerror}; "
            "mend: put the address into this file, readable by the link's user only"
        )
