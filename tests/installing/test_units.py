"""The units: the service manager understands them, and they are exposed to little."""

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

SYSTEMD = Path(__file__).parents[2] / "systemd"
# Of `systemd-analyze security`; 0 is no exposure, 10 is all.
WORST = {"reefguard.service": 1.0, "reefguard-cutoff.service": 1.0, "reefguard-link.service": 1.5}


@pytest.fixture(name="analyze")
def _analyze() -> str:
    found = shutil.which("systemd-analyze")
    if found is None:
        assert not os.environ.get("CI"), "systemd-analyze is missing"
        pytest.skip("needs systemd-analyze")
    return found


@pytest.mark.parametrize("name", WORST)
def test_its_exposure_is_small(analyze: str, name: str) -> None:
    ran = subprocess.run(
        [analyze, "security", "--offline=true", "--no-pager", SYSTEMD / name],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    score = re.search(r"Overall exposure level for \S+: ([0-9.]+)", ran.stdout)
    assert score is not None, ran.stderr
    assert float(score[1]) <= WORST[name]


@pytest.mark.parametrize("name", WORST)
def test_the_service_manager_understands_it(analyze: str, tmp_path: Path, name: str) -> None:
    # The program is not installed where the unit looks for it; all else is to be in order.
    copy = tmp_path / name
    text = (SYSTEMD / name).read_text(encoding="utf-8").replace("/opt/reefguard/bin/reefguard", "/bin/true")
    copy.write_text(text, encoding="utf-8")
    ran = subprocess.run([analyze, "verify", copy], capture_output=True, text=True, check=False)
    about_it = [line for line in ran.stderr.splitlines() if name in line]
    assert (ran.returncode, about_it) == (0, [])


@pytest.mark.parametrize("name", WORST)
def test_it_is_started_again_for_ever_but_not_on_settings_only_a_person_can_mend(name: str) -> None:
    lines = set((SYSTEMD / name).read_text(encoding="utf-8").splitlines())
    assert {
        "Type=notify",
        "Restart=always",
        "StartLimitIntervalSec=0",
        "RestartPreventExitStatus=78",
    } <= lines
    assert any(line.startswith("WatchdogSec=") for line in lines)
    # A Pi without network or time must still guard the tank.
    waits = [
        line for line in lines if line.startswith(("After=", "Requires=", "Wants=", "BindsTo=", "PartOf="))
    ]
    assert waits == []


@pytest.mark.parametrize("name", ["reefguard.service", "reefguard-cutoff.service"])
def test_whatever_ends_it_its_outputs_are_made_safe(name: str) -> None:
    text = (SYSTEMD / name).read_text(encoding="utf-8")
    assert re.search(
        r"^ExecStopPost=/opt/reefguard/bin/reefguard (guard --safe-levels|cutoff drop)$", text, re.MULTILINE
    )


def test_the_users_file_is_understood(tmp_path: Path) -> None:
    if shutil.which("systemd-sysusers") is None:
        assert not os.environ.get("CI"), "systemd-sysusers is missing"
        pytest.skip("needs systemd-sysusers")
    (tmp_path / "etc").mkdir()
    ran = subprocess.run(
        ["systemd-sysusers", f"--root={tmp_path}", SYSTEMD / "sysusers.conf"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr


def test_the_hardware_watchdog_is_within_the_hardwares_reach() -> None:
    # Linux, drivers/watchdog/bcm2835_wdt.c: a counter of 20 bits at 65,536 Hz ends at 15.999 s.
    text = (SYSTEMD / "watchdog.conf").read_text(encoding="utf-8")
    (seconds,) = re.findall(r"^RuntimeWatchdogSec=(\d+)$", text, re.MULTILINE)
    assert int(seconds) < 0xFFFFF / 65_536 - 1
