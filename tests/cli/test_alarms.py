"""`reefguard alarms`, `acknowledge`, `shelve`, `unshelve`, with a real guard and without one."""

import json
import os
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from bench_rig import DEADLINE_S, Rig, no_traceback

from reefguard.cli.alarm_client import ask
from reefguard.guard.command_socket import CommandSocket


def _run(rig: Rig, command: str, *options: str) -> tuple[int, str, str]:
    said = rig.command(command, "--settings", str(rig.bench.settings), *options)
    assert no_traceback(said.stdout + said.stderr)
    return said.returncode, said.stdout, said.stderr


def _names(rig: Rig) -> set[str]:
    return {one["name"] for one in rig.status().get("alarms", [])}


@pytest.fixture
def idle(tmp_path: Path) -> Iterator[Rig]:
    """Return a bench on which nothing runs."""
    with Rig(tmp_path) as rig:
        yield rig


@pytest.fixture(scope="module")
def alarmed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Rig]:
    """Return a bench with a guard whose water is too warm and whose cutoff is silent."""
    with Rig(tmp_path_factory.mktemp("alarmed")) as rig:
        rig.water(28.4)
        rig.guard()
        rig.until(lambda: {"water high", "cutoff silent"} <= _names(rig), "both alarms stand")
        yield rig


def test_alarms_are_listed_acknowledged_shelved_and_told_of(alarmed: Rig) -> None:
    code, said, _ = _run(alarmed, "alarms")
    assert code == 0
    assert "HIGH, act within the hour: water high (unacknowledged)" in said
    assert "28.38 °C, above the safe band's 27.80 °C" in said
    assert "first: see that fans and chiller run" in said

    assert _run(alarmed, "acknowledge", "water high") == (0, "acknowledged: water high\n", "")
    # At once, not with the next tick.
    assert "water high (acknowledged)" in _run(alarmed, "alarms")[1]

    assert _run(alarmed, "shelve", "cutoff silent")[1] == "shelved for 2 h: cutoff silent\n"
    assert _run(alarmed, "shelve", "cutoff silent", "--for", "90 min")[1] == (
        "shelved for 1 h 30 min: cutoff silent\n"
    )
    assert "cutoff silent (shelved for another 1 h" in _run(alarmed, "alarms")[1]
    assert _run(alarmed, "unshelve", "cutoff silent")[1] == "unshelved: cutoff silent\n"
    assert _run(alarmed, "acknowledge", "--all")[1] == "acknowledged: cutoff silent\n"

    code, listed, _ = _run(alarmed, "alarms", "--json")
    by_name: dict[str, dict[str, Any]] = {one["name"]: one for one in json.loads(listed)["alarms"]}
    assert by_name["cutoff silent"]["state"] == "acknowledged"
    assert by_name["water high"]["priority"] == 3

    told = json.loads(_run(alarmed, "alarms", "--history", "--json")[1])
    assert {one["who"] for one in told if one["kind"] == "command"} == {alarmed.bench.directory.owner()}
    changes = [one["change"] for one in told if one["subject"] == "cutoff silent"]
    assert changes == ["raised", "shelved", "unshelved", "raised", "acknowledged"]
    last = _run(alarmed, "alarms", "--history", "1")[1]
    assert last.endswith("cutoff silent: acknowledged by " + alarmed.bench.directory.owner() + "\n")
    assert len(last.splitlines()) == 1


def test_who_looks_after_a_command_sees_what_it_did_before_the_next_tick(alarmed: Rig) -> None:
    def seen_before_a_tick(command: str) -> bool:
        before_s = alarmed.status()["written_s"]
        ask(alarmed.bench.run, {"command": command, "alarm": "water high"})
        status = alarmed.status()
        if status["written_s"] != before_s:
            return False  # a tick came between
        states = [one["state"] for one in status["alarms"] if one["name"] == "water high"]
        assert (states == ["shelved"]) == (command == "shelve")
        return True

    def both() -> bool:
        shelved, unshelved = seen_before_a_tick("shelve"), seen_before_a_tick("unshelve")
        alarmed.ticks()  # so many commands a tick are too many
        return shelved and unshelved

    alarmed.until(both, "no tick came between a command and a look")


@pytest.mark.parametrize(
    ("command", "options", "why"),
    [
        ("acknowledge", [], "give one alarm's name, or --all"),
        ("acknowledge", ["water high", "--all"], "give one alarm's name, or --all"),
        (
            "acknowledge",
            ["water hih"],
            "no alarm named 'water hih' waits to be acknowledged; what there is: 'cutoff",
        ),
        ("shelve", ["water high", "--for", "2 d"], "`d` is no unit of a length of time"),
        ("shelve", ["water high", "--for", "25h"], "for 1 min to 24 h, not for 25 h"),
        ("unshelve", ["water low"], "no alarm named 'water low' is shelved"),
        ("alarms", ["--history", "0"], "0 is not in the range"),
    ],
)
def test_what_cannot_be_done_is_said(alarmed: Rig, command: str, options: list[str], why: str) -> None:
    code, said, error = _run(alarmed, command, *options)
    assert code != 0
    assert said == ""
    assert why in error


def test_without_a_guard_each_command_says_so(idle: Rig) -> None:
    for command, *options in (
        ["alarms"],
        ["alarms", "--json"],
        ["acknowledge", "--all"],
        ["shelve", "water high"],
        ["unshelve", "water high"],
        ["alarms", "--history"],
    ):
        code, said, error = _run(idle, command, *options)
        assert code == 1
        assert said == ""
        assert str(idle.bench.directory) in error


def test_of_a_guard_that_died_the_history_is_told_and_no_command_is_taken(idle: Rig) -> None:
    idle.water(26.0)
    idle.guard()
    idle.until(lambda: idle.mode() == "automatic", "the guard is at work")
    idle.end("guard", signal.SIGKILL)
    code, said, _ = _run(idle, "alarms", "--history")
    assert code == 0
    assert "the guard has started" in said
    code, _, error = _run(idle, "acknowledge", "--all")
    assert code == 1
    assert "no guard listens" in error


# Asks as somebody who is not in the group.
STRANGER = """
import os
from pathlib import Path
from reefguard.cli.alarm_client import NotAnswered, ask
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
try:
    print(ask(Path({directory!r}), {{"command": "acknowledge", "alarm": None}}))
except NotAnswered as error:
    print(error)
"""


def test_who_is_not_in_the_group_is_told_which_one() -> None:
    with tempfile.TemporaryDirectory() as name:
        directory = Path(name)
        directory.chmod(0o755)
        commands = CommandSocket(directory, lambda *_: {"said": "done"})
        if os.geteuid() != 0:
            (directory / "commands.sock").chmod(0o060)
        asked = subprocess.run(
            [sys.executable, "-c", STRANGER.format(directory=name)],
            env={"PYTHONPATH": ":".join(sys.path), "USER": "mara"},
            capture_output=True,
            text=True,
            timeout=DEADLINE_S,
            check=False,
        )
        commands.close()
        group = directory.group()
    assert asked.stderr == ""
    assert "you may not speak to the guard" in asked.stdout
    assert f"mend: `sudo usermod -aG {group} mara`" in asked.stdout
