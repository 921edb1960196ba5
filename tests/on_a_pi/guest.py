"""A machine that the installed programs are tried on, driven from outside them.

It is reached through one command that whoever runs this names, and that must offer:

    COMMAND run SHELL-COMMAND             as root; its output and its exit code
    COMMAND push SOURCE DESTINATION       a file or a folder
    COMMAND boot [--fresh]                --fresh: as it was first made
    COMMAND powercut                      without a word of warning
    COMMAND clock +SECONDS|-SECONDS|host  its wall clock
    COMMAND lines --json LINE...          [{"line": .., "value": ..}, ..], from the chip, not from its holder
    COMMAND persist on|off                whether a released line keeps its level
    COMMAND trace on|show                 the kernel's record of what was set
    COMMAND probe ID CELSIUS|hang|unplugged|...

An emulator with the kernel's own GPIO simulator and a 1-wire bus will do; so
will a real board on a bench with a relay for its supply.
"""

import json
import re
import subprocess
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, Final

PROGRAM: Final = "/opt/reefguard/bin/reefguard"
UNITS: Final = ("reefguard", "reefguard-cutoff", "reefguard-link")


class NotHeld(Exception):  # noqa: N818  a promise was seen broken; that is no bug of this script
    """Something that must hold did not; the message says what was seen."""


class Guest:
    """The machine."""

    def __init__(self, command: str) -> None:
        """Take note of the command; nothing is done yet."""
        self._command = command

    def do(self, *words: str, patience_s: float = 900.0) -> str:
        """Give one command to the machine's driver, and return what it printed.

        Raises:
            NotHeld: it failed.
        """
        ran = subprocess.run(
            [self._command, *words],
            stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=patience_s, check=False,
        )  # fmt: skip
        if ran.returncode:
            raise NotHeld(f"{' '.join(words)}: {ran.returncode}: {ran.stdout}{ran.stderr}")
        return ran.stdout

    def run(self, command: str) -> str:
        """Run a command in it as root; how it ends is told in the last line, `ended N`."""
        return self.do("run", f"cd /\n{command}\ncode=$?; echo; echo ended $code")

    def ended(self, command: str) -> tuple[int, str]:
        """Run a command in it; return its exit code and what it printed."""
        said, _, code = self.run(f"( {command} ) 2>&1").rpartition("ended ")
        return int(code), said.strip()

    def now_s(self) -> float:
        """Return its time since boot, by its own clock."""
        return float(self.do("run", "cut -d' ' -f1 /proc/uptime"))

    def levels(self, lines: Iterable[int]) -> dict[int, int]:
        """Return the levels of lines, as the chip has them."""
        told = json.loads(self.do("lines", "--json", *map(str, lines)))
        return {int(one["line"]): int(one["value"]) for one in told}

    def status(self) -> dict[str, Any]:
        """Return what the guard says; empty where it says nothing."""
        _, said = self.ended(f"{PROGRAM} status --json")
        try:
            told: dict[str, Any] = json.loads(said)
        except ValueError:
            return {}
        return told

    def cutoff(self) -> str:
        """Return what the cutoff says."""
        return self.ended(f"{PROGRAM} cutoff status")[1]

    def is_active(self, unit: str) -> bool:
        """Return whether a unit runs."""
        return self.ended(f"systemctl is-active {unit}")[1] == "active"

    def process(self, unit: str) -> str:
        """Return the number of a unit's process."""
        return self.ended(f"systemctl show -p MainPID --value {unit}")[1]

    def wait(self, until: Callable[[], bool], what: str, within_s: float) -> float:
        """Look until something is so; return how long that took by the machine's own clock, in s.

        Raises:
            NotHeld: it was not within that time.
        """
        begun_s = self.now_s()
        while True:
            if until():
                return self.now_s() - begun_s
            if self.now_s() - begun_s > within_s:
                raise NotHeld(f"{what}: not within {within_s:g} s")
            time.sleep(0.5)

    def wait_level(self, line: int, level: int, within_s: float) -> float:
        """Look until a line has a level."""
        return self.wait(lambda: self.levels([line])[line] == level, f"GPIO{line} at {level}", within_s)

    def changes(self, line: int) -> list[str]:
        """Return what the kernel recorded of one line, in order."""
        return [
            said for said in self.do("trace", "show").splitlines() if re.search(rf"\b(line )?{line}\b", said)
        ]

    def set_at(self, line: int, level: int) -> list[float]:
        """Return when the kernel recorded that a line was set to a level: seconds, of its own clock."""
        said = (re.match(rf"\s*([0-9.]+): .*\bset {level}\b", one) for one in self.changes(line))
        return [float(found[1]) for found in said if found is not None]

    def put(self, source: Path, destination: str) -> None:
        """Copy a file or a folder to it."""
        self.do("push", str(source), destination)
