"""Fetch a limits file from the disk."""

from pathlib import Path

from reefguard.cutoff.limits import Setup, read, unreadable
from reefguard.cutoff.strict_yaml import MOST_CHARACTERS, Problem


def read_limits_file(path: Path) -> Setup | list[Problem]:
    """Read a limits file, whatever is in it."""
    try:
        with path.open("rb") as file:
            content = file.read(4 * MOST_CHARACTERS + 1)
    except OSError as error:
        return unreadable(
            f"it cannot be read ({error.strerror})",
            "name the limits file with --limits FILE, and see who may read it",
        )
    try:
        return read(content.decode("utf-8"))
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        return unreadable(f"line {line} is not UTF-8 text", "save it as UTF-8")
