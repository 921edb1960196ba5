"""What the guard remembers across restarts and power cuts.

One JSON file with a checksum, replaced whole.  Nothing in it can start a
compressor: after any start it counts as just stopped.  Counters survive a
reboot; times of the boot clock mean something only within the same boot.
"""

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from reefguard.records.files import replace_file
from reefguard.vocabulary import Mode

FILE_NAME = "memory.json"
_FORMAT = "reefguard.memory/1"


@dataclass(frozen=True, slots=True)
class KeptOutput:
    """An output's counters.

    Attributes:
        on: whether it was on at the time of writing.
        level: its level then, 0 to 1.
        elapsed_active_s: how long it was on in all.
        changes: how often it changed between off and on.
    """

    on: bool = False
    level: float = 0.0
    elapsed_active_s: float = 0.0
    changes: int = 0


@dataclass(frozen=True, slots=True)
class Kept:
    """All that is kept.

    Attributes:
        boot_id: the boot whose clock the times are of.
        saved_s: when it was written.
        saved_wall: the same for people, ISO 8601.
        mode: the mode then.
        last_known_s: when the water was last known, or `None`.
        compressor_stopped_s: when the compressor last stopped, or `None` (running, or no chiller).
        outputs: by name.
    """

    boot_id: str
    saved_s: float
    saved_wall: str
    mode: Mode
    last_known_s: float | None
    compressor_stopped_s: float | None
    outputs: Mapping[str, KeptOutput] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Unreadable:
    """The file is there but cannot be used; where it was set aside, if it could be."""

    why: str
    set_aside: Path | None


def save(directory: Path, kept: Kept) -> None:
    """Write the memory; on return it is on the disk.

    Raises:
        OSError: it could not be written; what was there before still is.
    """
    body = {
        "format": _FORMAT,
        "boot_id": kept.boot_id,
        "saved_s": kept.saved_s,
        "saved_wall": kept.saved_wall,
        "mode": kept.mode.value,
        "last_known_s": kept.last_known_s,
        "compressor_stopped_s": kept.compressor_stopped_s,
        "outputs": {
            name: {
                "on": output.on,
                "level": output.level,
                "elapsed_active_s": output.elapsed_active_s,
                "changes": output.changes,
            }
            for name, output in kept.outputs.items()
        },
    }
    document = {"checksum": _checksum(body), "memory": body}
    content = json.dumps(document, indent=1, ensure_ascii=False).encode() + b"\n"
    replace_file(directory / FILE_NAME, content, durable=True, mode=0o640)


def load(directory: Path) -> Kept | Unreadable | None:
    """Read the memory back; `None` when there never was one.

    A file that cannot be used is set aside under another name, so that a
    person can still look at it and the next write does not destroy it.
    """
    path = directory / FILE_NAME
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        return Unreadable(error.strerror or str(error), None)
    try:
        return _parse(content)
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        return Unreadable(_in_words(error), _set_aside(path))


def _checksum(body: object) -> str:
    canonical = json.dumps(body, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(canonical.encode()).hexdigest()


def _parse(content: bytes) -> Kept:
    document = json.loads(content)
    body = document["memory"]
    if document["checksum"] != _checksum(body):
        raise ValueError("its checksum does not match")
    if body["format"] != _FORMAT:
        message = f"its format is {body['format']!r}, this program writes {_FORMAT!r}"
        raise ValueError(message)
    return Kept(
        boot_id=str(body["boot_id"]),
        saved_s=_number(body["saved_s"]),
        saved_wall=str(body["saved_wall"]),
        mode=Mode(body["mode"]),
        last_known_s=_optional(body["last_known_s"]),
        compressor_stopped_s=_optional(body["compressor_stopped_s"]),
        outputs={
            str(name): KeptOutput(
                on=bool(one["on"]),
                level=min(1.0, max(0.0, _number(one["level"]))),
                elapsed_active_s=max(0.0, _number(one["elapsed_active_s"])),
                changes=max(0, int(_number(one["changes"]))),
            )
            for name, one in body["outputs"].items()
        },
    )


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        message = f"{value!r} stands where a number belongs"
        raise ValueError(message)
    return float(value)


def _optional(value: object) -> float | None:
    return None if value is None else _number(value)


def _in_words(error: Exception) -> str:
    if isinstance(error, KeyError):
        return f"{error} is missing in it"
    if isinstance(error, TypeError | AttributeError):
        return "its structure is not what this program writes"
    return str(error)


def _set_aside(path: Path) -> Path | None:
    aside = path.with_name(f"{path.name}.unreadable")
    try:
        path.replace(aside)
    except OSError:
        return None
    return aside
