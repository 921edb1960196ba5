"""Every command our texts name is one that can be given, and restoring goes as they tell it."""

import os
import re
import subprocess
from pathlib import Path

import pytest
from bench_rig import Rig, no_traceback
from told_commands import ROOT, TEXTS, inline, is_ours, lines, parse, parts

from reefguard.records.event_reader import EventReader

NOTES = ROOT / "hardware-notes"
UNITS = {path.name.removesuffix(".service") for path in (ROOT / "systemd").glob("*.service")}
# Of every system, or made before; each is told of in words that say what it shows.
_OTHERS = {
    "bash", "cat", "chown", "cp", "df", "git", "install", "journalctl", "ls", "nano", "python3", "reboot",
    "systemctl", "systemd/install", "tar", ".venv/bin/pip", ".venv-test/bin/pip", ".venv-test/bin/pytest",
    ".venv-test/bin/ruff", ".venv-test/bin/mypy", ".venv-test/bin/lint-imports",
}  # fmt: skip


@pytest.mark.parametrize("text", TEXTS, ids=lambda text: str(text.relative_to(ROOT)))
def test_every_command_can_be_given(text: Path) -> None:
    told = [*lines(text), *inline(text)]
    for line in told:
        ran = subprocess.run(["bash", "-n", "-c", line], capture_output=True, text=True, check=False)
        assert ran.returncode == 0, line
        for words in parts(line):
            if is_ours(words):
                parse(words)
            else:
                assert words[0] in _OTHERS, line
            if words[0] in {"systemctl", "journalctl"}:
                named = [word for word in words if word.startswith("reefguard")]
                assert set(named) <= UNITS, line
    assert told or text.name in {"failures.md", "contacts.md", "placement.md", "README.md"}


# Those that change nothing outside the bench, and end by themselves soon.
_RUN = {"alarms", "backup", "check", "cutoff", "plan", "status"}


def test_those_of_the_notes_that_can_be_run_run_on_a_bench(tmp_path: Path) -> None:
    ran_at_all = set()
    with Rig(tmp_path) as rig:
        rig.water(26.0)
        rig.cutoff()
        rig.guard()
        rig.ticks()
        rig.until(rig.cutoff_status, "the cutoff tells")
        here = str(rig.bench.directory)
        for text in sorted(NOTES.glob("*.md")):
            for line in lines(text):
                for words in parts(line):
                    if not is_ours(words) or words[1] not in _RUN:
                        continue
                    arguments = [
                        word.replace("/home/pi", str(tmp_path)).replace("/etc/reefguard", here)
                        for word in words[1:]
                    ]
                    arguments = [
                        str(tmp_path / word) if word.endswith((".yaml", ".gz")) else word
                        for word in arguments
                    ]
                    ran = rig.command(*arguments)
                    if "--example" in arguments:
                        (tmp_path / "tank.yaml").write_text(ran.stdout, encoding="utf-8")
                    elif "backup" in arguments:
                        Path(arguments[-1]).unlink()
                    assert no_traceback(ran.stderr), line
                    assert "Usage:" not in ran.stderr, line
                    assert ran.stdout, (line, ran.stderr)
                    ran_at_all.add(words[1])
    assert ran_at_all == _RUN


def test_restoring_goes_as_the_notes_tell_it(tmp_path: Path) -> None:
    with Rig(tmp_path / "bench") as rig:
        rig.water(26.0)
        rig.guard()
        rig.ticks()
        saved = tmp_path / "reefguard.tar.gz"
        assert rig.command("backup", str(saved)).returncode == 0
        settings = rig.bench.settings.read_bytes()
    (unpack,) = [line for line in lines(NOTES / "keeping.md") if line.startswith("tar ")]
    told = lines(NOTES / "keeping.md")
    restoring = told[told.index(unpack) :][:5]
    new = tmp_path / "new"
    (new / "etc/reefguard").mkdir(parents=True)
    (new / "var/lib").mkdir(parents=True)
    me, mine = os.getuid(), os.getgid()
    for line in restoring:
        here = re.sub(r"(?<= )/(etc|var)/", f"{new}/\\1/", line).removeprefix("sudo ")
        here = here.replace("-o reefguard -g reefguard", f"-o {me} -g {mine}")
        here = here.replace("reefguard:reefguard", f"{me}:{mine}")
        ran = subprocess.run(["bash", "-c", here], cwd=tmp_path, capture_output=True, text=True, check=False)
        assert ran.returncode == 0, (here, ran.stderr)
    assert (new / "etc/reefguard/reefguard.yaml").read_bytes() == settings
    assert EventReader(new / "var/lib/reefguard").history(1)
    # The cutoff's latch stays out.
    assert not (new / "var/lib/reefguard-cutoff").exists()
    assert not list(new.rglob("latch"))
