"""The levels that make every load safe, kept where they can be read without the settings.

Written at each good start.  When the guard is gone, whoever cleans up after
it drives these levels, even if the settings file cannot be read any more.
"""

import json
from dataclasses import asdict, dataclass
from pathlib import Path

from reefguard.records.files import replace_file
from reefguard.settings.model import Settings

FILE_NAME = "safe-levels.json"


@dataclass(frozen=True, slots=True)
class SafeLevel:
    """A pin, its safe electrical level (True is high), and the load behind it.

    `load_on` says whether the load runs at that level: a fan may.
    """

    output: str
    pin: int
    high: bool
    load_on: bool


def of(settings: Settings) -> tuple[SafeLevel, ...]:
    """Return the safe levels: the chiller off, each fan as its settings name it.

    The chiller comes first: it is the one that can do harm.
    """
    levels = []
    if settings.chiller is not None:
        wiring = settings.chiller.wiring
        levels.append(SafeLevel("chiller", wiring.pin, wiring.electrical_level(load_on=False), False))
    if settings.fans is not None:
        levels += [
            SafeLevel(
                fan.name,
                fan.wiring.pin,
                fan.wiring.electrical_level(load_on=fan.runs_at_rest),
                fan.runs_at_rest,
            )
            for fan in settings.fans.fans
        ]
    return tuple(levels)


def save(directory: Path, levels: tuple[SafeLevel, ...]) -> None:
    """Write them, if they differ from what stands there.

    Raises:
        OSError: they could not be written.
    """
    if load(directory) == levels:
        return
    rows = [asdict(level) for level in levels]
    replace_file(directory / FILE_NAME, json.dumps(rows, indent=1).encode() + b"\n", durable=True)


def load(directory: Path) -> tuple[SafeLevel, ...]:
    """Read them back; what cannot be read is nothing."""
    try:
        rows = json.loads((directory / FILE_NAME).read_bytes())
        return tuple(
            SafeLevel(str(row["output"]), int(row["pin"]), bool(row["high"]), bool(row["load_on"]))
            for row in rows
            if 0 <= int(row["pin"]) <= 53
        )
    except (OSError, ValueError, KeyError, TypeError, OverflowError, RecursionError):
        return ()
