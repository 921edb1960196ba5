"""A machine that the installed programs are tried on, driven and watched from outside them.

It is reached through one command that whoever runs this names, and that must offer:

    COMMAND run SHELL-COMMAND             as root; its output and its exit code
    COMMAND push SOURCE DESTINATION       a file, or what is in a folder
    COMMAND boot                          after a power cut; returns once it is up
    COMMAND powercut                      without a word of warning
    COMMAND clock +SECONDS|-SECONDS|host  its wall clock; `host`: as it is here
    COMMAND lines --json LINE...          [{"line": .., "value": ..}, ..], from the chip, not from its holder
    COMMAND persist on|off                whether a line whose holder died keeps its level
    COMMAND probe ID CELSIUS|hang|empty|unplugged    a 1-wire probe, and what it does
    COMMAND trace show                    the kernel's record of each line (events/gpio), one change a row:
                                          SECONDS: line N gpio_value: set 0|1
                                          SECONDS: line N gpio_direction: in|out (RESULT)

An emulator with the kernel's own GPIO simulator and a 1-wire bus will do; so
will a real board on a bench, with a relay for its supply.  All times are the
machine's own, since its boot.
"""

import json
import re
import shlex
import subprocess
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, Final, NamedTuple

PROGRAM: Final = "/opt/reefguard/bin/reefguard"
GUARD, CUTOFF, LINK = "reefguard", "reefguard-cutoff", "reefguard-link"
UNITS: Final = (GUARD, CUTOFF, LINK)

_CHANGE: Final = re.compile(
    r"(?P<at>[0-9.]+): line (?P<line>[0-9]+) gpio_(?:value: +set (?P<level>[01])|direction: +(?P<way>in|out))"
)
# From the kernel's first moments on, so that a boot is seen whole.
_TRACING: Final = """\
[Unit]
DefaultDependencies=no
Before=sysinit.target
[Service]
Type=oneshot
ExecStart=/bin/sh -c 'mountpoint -q /sys/kernel/tracing || mount -t tracefs none /sys/kernel/tracing; \
cd /sys/kernel/tracing && echo mono > trace_clock && echo "get == 0" > events/gpio/gpio_value/filter && \
echo 1 > events/gpio/enable && echo 1 > tracing_on'
[Install]
WantedBy=sysinit.target
"""


class NotHeld(Exception):  # noqa: N818  a promise was seen broken; that is no bug of this script
    """Something that must hold did not; the message says what was seen."""


class Change(NamedTuple):
    """What the kernel did to a line: when, s since boot, and its new level or its new direction."""

    at_s: float
    level: int | None
    way: str | None


class Guest:
    """The machine."""

    def __init__(self, command: str) -> None:
        """Take note of the command; nothing is done yet."""
        self._command = shlex.split(command)

    def do(self, *words: str, patience_s: float = 900.0) -> str:
        """Give one command to the machine's driver, and return what it printed.

        Raises:
            NotHeld: it failed.
        """
        ran = subprocess.run(
            [*self._command, *words],
            stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=patience_s, check=False,
        )  # fmt: skip
        if ran.returncode:
            raise NotHeld(f"{' '.join(words)}: {ran.returncode}: {ran.stdout}{ran.stderr}")
        return ran.stdout

    def ended(self, command: str) -> tuple[int, str]:
        """Run a command in it as root; return its exit code and what it printed."""
        said = self.do("run", f"cd /\n( {command}\n) 2>&1\ncode=$?; echo; echo ended $code")
        told, _, code = said.rpartition("ended ")
        return int(code), told.strip()

    def told(self, command: str) -> str:
        """Run a command in it that must succeed; return what it printed.

        Raises:
            NotHeld: it ended with another code than 0.
        """
        code, said = self.ended(command)
        if code:
            raise NotHeld(f"{command}: {code}: {said}")
        return said

    def write(self, path: str, text: str) -> None:
        """Write a file in it."""
        self.told(f"cat > {path} <<'END OF IT'\n{text}END OF IT")

    def at(self, command: str) -> float:
        """Run a command in it; return when that was begun, s since its boot."""
        return float(self.told(f"cut -d' ' -f1 /proc/uptime; ( {command} ) >/dev/null").split()[0])

    def now_s(self) -> float:
        """Return its time since boot."""
        return self.at("true")

    def levels(self, lines: Iterable[int]) -> dict[int, int]:
        """Return the levels of lines, as the chip has them."""
        told = json.loads(self.do("lines", "--json", *map(str, lines)))
        return {int(one["line"]): int(one["value"]) for one in told}

    def level(self, line: int) -> int:
        """Return the level of one line."""
        return self.levels([line])[line]

    def status(self) -> dict[str, Any]:
        """Return what the guard says; empty where it says nothing."""
        _, said = self.ended(f"{PROGRAM} status --json")
        try:
            told: dict[str, Any] = json.loads(said)
        except ValueError:
            return {}
        return told

    def mode(self) -> str:
        """Return the guard's mode; empty where it says nothing."""
        return str(self.status().get("mode", ""))

    def findings(self) -> set[str]:
        """Return the names of what the guard finds wrong."""
        return {str(one["name"]) for one in self.status().get("findings", [])}

    def cutoff(self) -> str:
        """Return what the cutoff says."""
        return self.ended(f"{PROGRAM} cutoff status")[1]

    def shows(self, unit: str, what: str) -> str:
        """Return a property of a unit, as systemd has it."""
        return self.told(f"systemctl show -p {what} --value {unit}")

    def says(self) -> str:
        """Return what both programs say of themselves, for whoever reads that something was not held."""
        told = self.status()
        outputs = {
            name: one.get("blocked_by") or one.get("why") for name, one in told.get("outputs", {}).items()
        }
        return (
            f"mode {told.get('mode')}, outputs {outputs}, findings {self.findings()}; cutoff: {self.cutoff()}"
        )

    def is_active(self, unit: str) -> bool:
        """Return whether a unit runs."""
        return self.shows(unit, "ActiveState") == "active"

    def processes(self) -> tuple[str, str]:
        """Return the numbers of the guard's and the cutoff's process."""
        return self.shows(GUARD, "MainPID"), self.shows(CUTOFF, "MainPID")

    def wait(self, until: Callable[[], bool], what: str, within_s: float) -> float:
        """Look until something is so; return how long that took, s.

        Raises:
            NotHeld: it was not within that time.
        """
        begun_s = self.now_s()
        while True:
            looked_s = self.now_s()
            if until():
                return looked_s - begun_s
            if looked_s - begun_s > within_s:
                raise NotHeld(f"{what}: not within {within_s:g} s; {self.says()}")
            # Each look is work for the machine itself, and an emulated one has little to spare.
            time.sleep(2.0)

    def wait_level(self, line: int, level: int, within_s: float) -> float:
        """Look until a line has a level."""
        return self.wait(lambda: self.level(line) == level, f"GPIO{line} at {level}", within_s)

    def trace_from_boot(self) -> None:
        """Have the kernel record every change of a line, now and from every boot on."""
        self.write("/etc/systemd/system/lines-traced.service", _TRACING)
        self.told("systemctl daemon-reload; systemctl enable -q lines-traced; systemctl restart lines-traced")

    def changes(self, line: int, since_s: float = 0.0) -> list[Change]:
        """Return what the kernel recorded of one line since a moment, in order."""
        found = []
        for row in self.do("trace", "show").splitlines():
            read = _CHANGE.match(row)
            if read and int(read["line"]) == line and float(read["at"]) >= since_s:
                level = None if read["level"] is None else int(read["level"])
                found.append(Change(float(read["at"]), level, read["way"]))
        return found

    def put(self, source: Path, destination: str) -> None:
        """Copy a file or a folder to it."""
        self.do("push", str(source), destination)
