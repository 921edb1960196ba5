"""The command line as a person meets it: wrong words and missing things end in sentences."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from bench_rig import DEADLINE_S, Rig, no_traceback


def _run(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "reefguard", *arguments],
        env={"PATH": "/usr/bin:/bin", "PYTHONPATH": ":".join(sys.path), **environment},
        capture_output=True,
        text=True,
        timeout=DEADLINE_S,
        check=False,
    )


def test_help_names_every_command_and_where_to_begin() -> None:
    said = _run("--help")
    assert said.returncode == 0
    for command in ("check", "cutoff", "demo", "guard", "status"):
        assert f"\n  {command} " in said.stdout
    assert "reefguard demo" in said.stdout


@pytest.mark.parametrize("command", ["check", "cutoff", "demo", "guard", "status"])
def test_every_command_explains_itself(command: str) -> None:
    said = _run(command, "--help")
    assert said.returncode == 0
    assert "\\b" not in said.stdout
    assert said.stdout.startswith(f"Usage: reefguard {command}") or "Usage:" in said.stdout


@pytest.mark.parametrize(
    "arguments",
    [
        ["no-such-command"],
        ["guard", "--no-such"],
        ["guard", "more"],
        ["demo", "--speed", "0"],
        ["demo", "--speed", "601"],
        ["demo", "--speed", "nan"],
        ["demo", "--hours", "nan"],
        ["demo", "--hours", "0"],
        ["demo", "--hours", "-1"],
        ["demo", "--hours", "long"],
        ["demo", "--prepare", __file__],
    ],
)
def test_wrong_usage_ends_with_2_and_a_sentence(arguments: list[str]) -> None:
    said = _run(*arguments)
    assert said.returncode == 2
    assert "Error: " in said.stderr
    assert no_traceback(said.stderr)


def test_a_bench_that_cannot_be_made_is_said_with_its_mend() -> None:
    said = _run("demo", "--prepare", "/proc/no/such")
    assert said.returncode == 1
    assert "/proc/no/such" in said.stderr
    assert "mend: " in said.stderr
    assert no_traceback(said.stderr)


BENCH = {"GPIOZERO_PIN_FACTORY": "bench"}


@pytest.mark.parametrize(
    ("environment", "code", "words"),
    [
        ({}, 69, "GPIO"),
        ({"GPIOZERO_PIN_FACTORY": "no-such"}, 69, "no-such"),
        (BENCH, 69, "REEFGUARD_BENCH is not set"),
        ({"REEFGUARD_BENCH_SPEED": "60"}, 78, "REEFGUARD_BENCH is not"),
        (BENCH | {"REEFGUARD_BENCH": "/tmp", "REEFGUARD_BENCH_SPEED": "fast"}, 78, "`fast`"),  # noqa: S108  never used
        (BENCH | {"REEFGUARD_BENCH": "/proc/no/such", "REEFGUARD_BENCH_SPEED": "60"}, 78, "/proc/no/such"),
    ],
)
def test_an_environment_that_cannot_be_is_said_with_its_mend(
    tmp_path: Path, environment: dict[str, str], code: int, words: str
) -> None:
    with Rig(tmp_path) as rig:
        said = _run("guard", "--settings", str(rig.bench.settings), **environment)
        assert said.returncode == code, said
        assert words in said.stderr
        assert "mend: " in said.stderr or "; set it to" in said.stderr
        assert no_traceback(said.stderr)
        if code == 78:
            assert _run("status", "--settings", str(rig.bench.settings), **environment).returncode == 3


def test_a_bench_may_be_named_from_where_one_stands(tmp_path: Path) -> None:
    with Rig(tmp_path / "bench") as rig:
        said = subprocess.run(
            [sys.executable, "-m", "reefguard", "guard", "--once"],
            cwd=tmp_path,
            env={**os.environ, **BENCH, "REEFGUARD_BENCH": "bench"},
            capture_output=True,
            text=True,
            check=False,
        )
        assert said.returncode == 0, said
        assert rig.bench.settings.parent.joinpath("gpio", "GPIO22").read_text(encoding="ascii").strip() == "0"
    assert sorted(place.name for place in tmp_path.iterdir()) == ["bench"]


def test_a_clock_that_a_person_vouches_for_is_believed(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.settings(("sampling: 5 s", "sampling: 5 s\nclock: always right"))
        # No bench: the machine's own clock, which nobody may have set.
        once = _run("guard", "--once", "--settings", str(rig.bench.settings), GPIOZERO_PIN_FACTORY="mock")
    assert once.returncode == 0, once
    assert "by the hours in the settings" in once.stdout


def test_no_safe_levels_are_known_where_no_guard_ever_ran(tmp_path: Path) -> None:
    said = _run("guard", "--safe-levels", "--settings", str(tmp_path / "none.yaml"), "--state", str(tmp_path))
    assert said.returncode == 0
    assert f"no safe levels are known in {tmp_path}: no pin was touched" in said.stderr
