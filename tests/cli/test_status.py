"""`reefguard status`: what it says, in what form, and with which exit code."""

import json
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bench_rig import Rig, no_traceback

from reefguard.rehearsal.bench_clock import BenchClock


@pytest.fixture(scope="module")
def working(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Rig]:
    """Return a bench with both programs at work and nothing wrong."""
    with Rig(tmp_path_factory.mktemp("working")) as rig:
        rig.chilling()
        rig.until(lambda: rig.mode() == "automatic" and not rig.findings(), "all is well")
        yield rig


@pytest.fixture
def idle(tmp_path: Path) -> Iterator[Rig]:
    """Return a bench on which nothing runs, as fast as life: a status on it grows old no sooner."""
    with Rig(tmp_path, speed=1.0) as rig:
        yield rig


def _status(rig: Rig, *options: str, **more: str) -> tuple[int, str, str]:
    said = rig.command("status", "--settings", str(rig.bench.settings), *options, **more)
    assert no_traceback(said.stdout + said.stderr)
    return said.returncode, said.stdout, said.stderr


def _written(rig: Rig, **changes: Any) -> dict[str, Any]:
    """Write a status file as the guard would, with changes; `None` takes a key out."""
    clock = BenchClock(rig.bench.directory, rig.speed)
    status: dict[str, Any] = {
        "boot_id": clock.boot_id(),
        "written_s": clock.boot_s(),
        "sampling_s": 10.0,
        "mode": "automatic",
        "findings": [],
    } | changes
    status = {key: value for key, value in status.items() if value is not None}
    (rig.bench.run / "status.json").write_text(json.dumps(status), encoding="utf-8")
    return status


def test_a_healthy_tank_is_ok_and_0_with_the_values_for_graphs_on_the_first_line(working: Rig) -> None:
    code, said, _ = _status(working)
    first, *page = said.splitlines()
    assert code == 0
    assert first == (
        "OK - water 27.50 °C, mode automatic"
        " | 'display'=27.5;24.0:27.8;24.0:27.8 'sump'=27.5;24.0:27.8;24.0:27.8"
    )
    # Monitoring Plugins Development Guidelines, "Performance data": one bar, before the values.
    assert first.count("|") == 1
    text = "\n".join(page)
    for words in ("tank", "mode", "water", "lights", "fan1", "fan2", "chiller", "cutoff", "safe band"):
        assert words in text


def test_json_has_the_keys_people_rely_on(working: Rig) -> None:
    code, said, _ = _status(working, "--json")
    status = json.loads(said)
    assert code == 0
    assert status["mode"] == "automatic"
    assert status["water"]["warmest_c"] == status["water"]["coldest_c"] == 27.5
    assert set(status["outputs"]) == {"fan1", "fan2", "chiller"}
    for output in status["outputs"].values():
        assert output["on"] is True
        assert output["why"]
    assert status["cutoff"]["permits"] is True
    assert status["cutoff"]["state"] == "permitting"
    assert status["age_s"] >= 0.0
    assert status["condition"] == "healthy"


def test_without_a_guard_it_is_unknown_and_3_and_json_still_has_the_keys(idle: Rig) -> None:
    code, said, _ = _status(idle)
    assert code == 3
    assert said.startswith("UNKNOWN - ")
    assert str(idle.bench.run / "status.json") in said
    assert "mend: measure the water by hand; then see `systemctl status reefguard`" in said
    code, said, _ = _status(idle, "--json")
    status = json.loads(said)
    assert code == 3
    assert (status["mode"], status["water"], status["outputs"], status["cutoff"]) == (None, None, {}, None)
    assert status["age_s"] is None


@pytest.mark.parametrize(
    ("findings", "code", "word"),
    [
        ([], 0, "OK"),
        ([{"severity": "warning", "name": "w", "what": "this", "mend": "that"}], 1, "WARNING"),
        ([{"severity": "warning", "what": "this"}, {"severity": "critical", "what": "those"}], 2, "CRITICAL"),
        ([{"severity": "unheard of", "what": "this"}], 1, "WARNING"),
    ],
)
def test_findings_decide_the_exit_code_and_the_worst_is_said_first(
    idle: Rig, findings: list[dict[str, str]], code: int, word: str
) -> None:
    _written(idle, findings=findings)
    said_code, said, _ = _status(idle)
    assert (said_code, said.split(" ", 1)[0]) == (code, word)
    if code == 2:
        assert ": those" in said.splitlines()[0]


def test_a_silent_guard_is_critical_and_2_however_well_it_was(idle: Rig) -> None:
    clock = BenchClock(idle.bench.directory, idle.speed)
    _written(idle, written_s=clock.boot_s() - 3_600.0, sampling_s=5.0)
    code, said, _ = _status(idle)
    assert code == 2
    assert "CRITICAL - the guard has been silent for 1 h" in said
    assert "mend: read `journalctl -u reefguard`" in said
    assert " | " not in said, "old values are no values for a graph"
    code, said, _ = _status(idle, "--json")
    assert json.loads(said)["age_s"] >= 3_600.0


def test_a_stopped_process_grows_silent(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.guard()
        rig.until(lambda: rig.mode() == "automatic", "the guard is at work")
        rig.programs["guard"].send_signal(signal.SIGSTOP)
        rig.until(lambda: "the guard has been silent" in _status(rig)[1], "its silence is seen")


def test_a_status_of_another_boot_or_of_another_clock_is_unknown(idle: Rig) -> None:
    _written(idle, boot_id="another")
    code, said, _ = _status(idle)
    assert code == 3
    assert "before the last boot" in said

    # By a clock that goes half as fast, the status is of a time to come.
    _written(idle)
    code, said, _ = _status(idle, REEFGUARD_BENCH_SPEED="0.5")
    assert code == 3
    assert "REEFGUARD_BENCH_SPEED" in said


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[]",
        b"\xff\xfe",
        b"[" * 100_000,
        b"{}",
        b'{"written_s": NaN, "sampling_s": 5}',
        b'{"written_s": true, "sampling_s": 5}',
        b'{"written_s": 1' + b"0" * 400 + b', "sampling_s": 5}',
        b'{"written_s": 1e999, "sampling_s": 5}',
    ],
)
def test_garbage_is_unknown_and_said_in_words(idle: Rig, content: bytes) -> None:
    (idle.bench.run / "status.json").write_bytes(content)
    code, said, _ = _status(idle)
    assert code == 3
    assert said.startswith(f"UNKNOWN - {idle.bench.run / 'status.json'}")


@pytest.mark.parametrize(
    "options", [["--no-such"], ["--settings"], ["more"], ["--json", "--watch"], ["--json=yes"]]
)
def test_wrong_usage_is_unknown_and_3_for_2_would_be_a_tank_in_danger(idle: Rig, options: list[str]) -> None:
    said = idle.command("status", *options)
    assert said.returncode == 3
    assert no_traceback(said.stderr)


def test_a_settings_file_with_errors_still_leads_to_the_status(working: Rig) -> None:
    broken = working.bench.directory / "broken.yaml"
    broken.write_text(f'runtime_directory: "{working.bench.run}"\ntank: [', encoding="utf-8")
    said = working.command("status", "--settings", str(broken))
    assert said.returncode == 0
    assert said.stdout.startswith("OK - ")


def test_settings_that_cannot_be_read_are_named_when_nothing_is_found(idle: Rig) -> None:
    said = idle.command("status", "--settings", str(idle.bench.directory / "none.yaml"))
    assert said.returncode == 3
    assert "none.yaml: it cannot be read" in said.stderr
    assert "mend: " in said.stderr


def test_temperatures_are_shown_in_the_keepers_unit_and_graphed_in_celsius(idle: Rig) -> None:
    _written(
        idle,
        show_temperatures_in="°F",
        water={"warmest_c": 25.0},
        safe_band={"low_c": 24.0, "high_c": 27.8},
        probes={"display": {"water_c": 25.0, "shows_c": 25.0, "used": True, "cause": "in order"}},
    )
    code, said, _ = _status(idle)
    assert code == 0
    assert said.startswith("OK - water 77.00 °F, mode automatic | 'display'=25.0;24.0:27.8;24.0:27.8\n")
    assert "safe band 75.20 °F to 82.04 °F" in said
