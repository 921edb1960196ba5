"""Where the files are when nobody says: in /etc, or on the bench that the environment names."""

import os
from pathlib import Path


def settings_file() -> Path:
    """Return the guard's settings file."""
    return _file("reefguard.yaml")


def limits_file() -> Path:
    """Return the cutoff's limits file."""
    return _file("cutoff.yaml")


def one_wire_directory() -> Path:
    """Return where the kernel shows the probes."""
    bench = os.environ.get("REEFGUARD_BENCH")
    return Path(bench) / "w1" if bench else Path("/sys/bus/w1/devices")


def _file(name: str) -> Path:
    bench = os.environ.get("REEFGUARD_BENCH")
    return Path(bench or "/etc/reefguard") / name
