"""Promise 15 for the link: the service manager gives it the network, and nothing of the machine."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

UNIT = Path(__file__).parents[2] / "systemd" / "reefguard-link.service"
_WORST_SCORE = 1.5


@pytest.fixture(name="analyze")
def _analyze() -> str:
    found = shutil.which("systemd-analyze")
    if found is None:
        assert not os.environ.get("CI"), "systemd-analyze is missing"
        pytest.skip("needs systemd-analyze")
    return found


def test_it_has_no_device_a_user_of_its_own_and_cannot_write_the_guards_files() -> None:
    lines = UNIT.read_text(encoding="utf-8").splitlines()
    given = {"PrivateDevices=yes", "DevicePolicy=closed", "User=reefguard-link", "ProtectSystem=strict"}
    assert given <= set(lines)
    assert "LoadCredential=link:/etc/reefguard/secrets" in lines
    assert not [line for line in lines if "gpio" in line.lower() or line.startswith("DeviceAllow")]
    assert not [line for line in lines if line.startswith("ReadWritePaths") and "/reefguard" in line]


def test_its_exposure_is_small(analyze: str) -> None:
    ran = subprocess.run(
        [analyze, "security", "--offline=true", "--no-pager", str(UNIT)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    score = re.search(r"Overall exposure level for \S+: ([0-9.]+)", ran.stdout)
    assert score is not None, ran.stderr
    assert float(score[1]) <= _WORST_SCORE


def test_the_service_manager_understands_it(analyze: str, tmp_path: Path) -> None:
    # The program is not installed where the unit looks for it; all else is to be in order.
    copy = tmp_path / UNIT.name
    text = UNIT.read_text(encoding="utf-8").replace("/opt/reefguard/bin/reefguard", "/bin/true")
    copy.write_text(text, encoding="utf-8")
    ran = subprocess.run([analyze, "verify", str(copy)], capture_output=True, text=True, check=False)
    about_it = [line for line in ran.stderr.splitlines() if UNIT.name in line]
    assert (ran.returncode, about_it) == (0, [])


def test_the_link_loads_nothing_that_drives_a_pin() -> None:
    script = (
        "import sys\nimport reefguard.cli.link_service\n"
        "import reefguard.link.broker, reefguard.link.metrics_outlet\n"
        "reefguard.cli.link_service.carrier()\nprint(*sorted(sys.modules))\n"
    )
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    loaded = set(ran.stdout.split())
    assert {"apprise", "paho.mqtt.client"} <= loaded
    drivers = {"gpiozero", "lgpio", "w1thermsensor", "reefguard.hardware.gpio", "reefguard.hardware.outputs"}
    assert not loaded & drivers
