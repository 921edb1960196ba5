"""A prepared bench, and guard and cutoff on it as the processes they are.

Nothing here is a mock: the probes are files in the kernel's format, the pins
are files, and time runs `speed` times faster than life.  Waits poll with a
deadline far beyond what they need, because the machine may be busy.
"""

import json
import re
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import IO, Any, Self

from reefguard.cutoff.latch import write_clear_latch
from reefguard.rehearsal.bench import (
    CHILLER,
    CUTOFF,
    CUTOFF_ID,
    DISPLAY_ID,
    FAN_1,
    FAN_2,
    ROOM_ID,
    SUMP_ID,
    commission,
    prepare,
)
from reefguard.rehearsal.bench_wire import BenchProbe

DEADLINE_S = 90.0
LOOK_EVERY_S = 0.02

# Longer than the defaults where a busy machine could starve a process, shorter where a test would only wait.
PATIENT = """
trust:
  stale_after: 3 min
  trusted_after: 20 s
  schedule_after: 4 min
"""


class Rig:
    """One bench with its programs; `with Rig(...)` leaves none of them running."""

    def __init__(self, directory: Path, speed: float = 90.0) -> None:
        self.bench = prepare(directory)
        self.speed = speed
        self.display, self.sump, self.room, self.cutoff_probe = (
            BenchProbe(self.bench.bus, rom_id) for rom_id in (DISPLAY_ID, SUMP_ID, ROOM_ID, CUTOFF_ID)
        )
        self.programs: dict[str, subprocess.Popen[bytes]] = {}
        self._logs: list[IO[bytes]] = []
        write_clear_latch(self.bench.cutoff_state, "at the bench")
        self.settings(
            ("minimum_off: 5 min", "minimum_off: 3 min"),
            ("start_to_start: 7 min", "start_to_start: none\n  cutoff_silent_after: 3 min"),
            added=PATIENT,
        )
        # Deep in the night, whatever the time is: the lights are off, and stay so for a test's life.
        self.wall_clock(datetime(2031, 7, 14, 1, tzinfo=UTC))
        commission(self.bench, datetime(2031, 7, 13, 12, tzinfo=UTC))
        self._write(self.bench.limits, f"{self.bench.limits.read_text(encoding='utf-8')}rest: 3 min\n")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for program in self.programs.values():
            program.kill()
            program.wait(DEADLINE_S)
        for log in self._logs:
            log.close()
        for probe in (self.display, self.sump, self.room, self.cutoff_probe):
            probe.restore()  # lets go whoever still hangs in a read

    # The files a person writes.

    def settings(self, *changes: tuple[str, str], added: str = "") -> None:
        """Write the settings file anew, with each text replaced by another, and something added."""
        text = self.bench.settings.read_text(encoding="utf-8")
        for old, new in changes:
            assert text.count(old) == 1, (old, text)
            text = text.replace(old, new)
        self._write(self.bench.settings, text + added)

    def _write(self, path: Path, text: str) -> None:
        beside = path.with_name(f".{path.name}")
        beside.write_text(text, encoding="utf-8")
        beside.replace(path)

    def water(self, water_c: float, *, cutoff_c: float | None = None) -> None:
        """Have both water probes and the cutoff's own show this (the cutoff's something else, if given)."""
        self.display.show(water_c)
        self.sump.show(water_c)
        self.cutoff_probe.show(water_c if cutoff_c is None else cutoff_c)

    def wall_clock(self, wall: datetime, *, trusted: bool = True) -> None:
        """Set the wall clock of every program on the bench."""
        now_s = time.clock_gettime(time.CLOCK_BOOTTIME) * self.speed
        setting = {"wall": wall.isoformat(), "at_boot_s": now_s, "trusted": trusted}
        self._write(self.bench.directory / "clock.json", json.dumps(setting))

    # The programs.

    def environment(self, **more: str) -> dict[str, str]:
        """Return the environment of a program on this bench."""
        return self.bench.environment(self.speed) | more

    def guard(
        self, *options: str, longest_file: int | None = None, name: str = "guard", **more: str
    ) -> subprocess.Popen[bytes]:
        """Start a guard; with `longest_file` it can write no file longer than that (as on a full disk)."""
        command = ["guard", "--settings", str(self.bench.settings), *options]
        return self._start(name, command, longest_file, more)

    def cutoff(self) -> subprocess.Popen[bytes]:
        """Start the cutoff."""
        return self._start("cutoff", ["cutoff", "--limits", str(self.bench.limits)], None, {})

    def _start(
        self, name: str, arguments: list[str], longest_file: int | None, more: dict[str, str]
    ) -> subprocess.Popen[bytes]:
        log = (self.bench.directory / f"{name}.log").open("ab")
        self._logs.append(log)
        program = subprocess.Popen(
            [sys.executable, "-m", "reefguard", *arguments],
            env=self.environment(**more),
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
        )
        if longest_file is not None:
            resource.prlimit(program.pid, resource.RLIMIT_FSIZE, (longest_file, longest_file))
        self.programs[name] = program
        return program

    def chilling(self) -> None:
        """Start both programs over warm water and wait until the chiller runs."""
        self.water(27.5)
        self.cutoff()
        self.guard()
        self.until(self.chiller_has_power, "the chiller runs")

    def command(self, *arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
        """Run one command of the program to its end."""
        return subprocess.run(
            [sys.executable, "-m", "reefguard", *arguments],
            env=self.environment(**more),
            capture_output=True,
            text=True,
            timeout=DEADLINE_S,
            check=False,
        )

    def end(self, name: str, number: signal.Signals = signal.SIGTERM) -> int:
        """Send a signal that ends a program, and return its exit code."""
        program = self.programs[name]
        program.send_signal(number)
        return program.wait(DEADLINE_S)

    # What can be seen.

    def pin(self, gpio: int) -> str:
        """Return what stands in a pin's file: a level, `in`, or "" before it was ever driven."""
        try:
            return (self.bench.directory / "gpio" / f"GPIO{gpio}").read_text(encoding="ascii").strip()
        except FileNotFoundError:
            return ""

    def pins(self) -> dict[str, str]:
        """Return all pins of the bench by what hangs on them."""
        named = {"fan1": FAN_1, "fan2": FAN_2, "chiller": CHILLER, "cutoff": CUTOFF}
        return {name: self.pin(gpio) for name, gpio in named.items()}

    def chiller_has_power(self) -> bool:
        """Return whether current can flow to the chiller: both contacts, in series, are closed."""
        return self.pin(CHILLER) == "1" and self.pin(CUTOFF) == "1"

    def status(self) -> dict[str, Any]:
        """Return the guard's status file, empty while the guard that was started last has written none."""
        status = _object(self.bench.run / "status.json")
        guard = self.programs.get("guard")
        return {} if guard is not None and status.get("pid") != guard.pid else status

    def cutoff_status(self) -> dict[str, Any]:
        """Return the cutoff's status file, empty while there is none."""
        return _object(self.bench.cutoff_run / "status.json")

    def mode(self) -> str:
        """Return the guard's mode, "" while it says none."""
        return str(self.status().get("mode", ""))

    def output(self, name: str) -> dict[str, Any]:
        """Return what the status says of an output, empty while it says nothing."""
        found = self.status().get("outputs", {}).get(name, {})
        assert isinstance(found, dict)
        return found

    def findings(self) -> dict[str, dict[str, Any]]:
        """Return the status's findings by their names."""
        return {one["name"]: one for one in self.status().get("findings", [])}

    def log(self, name: str = "guard") -> str:
        """Return what a program has said."""
        return (self.bench.directory / f"{name}.log").read_text(encoding="utf-8")

    # Waiting.  The pins change first, the status tells of it a moment later: `until_status` waits for that.

    def until(self, holds: Callable[[], object], what: str) -> None:
        """Wait until something holds; fail with all that can be seen if it never does."""
        until_s = time.monotonic() + DEADLINE_S
        while not holds():
            if time.monotonic() > until_s:
                raise AssertionError(f"waited in vain until {what}\n{self._seen()}")
            time.sleep(LOOK_EVERY_S)

    def until_status(self, holds: Callable[[], object], what: str) -> None:
        """Wait until something holds, and then until the tick that brought it about has told of it."""
        self.until(holds, what)
        self.ticks()

    def always(self, holds: Callable[[], object], span_s: float, what: str) -> None:
        """Look again and again that something holds, while so many of the guard's seconds pass."""
        begun_s = self.status()["written_s"]

        def passed() -> bool:
            assert holds(), f"not always: {what}\n{self._seen()}"
            return bool(self.status().get("written_s", begun_s) - begun_s >= span_s)

        self.until(passed, f"{span_s} s have passed for the guard")

    def ticks(self, count: int = 2) -> None:
        """Wait until the guard has made some more ticks, begun after now."""
        for _ in range(count):
            before_s = self.status().get("written_s")
            self.until(partial(self._ticked_since, before_s), "the guard ticks")

    def _ticked_since(self, before_s: object) -> bool:
        return bool(self.status().get("written_s", before_s) != before_s)

    def _seen(self) -> str:
        logs = "\n".join(f"--- {name}\n{self.log(name)[-3000:]}" for name in self.programs)
        return f"pins {self.pins()}\nguard {self.status()}\ncutoff {self.cutoff_status()}\n{logs}"


def _object(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(path.read_bytes())
    except (FileNotFoundError, NotADirectoryError):
        return {}
    assert isinstance(found, dict)
    return found


def no_traceback(text: str) -> bool:
    """Return whether a person who reads this is spared the program's insides."""
    return not re.search(r"Traceback|^  File \"", text, re.MULTILINE)
