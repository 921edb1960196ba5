"""The status file: what a process says of itself, for whoever may read it.

Written each tick, replaced whole, not waited for: it lives in the runtime
directory, in memory, and is gone with the boot.
"""

import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reefguard.records.files import replace_file

FILE_NAME = "status.json"


@dataclass(frozen=True, slots=True)
class NoStatus:
    """There is nothing to read, and why."""

    why: str


def write(directory: Path, status: Mapping[str, Any]) -> None:
    """Replace the status file.

    Raises:
        OSError: it could not be written.
    """
    content = json.dumps(status, indent=1, ensure_ascii=False).encode() + b"\n"
    replace_file(directory / FILE_NAME, content, durable=False)


def remove(directory: Path) -> None:
    """Take the status file away, as far as that can be done."""
    with suppress(OSError):
        (directory / FILE_NAME).unlink()


def read(path: Path) -> dict[str, Any] | NoStatus:
    """Read a status file, the guard's or the cutoff's."""
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return NoStatus(f"{path} is not there: the program is not running, or not with these settings")
    except OSError as error:
        return NoStatus(f"{path} cannot be read: {error.strerror or error}")
    try:
        status = json.loads(content, parse_constant=_refuse)
    except (ValueError, RecursionError) as error:
        return NoStatus(f"{path} is not a status file: {error}")
    if not isinstance(status, dict):
        return NoStatus(f"{path} is not a status file: it holds no object")
    return status


def _refuse(constant: str) -> None:
    """Refuse NaN and the infinities, which Python reads and JSON (RFC 8259) does not know."""
    message = f"{constant} stands where a value belongs"
    raise ValueError(message)
