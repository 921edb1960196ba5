"""The file system of a Pi in order, as far as `reefguard doctor` looks at it."""

import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from reefguard.cli.host_facts import Gatherer
from reefguard.commissioning.host import Host
from reefguard.hardware.clock import SystemClock
from reefguard.rehearsal.bench import CUTOFF_ID, DISPLAY_ID, ROOM_ID, SUMP_ID

BUS = "sys/bus/w1/devices"

SETTINGS = f"""\
tank: the reef
one_wire_pins: [GPIO4, GPIO26]
safe_band: {{low: 24.0 °C, high: 27.8 °C}}
water_probes:
  display: {{id: {DISPLAY_ID}}}
  sump: {{id: {SUMP_ID}}}
room_air: {{id: {ROOM_ID}}}
fans:
  cut_in: 26.6 °C
  cut_out: 26.2 °C
  units:
    fan1: {{pin: GPIO17}}
chiller: {{pin: GPIO22, cut_in: 27.2 °C, cut_out: 26.6 °C, running_input: {{pin: GPIO24}}}}
lights: {{on: 10:00, off: 20:00}}
link:
  channels:
    mail: {{secret: mail}}
"""
LIMITS = f"""\
probe: {CUTOFF_ID}
relay: {{pin: GPIO23, polarity: active high}}
limit: 24.5 °C
"""
CONFIG = """\
# For more options see the documentation of config.txt
[cm4]
dtoverlay=w1-gpio,gpiopin=5
[all]
dtparam=audio=on,strict_gpiod
dtoverlay=w1-gpio,gpiopin=4
dtoverlay=w1-gpio
dtparam=gpiopin=26
"""

READING = "9a 01 4b 46 7f ff 06 10 78 : crc=78 YES\n9a 01 4b 46 7f ff 06 10 78 t=25625\n"


class PiRoot:
    """A Pi in order; a test changes what it wants, and looks.

    Attributes:
        root: the directory.
        lines: who holds each line of the header.
        label: of its chip.
        units: what the service manager says of each unit.
        watchdog: what it says of the hardware watchdog; `None` when there is no service manager.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self.clock = SystemClock(synchronized_file=root / "run/systemd/timesync/synchronized",
                                 kernel_synchronized=lambda: False)  # fmt: skip
        self.lines: dict[int, str | None] = dict.fromkeys(range(28))
        self.lines |= {17: "lg", 22: "lg", 23: "lg", 24: "lg", 4: "onewire@4", 26: "onewire@1a"}
        self.label = "pinctrl-bcm2711"
        good = "LoadState=loaded\nActiveState=active\nUnitFileState=enabled\n"
        self.units = dict.fromkeys(("reefguard", "reefguard-cutoff", "reefguard-link"), good)
        self.watchdog: str | None = "14s"
        self.write("proc/device-tree/model", "Raspberry Pi 4 Model B Rev 1.5\0")
        self.write("proc/cmdline", "console=tty1 root=PARTUUID=1 rootwait\n")
        self.write("boot/firmware/config.txt", CONFIG)
        self.write("etc/group", f"gpio:x:{os.getgid()}:reefguard,reefguard-cutoff\n")
        self.write("etc/passwd", f"reefguard:x:{os.getuid()}:1::/:/usr/sbin/nologin\n")
        self.write("etc/reefguard/reefguard.yaml", SETTINGS)
        self.write("etc/reefguard/cutoff.yaml", LIMITS)
        self.write("etc/reefguard/secrets/mail", "mailto://keeper@tank.example\n", 0o600)
        self.write("run/systemd/timesync/synchronized", "")
        self.write("dev/gpiochip0", "", 0o660)
        for directory in (
            "var/lib/reefguard",
            "var/log/journal",
            f"{BUS}/w1_bus_master1",
            f"{BUS}/w1_bus_master2",
        ):
            (root / directory).mkdir(parents=True)
        for rom_id in (DISPLAY_ID, SUMP_ID, ROOM_ID, CUTOFF_ID):
            self.write(f"{BUS}/{rom_id}/ext_power", "1\n")
            self.write(f"{BUS}/{rom_id}/w1_slave", READING)
        self.says("run/reefguard/status.json", sampling_s=5.0, findings=[])
        self.says("run/reefguard-cutoff/status.json", state="permitting", permits=True, why="warm")

    def write(self, name: str, text: str, mode: int = 0o644) -> None:
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        path.chmod(mode)

    def change(self, name: str, old: str, new: str) -> None:
        text = (self.root / name).read_text(encoding="utf-8")
        assert old in text, text
        self.write(name, text.replace(old, new))

    def says(self, name: str, *, age_s: float = 0.0, **status: Any) -> None:
        """Write what a program says of itself, so long ago."""
        stamped = {"boot_id": self.clock.boot_id(), "written_s": self.clock.boot_s() - age_s, **status}
        self.write(name, json.dumps(stamped))

    def host(self) -> Host:
        """Return what the doctor sees."""
        settings, limits = Path("/etc/reefguard/reefguard.yaml"), Path("/etc/reefguard/cutoff.yaml")
        return Gatherer(self.root, settings, limits, self.clock, self._run, self._ask_chip).host()

    def _run(self, command: Sequence[str]) -> str | None:
        if self.watchdog is None:
            return None
        assert command[:2] == ("systemctl", "show"), command
        return self.watchdog if "RuntimeWatchdogUSec" in command else self.units[command[-1]]

    def _ask_chip(self, device: Path) -> tuple[str, dict[int, str | None]] | None:
        assert device.name == "gpiochip0"
        return self.label, self.lines
