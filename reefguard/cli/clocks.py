"""Picks the clock: the machine's own, or a bench's when the environment names one.  Loads no device."""

import os
from pathlib import Path

from reefguard.hardware.clock import SystemClock
from reefguard.hardware.ports import Clock
from reefguard.rehearsal.bench_clock import BenchClock, speed_in


def open_clock(*, always_right: bool = False) -> Clock:
    """Return the machine's clock, or the bench's.

    Raises:
        ValueError: the environment names a speed or a bench that cannot be.
    """
    speed = speed_in(os.environ)
    bench = os.environ.get("REEFGUARD_BENCH")
    if not bench:
        return SystemClock(always_right=always_right)
    try:
        return BenchClock(Path(bench), speed)
    except OSError as error:
        raise ValueError(
            f"the bench in {bench} cannot be used: {error.strerror or error}; "
            "mend: make one with `reefguard demo --prepare DIR`, and name it in REEFGUARD_BENCH"
        ) from error
