"""Where the files are when nobody says: in /etc, or on the bench that the environment names."""

import os
from pathlib import Path


def settings_file() -> Path:
    """Return the guard's settings file."""
    return _file("reefguard.yaml")


def limits_file() -> Path:
    """Return the cutoff's limits file."""
    return _file("cutoff.yaml")


def _file(name: str) -> Path:
    bench = os.environ.get("REEFGUARD_BENCH")
    return Path(bench or "/etc/reefguard") / name
