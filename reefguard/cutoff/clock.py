"""The boot clock: it never steps, and counts time asleep too.

A person setting the clock, a time server or a missing battery cannot move it.
On a bench `REEFGUARD_BENCH_SPEED` makes it run faster, for demonstrations.
"""

import math
import time
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path


class BenchError(Exception):
    """The bench's settings in the environment make no sense."""


@dataclass(frozen=True, slots=True)
class BootClock:
    """Seconds since boot, `speed` times as fast as a stopwatch."""

    speed: float = 1.0

    def now_s(self) -> float:
        """Return the time on this clock."""
        return time.clock_gettime(time.CLOCK_BOOTTIME) * self.speed

    def real_s(self, span_s: float) -> float:
        """Return how long `span_s` of this clock takes on a stopwatch."""
        return span_s / self.speed


def clock_from(environ: Mapping[str, str]) -> BootClock:
    """Return the clock this program shall go by.

    Raises:
        BenchError: a speed without a bench, or one that is no number from 1 up.
    """
    written = environ.get("REEFGUARD_BENCH_SPEED", "")
    if not written:
        return BootClock()
    if not environ.get("REEFGUARD_BENCH"):
        raise BenchError(
            "REEFGUARD_BENCH_SPEED is set but REEFGUARD_BENCH is not: a real tank's time is never sped up\n"
            "  mend: unset REEFGUARD_BENCH_SPEED, or name the bench in REEFGUARD_BENCH"
        )
    try:
        speed = float(written)
    except ValueError:
        speed = math.nan
    if not 1.0 <= speed < math.inf:
        raise BenchError(
            f"REEFGUARD_BENCH_SPEED is {written!r}, which is no speed\n"
            "  mend: write a number from 1 up, such as 60"
        )
    return BootClock(speed)


def boot_id() -> str:
    """Return the name of this boot: the boot clock of another boot means nothing.

    Source:
        proc_sys_kernel(5), /proc/sys/kernel/random/boot_id.

    Raises:
        OSError: /proc is not there.
    """
    return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()


def wall_text() -> str:
    """Return local time with its offset, for a person to read; nothing is decided by it."""
    return datetime.now().astimezone().isoformat(sep=" ", timespec="seconds")
