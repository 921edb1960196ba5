"""A bench for the cutoff as the process it is: probe file, pin file, state and status."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from reefguard.cutoff.ds18b20 import crc8
from reefguard.cutoff.latch import write_clear_latch

PROBE = "28-000000000201"
# Generous: a noisy machine must not turn a test red.
DEADLINE_S = 60.0


def scratchpad(celsius: float, config: int = 0x7F) -> bytes:
    """Return the nine bytes a probe gives at a temperature."""
    register = int(celsius * 16).to_bytes(2, "little", signed=True)
    octets = register + bytes((0x4B, 0x46, config, 0xFF, 0x0C, 0x10))
    return octets + bytes((crc8(octets),))


def w1_text(octets: bytes, verdict: str = "YES") -> str:
    """Write nine bytes as the kernel does (Linux, Documentation/w1/slaves/w1_therm.rst)."""
    written = " ".join(f"{octet:02x}" for octet in octets)
    millidegrees = int.from_bytes(octets[:2], "little", signed=True) * 1000 // 16
    return f"{written} : crc={crc8(octets[:8]):02x} {verdict}\n{written} t={millidegrees}\n"


def w1_at(celsius: float) -> str:
    """Return the kernel's text for a healthy probe at a temperature."""
    return w1_text(scratchpad(celsius))


class CutoffBench:
    """One simulated probe and relay, and the real cutoff process on them."""

    def __init__(self, directory: Path, speed: float = 120.0) -> None:
        self.directory = directory
        self.speed = speed
        # Names of its own, so that a guard's bench may share the directory.
        self.state = directory / "cutoff-state"
        self.runtime = directory / "cutoff-run"
        self.limits = directory / "limits.yaml"
        self.probe_file = directory / "w1" / PROBE / "w1_slave"
        self.probe_file.parent.mkdir(parents=True)
        self.state.mkdir()
        self.process: subprocess.Popen[str] | None = None
        self.write_limits()

    def write_limits(self, **changes: str) -> None:
        """Write a limits file; `changes` are keys to set, with `_` in front for those of the relay."""
        keys = {
            "one_wire_directory": str(self.directory / "w1"),
            "state_directory": str(self.state),
            "runtime_directory": str(self.runtime),
            "probe": PROBE,
            "limit": "24.5 °C",
            "sampling": "5 s",
            "rest": "3 min",
            # Five seconds of a stopwatch: a noisy machine is no lost probe.
            "probe_timeout": "10 min",
        } | {key: value for key, value in changes.items() if not key.startswith("_")}
        relay = {"pin": "GPIO23", "polarity": "active high"} | {
            key[1:]: value for key, value in changes.items() if key.startswith("_")
        }
        lines = [f"{key}: {value}" for key, value in keys.items()]
        lines += ["relay:", *(f"  {key}: {value}" for key, value in relay.items())]
        self.limits.write_text("\n".join(lines) + "\n", encoding="utf-8")

    def commission(self) -> None:
        """Write the first latch."""
        write_clear_latch(self.state, "at the bench")

    def probe_says(self, text: str) -> None:
        """Replace the probe's file in one go."""
        beside = self.probe_file.with_name("new")
        beside.write_text(text, encoding="latin-1")
        beside.replace(self.probe_file)

    def water(self, celsius: float) -> None:
        """Set the water's temperature."""
        self.probe_says(w1_at(celsius))

    def environment(self, **more: str) -> dict[str, str]:
        """Return the environment of a program on this bench."""
        bench = {
            "GPIOZERO_PIN_FACTORY": "bench",
            "REEFGUARD_BENCH": str(self.directory),
            "REEFGUARD_BENCH_SPEED": str(self.speed),
        }
        return os.environ | bench | more

    def command(self, *arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
        """Run a command of the cutoff to its end."""
        return subprocess.run(
            [sys.executable, "-m", "reefguard", "cutoff", *arguments],
            env=self.environment(**more),
            capture_output=True,
            text=True,
            timeout=DEADLINE_S,
            check=False,
        )

    def start(self, **more: str) -> subprocess.Popen[str]:
        """Start the cutoff."""
        with (self.directory / "log").open("a", encoding="utf-8") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "reefguard", "cutoff", "--limits", str(self.limits)],
                env=self.environment(**more),
                stderr=log,
                text=True,
            )
        return self.process

    def start_permitting(self) -> None:
        """Start it on a commissioned bench with warm water, and wait until cooling may run."""
        self.commission()
        self.water(25.5)
        self.start()
        # The relay comes first, the word of it after.
        self.until_state("permitting")

    def end(self, number: signal.Signals) -> int:
        """Send a signal, and return the exit status."""
        if self.process is None:
            raise AssertionError("nothing was started")
        self.process.send_signal(number)
        return self.process.wait(timeout=DEADLINE_S)

    def stop(self) -> None:
        """Make sure that nothing is left running."""
        if self.process is not None and self.process.poll() is None:
            self.process.kill()
            self.process.wait(timeout=DEADLINE_S)

    def level(self) -> str:
        """Return the electrical level of the relay's pin, "" before it was driven."""
        try:
            return (self.directory / "gpio" / "GPIO23").read_text(encoding="ascii").strip()
        except FileNotFoundError:
            return ""

    def status(self) -> dict[str, Any]:
        """Return the status file, empty before it was written."""
        try:
            said = json.loads((self.runtime / "status.json").read_text(encoding="utf-8"))
        except OSError:
            return {}
        return dict(said)

    def latch(self) -> str:
        """Return the latch file's text."""
        return (self.state / "latch").read_text(encoding="utf-8")

    def log(self) -> str:
        """Return what the cutoff has said on standard error."""
        return (self.directory / "log").read_text(encoding="utf-8")

    def until(self, holds: Callable[[], bool]) -> None:
        """Wait until something holds."""
        until_s = time.monotonic() + DEADLINE_S
        while not holds():
            if time.monotonic() > until_s:
                raise AssertionError(f"waited too long; {self.status()}; {self.log()}")
            time.sleep(0.01)

    def until_state(self, state: str) -> None:
        """Wait until the cutoff says it is in a state."""
        self.until(lambda: self.status().get("state") == state)

    def samples_pass(self, spans_s: float) -> None:
        """Wait until the cutoff's own clock has gone on by so many seconds."""
        begun_s = self.status()["written_s"]
        self.until(lambda: bool(self.status()["written_s"] - begun_s >= spans_s))
