"""The status file: what the cutoff says of itself, for everybody to read and nobody to obey."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from reefguard.cutoff import words
from reefguard.cutoff.ds18b20 import Sample
from reefguard.cutoff.limits import Setup
from reefguard.cutoff.trip import Cutoff, HeldOff, Hold, Tripped

FILE_NAME: Final = "status.json"
SCHEMA: Final = "reefguard.cutoff/1"

SILENT_AFTER_S: Final = 15.0
"""Stopwatch seconds: three of the slowest loops; older than this, the cutoff has gone silent."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of the last request of a kind: accepted or not, why, who asked, and its name."""

    accepted: bool
    why: str
    who: str
    request: str


def document(
    cutoff: Cutoff,
    *,
    latest: Sample | None,
    setup: Setup,
    boot_id: str,
    last_reset: Outcome | None,
    last_test: Outcome | None = None,
    faults: list[str],
) -> dict[str, Any]:
    """Return the status as it goes into the file; `water_c` is null unless the reading is fresh and good."""
    evidence, limits = cutoff.evidence, setup.limits
    fresh = not evidence.silent(cutoff.seen_s, limits)
    cause = None
    if isinstance(cutoff.state, HeldOff):
        cause = cutoff.state.why.value
    elif isinstance(cutoff.state, Tripped):
        cause = cutoff.state.cause.value
    return {
        "schema": SCHEMA,
        "state": words.state_name(cutoff),
        "permits": cutoff.permits_cooling,
        "why": words.grounds(cutoff, latest, setup),
        "cause": cause,
        "water_c": evidence.water_c if fresh else None,
        "limit_c": limits.limit_c,
        "recovery_c": limits.recovered_c,
        "boot_id": boot_id,
        "written_s": cutoff.seen_s,
        "since_s": cutoff.since_s,
        "self_releases": len(cutoff.losses_s),
        "proof_test_since_s": cutoff.since_s if cutoff.state == HeldOff(Hold.PROOF_TEST) else None,
        "last_reset": _outcome(last_reset),
        "last_test": _outcome(last_test),
        "faults": faults,
    }


def _outcome(of: Outcome | None) -> dict[str, Any] | None:
    if of is None:
        return None
    return {"accepted": of.accepted, "why": of.why, "who": of.who, "request": of.request}


def stopped(said: dict[str, Any]) -> dict[str, Any]:
    """Return the last status of a cutoff that has been stopped."""
    return said | {"state": "stopped", "permits": False, "why": "nothing may cool until it runs again"}


def publish(directory: Path, said: dict[str, Any]) -> str | None:
    """Replace the status file in one go; return what went wrong, in words.

    Not forced to the disk: it lives in memory, and the next loop writes it anew.
    """
    beside = directory / f".{FILE_NAME}.new"
    try:
        beside.write_text(f"{json.dumps(said, ensure_ascii=False)}\n", encoding="utf-8")
        beside.chmod(0o644)
        beside.replace(directory / FILE_NAME)
    except OSError as error:
        return f"the status file cannot be written ({error.strerror})"
    return None


def read_status(directory: Path) -> dict[str, Any]:
    """Return the status that a cutoff last wrote.

    Raises:
        OSError: it cannot be read.
        ValueError: it is no status of a cutoff.
    """
    said = json.loads((directory / FILE_NAME).read_text(encoding="utf-8"))
    if not isinstance(said, dict) or said.get("schema") != SCHEMA:
        raise ValueError(f"{directory / FILE_NAME} is no status of a cutoff")
    return said
