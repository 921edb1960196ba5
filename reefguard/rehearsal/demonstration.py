"""A simulated tank on a bench, held by the real guard and the real cutoff as the processes they are."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import IO

from reefguard.rehearsal.bench import (
    CHILLER,
    CUTOFF,
    CUTOFF_ID,
    DISPLAY_ID,
    FAN_1,
    FAN_2,
    LIGHTS_OFF_HOUR,
    LIGHTS_ON_HOUR,
    ROOM_ID,
    SUMP_ID,
    Bench,
    serve_page,
)
from reefguard.rehearsal.bench_clock import BenchClock
from reefguard.rehearsal.bench_wire import BenchProbe
from reefguard.rehearsal.tank import DemonstrationTank, Running

SAFE_LOW_C, SAFE_HIGH_C = 24.0, 27.8

# The display tank's lamps warm its probe a little more than the sump's.
_SUMP_BELOW_DISPLAY_C = 0.1

_PATIENCE_S = 15.0


@dataclass(slots=True)
class Tally:
    """What the tank went through, in simulated time."""

    coldest_c: float = float("inf")
    warmest_c: float = float("-inf")
    outside_band_s: float = 0.0
    fan_s: dict[str, float] = field(default_factory=lambda: {"fan 1": 0.0, "fan 2": 0.0})
    chiller_s: float = 0.0
    chiller_starts: int = 0
    spanned_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Ended(Exception):  # noqa: N818  it names what happened, not a bug
    """A program ended by itself: which, with what exit code, and its last words."""

    program: str
    code: int
    last_words: str


class Demonstration:
    """The tank, the two programs that hold it, and the one that shows it."""

    def __init__(
        self, bench: Bench, speed: float, first_water_c: float, *, page_port: int | None = None
    ) -> None:
        """Set the bench's clock to the morning of a hot day; starts nothing yet.

        Args:
            bench: a prepared one.
            speed: how many times faster than life.
            first_water_c: of the tank.
            page_port: where the link serves a page of it; without one no link is started.

        Raises:
            OSError: the bench cannot be written.
        """
        self.bench = bench
        self._shown = page_port is not None
        if page_port is not None:
            serve_page(bench, page_port)
        self.speed = speed
        self.tally = Tally()
        _set_clock(bench, speed)
        self.clock = BenchClock(bench.directory, speed)
        self._tank = DemonstrationTank(first_water_c, self._time_s())
        self._then_s = self.clock.boot_s()
        self._chilled = False
        self._programs: dict[str, subprocess.Popen[bytes]] = {}
        self._logs: list[IO[bytes]] = []
        self._probes = {
            rom_id: BenchProbe(bench.bus, rom_id) for rom_id in (DISPLAY_ID, SUMP_ID, ROOM_ID, CUTOFF_ID)
        }

    def start(self) -> None:
        """Start cutoff, guard and, where there is a page to serve, the link."""
        self._show()
        self._start("cutoff", "--limits", str(self.bench.limits))
        self._start("guard", "--settings", str(self.bench.settings))
        if self._shown:
            self._start("link", "--settings", str(self.bench.settings))

    def advance(self) -> None:
        """Bring the tank to the present moment.

        Raises:
            Ended: one of the programs has ended by itself.
        """
        for name, program in self._programs.items():
            code = program.poll()
            if code is not None:
                raise Ended(name, code, self._last_words(name))
        now_s = self.clock.boot_s()
        span_s, self._then_s = now_s - self._then_s, now_s
        running = self.running()
        self._tank.live(span_s, self._time_s(), running)
        self._count(span_s, running)
        self._show()

    def running(self) -> Running:
        """Return what has power now.  The chiller needs both contacts."""
        fans = self.bench.pin_high(FAN_1) + self.bench.pin_high(FAN_2)
        chiller = self.bench.pin_high(CHILLER) and self.bench.pin_high(CUTOFF)
        return Running(self.lights_on(), fans, chiller)

    def local(self) -> datetime:
        """Return the simulated local time."""
        return self.clock.wall().local

    def lights_on(self) -> bool:
        """Return whether the lamps' own timer has the lights on."""
        return LIGHTS_ON_HOUR <= self.local().hour < LIGHTS_OFF_HOUR

    @property
    def water_c(self) -> float:
        """The water's temperature."""
        return self._tank.state.water_c

    def room_c(self) -> float:
        """Return the room's temperature."""
        return self._tank.state.room_c

    def _time_s(self) -> float:
        """Return the simulated time of day, seconds after midnight."""
        local = self.local()
        return local.hour * 3_600.0 + local.minute * 60.0 + local.second

    def stop(self) -> dict[str, int]:
        """Stop the programs cleanly; return their exit codes.  Leaves none behind, however it ends.

        A program that was stopped before it could listen has ended as asked: its code counts as 0.
        """
        try:
            return self._stopped()
        finally:
            for program in self._programs.values():
                program.kill()
            for log in self._logs:
                log.close()

    def _stopped(self) -> dict[str, int]:
        codes = {}
        for name in ("link", "guard", "cutoff"):
            program = self._programs.get(name)
            if program is None:
                continue
            asked = program.poll() is None
            if asked:
                program.send_signal(signal.SIGTERM)
            try:
                code = program.wait(_PATIENCE_S)
            except subprocess.TimeoutExpired:
                program.kill()
                code = program.wait()
            codes[name] = 0 if asked and code == -signal.SIGTERM else code
        return codes

    def _start(self, name: str, *options: str) -> None:
        log = (self.bench.directory / f"{name}.log").open("ab")
        self._logs.append(log)
        with _ending_waits():
            self._programs[name] = subprocess.Popen(  # noqa: S603  our own program, by the interpreter that runs us
                [sys.executable, "-m", "reefguard", name, *options],
                env=self.bench.environment(self.speed),
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                # Ctrl-C is for us: we stop them in order.
                start_new_session=True,
            )

    def _last_words(self, name: str) -> str:
        path = self.bench.directory / f"{name}.log"
        try:
            return "\n".join(path.read_text(encoding="utf-8", errors="replace").splitlines()[-5:])
        except OSError:
            return ""

    def _show(self) -> None:
        """Let the probes show what they hang in."""
        self._probes[DISPLAY_ID].show(self.water_c)
        self._probes[CUTOFF_ID].show(self.water_c)
        self._probes[SUMP_ID].show(self.water_c - _SUMP_BELOW_DISPLAY_C)
        self._probes[ROOM_ID].show(self.room_c())

    def _count(self, span_s: float, running: Running) -> None:
        tally = self.tally
        tally.spanned_s += span_s
        tally.coldest_c = min(tally.coldest_c, self.water_c)
        tally.warmest_c = max(tally.warmest_c, self.water_c)
        if not SAFE_LOW_C <= self.water_c <= SAFE_HIGH_C:
            tally.outside_band_s += span_s
        for name, pin in (("fan 1", FAN_1), ("fan 2", FAN_2)):
            if self.bench.pin_high(pin):
                tally.fan_s[name] += span_s
        if running.chiller:
            tally.chiller_s += span_s
            tally.chiller_starts += not self._chilled
        self._chilled = running.chiller


@contextmanager
def _ending_waits() -> Iterator[None]:
    """Hold back being asked to end, and end after it: a program whose start is cut off would be nobody's."""
    asked: list[int] = []
    numbers = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
    before = {number: signal.signal(number, lambda number, _: asked.append(number)) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        if asked:
            raise KeyboardInterrupt


def _set_clock(bench: Bench, speed: float) -> None:
    """Have the bench's wall clock show nine in the morning."""
    morning = datetime.now().astimezone().replace(hour=9, minute=0, second=0, microsecond=0)
    boot_s = time.clock_gettime(time.CLOCK_BOOTTIME) * speed
    setting = {"wall": morning.isoformat(), "at_boot_s": boot_s, "trusted": True}
    beside = Path(f"{bench.directory / 'clock.json'}.{os.getpid()}")
    beside.write_text(json.dumps(setting), encoding="utf-8")
    beside.replace(bench.directory / "clock.json")


def in_words(tally: Tally) -> list[str]:
    """Return the summary, a line each."""
    hours = timedelta(seconds=round(tally.spanned_s))
    if not tally.spanned_s:
        return ["nothing happened yet"]
    runs = "1 run" if tally.chiller_starts == 1 else f"{tally.chiller_starts} runs"
    inside = 1.0 - tally.outside_band_s / tally.spanned_s
    fans = ", ".join(f"{name} {seconds / 3_600:.1f} h" for name, seconds in tally.fan_s.items())
    return [
        f"simulated        {hours}",
        (
            f"water            {tally.coldest_c:.2f} to {tally.warmest_c:.2f} °C, "
            f"{inside:.1%} of the time inside {SAFE_LOW_C} to {SAFE_HIGH_C} °C"
        ),
        f"fans ran         {fans}",
        f"chiller ran      {tally.chiller_s / 3_600:.1f} h in {runs}",
    ]
