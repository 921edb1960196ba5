"""A clock that may run fast, and a wall clock that may be set, for the bench (`ports.Clock`).

`DIR/clock.json`, when there is one, says what the wall clock shows:

    {"wall": "2031-07-14T20:45:00+02:00", "at_boot_s": 81000.5, "trusted": true}

At `at_boot_s` of this clock the wall clock stood at `wall`; the two run on
together.  Replace the file under running programs to set their wall clocks.
A bench directory belongs to one boot of the machine and one speed.
"""

import json
import math
import os
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from reefguard.vocabulary import Wall

_BOOT_ID: Final = Path("/proc/sys/kernel/random/boot_id")


def speed_in(environ: Mapping[str, str]) -> float:
    """Return how many times faster than life the bench shall run; 1 unless REEFGUARD_BENCH_SPEED says so.

    Raises:
        ValueError: it says no number from 1 up, or there is no bench to run fast.

    >>> speed_in({"REEFGUARD_BENCH": "/tmp/bench", "REEFGUARD_BENCH_SPEED": "60"})
    60.0
    """
    text = environ.get("REEFGUARD_BENCH_SPEED")
    if text is None:
        return 1.0
    if not environ.get("REEFGUARD_BENCH"):
        raise ValueError(
            "REEFGUARD_BENCH_SPEED is set but REEFGUARD_BENCH is not: a clock may run fast on a bench only; "
            "mend: unset REEFGUARD_BENCH_SPEED"
        )
    try:
        speed = float(text)
    except ValueError:
        speed = math.nan
    if not 1 <= speed < math.inf:
        raise ValueError(
            f"REEFGUARD_BENCH_SPEED is `{text}`, which is no number from 1 up; "
            "mend: write how many times faster than life, such as 60, or unset it"
        )
    return speed


@dataclass(frozen=True, slots=True)
class _WallSetting:
    """What the wall clock showed, and when."""

    wall: datetime
    at_boot_s: float
    trusted: bool


class BenchClock:
    """Boot time times a speed, and a wall clock that a file sets."""

    def __init__(self, directory: Path, speed: float = 1.0) -> None:
        """Make the clock of the bench in `directory`.

        At any speed but 1 the first of the bench's programs writes `clock.json`,
        with the time of day at that moment, so that all of them agree from then on.

        Raises:
            OSError: `clock.json` is missing and cannot be written.
        """
        self._speed = speed
        self._file = directory / "clock.json"
        if speed != 1:
            self._anchor()

    def boot_s(self) -> float:
        """Return seconds since boot as this clock counts them."""
        return time.clock_gettime(time.CLOCK_BOOTTIME) * self._speed

    def boot_id(self) -> str:
        """Return the kernel's name of this boot, at any speed: the cutoff's own code gives the same."""
        return _BOOT_ID.read_text(encoding="ascii").strip()

    def wall(self) -> Wall:
        """Return what the wall clock shows: by its file, else real local time.

        A file that cannot be understood is a clock that cannot be trusted.
        """
        try:
            setting = _setting_in(self._file.read_text(encoding="utf-8"))
            run_s = self.boot_s() - setting.at_boot_s
            return Wall(setting.wall + timedelta(seconds=run_s), setting.trusted)
        except FileNotFoundError:
            return Wall(datetime.now().astimezone(), trusted=True)
        except (OSError, ValueError, OverflowError):
            return Wall(datetime.now().astimezone(), trusted=False)

    def real_seconds(self, span_s: float) -> float:
        """Return how long `span_s` of this clock takes on a stopwatch."""
        return span_s / self._speed

    def _anchor(self) -> None:
        """Write the file unless there is one; of several programs at once, one succeeds."""
        content = {
            "wall": datetime.now().astimezone().isoformat(),
            "at_boot_s": self.boot_s(),
            "trusted": True,
        }
        self._file.parent.mkdir(parents=True, exist_ok=True)
        beside = self._file.with_name(f".{self._file.name}.{os.getpid()}")
        beside.write_text(json.dumps(content), encoding="utf-8")
        try:
            with suppress(FileExistsError):
                self._file.hardlink_to(beside)
        finally:
            beside.unlink()


def _setting_in(text: str) -> _WallSetting:
    """Return what `clock.json` says.

    Raises:
        ValueError: it is not JSON, or not of the form above.
    """
    match json.loads(text):
        case {"wall": str(wall_text), "at_boot_s": int() | float() as at_boot_s, **rest}:
            wall = datetime.fromisoformat(wall_text)
            trusted = rest.get("trusted", True)
        case _:
            raise ValueError("`wall` is no text, or `at_boot_s` is no number")
    if wall.tzinfo is None:
        raise ValueError("`wall` has no offset from UTC")
    if not isinstance(trusted, bool):
        raise ValueError("`trusted` is neither true nor false")  # noqa: TRY004  one error for one bad file
    return _WallSetting(wall, float(at_boot_s), trusted)
