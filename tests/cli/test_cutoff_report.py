"""What the guard takes from the cutoff's status file: a report of this boot that it understands, or none."""

import json
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.cli.devices import read_cutoff
from reefguard.control.chiller import is_proof_test
from reefguard.rehearsal.bench_clock import BenchClock


def _report(clock: BenchClock, **changes: Any) -> dict[str, Any]:
    return {
        "boot_id": clock.boot_id(),
        "written_s": clock.boot_s() - 1.0,
        "state": "permitting",
        "permits": True,
        "why": "the water is warm enough",
    } | changes


def test_a_report_of_this_boot_is_taken(tmp_path: Path) -> None:
    clock = BenchClock(tmp_path)
    path = tmp_path / "status.json"
    path.write_text(json.dumps(_report(clock)), encoding="utf-8")
    report = read_cutoff(path, clock)
    assert report is not None
    assert (report.state, report.permits, report.why) == ("permitting", True, "the water is warm enough")


@pytest.mark.parametrize(
    "changes",
    [
        {"boot_id": "another"},
        {"boot_id": None},
        {"written_s": "now"},
        {"written_s": True},
        {"written_s": None},
        {"written_s": math.nan},
        {"written_s": math.inf},
        {"written_s": -1.0},
        {"written_s": 10**400},
        {"written_s": 1e12},  # from the future: it would never grow silent
    ],
)
def test_a_report_that_cannot_be_is_none(tmp_path: Path, changes: dict[str, Any]) -> None:
    clock = BenchClock(tmp_path)
    path = tmp_path / "status.json"
    path.write_text(json.dumps(_report(clock, **changes)), encoding="utf-8")
    assert read_cutoff(path, clock) is None


@pytest.mark.parametrize("since_s", [10**400, 1e400, -1e400, True, "now", [1.0], None])
def test_a_proof_test_of_a_time_that_cannot_be_ends_no_tick(tmp_path: Path, since_s: object) -> None:
    clock = BenchClock(tmp_path)
    path = tmp_path / "status.json"
    path.write_text(json.dumps(_report(clock, permits=False, proof_test_since_s=since_s)), encoding="utf-8")
    assert not is_proof_test(read_cutoff(path, clock), clock.boot_s())


@pytest.mark.parametrize("permits", [1, "true", "yes", None, [True], 1.0])
def test_only_true_permits(tmp_path: Path, permits: object) -> None:
    clock = BenchClock(tmp_path)
    path = tmp_path / "status.json"
    path.write_text(json.dumps(_report(clock, permits=permits)), encoding="utf-8")
    report = read_cutoff(path, clock)
    assert report is not None
    assert not report.permits


@given(st.binary(max_size=200))
@settings(deadline=None)
def test_any_bytes_are_a_report_or_none(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    directory = tmp_path_factory.getbasetemp()
    path = directory / "any-cutoff.json"
    path.write_bytes(content)
    assert read_cutoff(path, BenchClock(directory)) is None
    assert read_cutoff(directory, BenchClock(directory)) is None
    assert read_cutoff(directory / "none", BenchClock(directory)) is None
