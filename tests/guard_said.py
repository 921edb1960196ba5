"""What a guard's status file says, for tests of those who only read it."""

from datetime import UTC, datetime
from typing import Any

from reefguard.link.ports import Snapshot

WRITTEN = datetime(2031, 7, 14, 13, 5, 20, tzinfo=UTC)


def probe(water_c: float | None = 26.0625, **changes: Any) -> dict[str, Any]:
    """Return what the status says of a probe."""
    return {
        "id": "28-0000000000d1",
        "used": water_c is not None,
        "water_c": water_c,
        "shows_c": water_c,
        "age_s": None if water_c is None else 2.5,
        "quality": "missing" if water_c is None else "pass",
        "cause": "in order",
    } | changes


def output(*, on: bool = False, **changes: Any) -> dict[str, Any]:
    """Return what the status says of an output."""
    return {
        "on": on,
        "level": float(on),
        "why": "display reads 26.06 °C, below the cut-in of 26.80 °C",
        "blocked_by": None,
        "blocked_until_s": None,
        "since_s": 40.0,
        "elapsed_active_s": 812.5,
        "changes": 4,
    } | changes


def alarm(name: str, what: str, **changes: Any) -> dict[str, Any]:
    """Return what the status says of an alarm."""
    return {
        "name": name,
        "state": "unacknowledged",
        "priority": 3,
        "what": what,
        "means": "it means something",
        "first": "do something",
        "since_s": 300.0,
        "raised_wall": WRITTEN.isoformat(),
        "shelved_until_s": None,
    } | changes


def status(**changes: Any) -> dict[str, Any]:
    """Return a healthy tank's status."""
    return {
        "schema": "reefguard.status/1",
        "version": "0.1.0",
        "tank": "Lagoon",
        "boot_id": "b",
        "written_s": 1000.0,
        "written": WRITTEN.isoformat(),
        "clock_trusted": True,
        "sampling_s": 5.0,
        "mode": "automatic",
        "water": {
            "warmest_c": 26.0625,
            "warmest_probe": "display",
            "coldest_c": 25.9375,
            "coldest_probe": "sump",
            "age_s": 2.5,
        },
        "safe_band": {"low_c": 24.0, "high_c": 27.8},
        "probes": {"display": probe(), "sump": probe(25.9375)},
        "room": {"air_c": 24.5, "relative_humidity": 0.55, "fans_cool_above_c": 20.1},
        "lights": {"on": True, "told": "the schedule"},
        "outputs": {"chiller": output(), "left": output(on=True, level=0.4)},
        "cutoff": {"state": "permitting", "permits": True, "why": "the water is warm enough", "age_s": 1.0},
        "findings": [],
        "alarms": [],
    } | changes


def seen(**changes: Any) -> Snapshot:
    """Return a fresh snapshot of that status."""
    return Snapshot(status(**changes), fresh=True, age_s=1.5)


def silent(**changes: Any) -> Snapshot:
    """Return a snapshot of a guard that has said nothing for a while."""
    return Snapshot(status(**changes), fresh=False, age_s=300.0)


NOTHING = Snapshot(None, fresh=False, age_s=None)
