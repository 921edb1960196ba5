"""Promise 15 for the link: the service manager gives it the network, and nothing of the machine."""

import subprocess
import sys
from pathlib import Path

UNIT = Path(__file__).parents[2] / "systemd" / "reefguard-link.service"


def test_it_has_no_device_a_user_of_its_own_and_cannot_write_the_guards_files() -> None:
    lines = UNIT.read_text(encoding="utf-8").splitlines()
    given = {"PrivateDevices=yes", "DevicePolicy=closed", "User=reefguard-link", "ProtectSystem=strict"}
    assert given <= set(lines)
    assert "LoadCredential=link:/etc/reefguard/secrets" in lines
    assert not [line for line in lines if "gpio" in line.lower() or line.startswith("DeviceAllow")]
    assert not [line for line in lines if line.startswith("ReadWritePaths") and "/reefguard" in line]


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
