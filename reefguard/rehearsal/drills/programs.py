"""Guard and cutoff as processes in virtual time: they start, die, hang and come back.

What decides is the real thing, `control.step` and `cutoff.trip`; what a
service manager does around it is put here in seconds, as measured under one.
"""

from enum import Enum
from typing import Final

from reefguard.control.step import Decision, Memory, at_start, step
from reefguard.cutoff import trip
from reefguard.cutoff.ds18b20 import Sample
from reefguard.cutoff.limits import Setup
from reefguard.settings.model import Contact, Settings, Wiring
from reefguard.vocabulary import CutoffReport, Inputs

# systemd/reefguard.service: RestartSec, and half a second to the first tick.
COMES_BACK_AFTER_S: Final = 2.5
# The units' WatchdogSec and the abort; the guard's as measured on a kernel (DEVELOPERS.md).
GUARD_HANGS_FOR_S: Final = 23.0
CUTOFF_HANGS_FOR_S: Final = 13.0
# From power to the first tick (common practice), and until the network has set the clock.
BOOTS_IN_S: Final = 30.0
CLOCK_SET_AFTER_S: Final = 60.0


class Standing(Enum):
    """Whether a program works."""

    UP = "up"
    HUNG = "hung"
    DOWN = "down"


class Process:
    """A program under a service manager."""

    def __init__(self, hangs_for_s: float) -> None:
        """Begin powered, and just about to start.

        Args:
            hangs_for_s: how long the watchdog lets it hang before it is ended.
        """
        self._hangs_for_s = hangs_for_s
        self._down_until_s = 0.0
        self._hangs_until_s: float | None = None
        self._powered = True
        self.fresh = True

    def kill(self, now_s: float, after_s: float = COMES_BACK_AFTER_S) -> None:
        """Die, and be started again."""
        self._down_until_s = max(self._down_until_s, now_s + after_s)
        self._hangs_until_s = None
        self.fresh = True

    def hang(self, now_s: float) -> None:
        """Stand still, until the watchdog ends it."""
        self._hangs_until_s = now_s + self._hangs_for_s

    def power(self, now_s: float, *, on: bool) -> None:
        """Lose power, or get it again and boot."""
        if on is not self._powered:
            self._powered = on
            self.kill(now_s, BOOTS_IN_S if on else 0.0)

    def standing(self, now_s: float) -> Standing:
        """Return whether it works now; a hang that has lasted its time ends as a kill."""
        if not self._powered:
            return Standing.DOWN
        if self._hangs_until_s is not None:
            if now_s < self._hangs_until_s:
                return Standing.HUNG
            self.kill(now_s)
        return Standing.DOWN if now_s < self._down_until_s else Standing.UP


class GuardProcess(Process):
    """The guard: what it last decided, and where its outputs stand."""

    def __init__(self, settings: Settings) -> None:
        """Begin as a guard that is just being started."""
        super().__init__(GUARD_HANGS_FOR_S)
        self.settings = settings
        self.memory: Memory = at_start(settings, 0.0)
        self.decision: Decision | None = None
        fans = settings.fans.fans if settings.fans is not None else ()
        self._at_rest = tuple(1.0 if fan.runs_at_rest else 0.0 for fan in fans)
        self._unpowered = tuple(1.0 if _closed_unpowered(fan.wiring) else 0.0 for fan in fans)
        self.fan_levels = self._at_rest
        self.chiller_on = False

    def rest(self) -> None:
        """Be down: every output at its safe level, or without power its contact as it falls."""
        self.decision = None
        self.fan_levels = self._at_rest if self._powered else self._unpowered
        self.chiller_on = False

    def tick(self, inputs: Inputs) -> Decision:
        """Make one tick."""
        if self.fresh:
            self.memory = at_start(self.settings, inputs.now_s)
            self.fresh = False
        self.memory, decision = step(self.memory, inputs, self.settings)
        self.decision = decision
        levels = [command.level for command in decision.commands]
        count = len(self._at_rest)
        self.fan_levels = tuple(levels[:count])
        self.chiller_on = len(levels) > count and levels[count] > 0.0
        return decision


def _closed_unpowered(wiring: Wiring) -> bool:
    return wiring.contact is Contact.NORMALLY_CLOSED


class CutoffProcess(Process):
    """The cutoff: its decision, its latch, and its relay."""

    def __init__(self, setup: Setup) -> None:
        """Begin as a cutoff whose latch is clear."""
        super().__init__(CUTOFF_HANGS_FOR_S)
        self.limits = setup.limits
        self._latched: trip.Tripped | None = None
        self.cutoff = trip.at_start(None, now_s=0.0)
        self.relay_on = False

    def rest(self) -> None:
        """Be down: the relay has dropped."""
        self.relay_on = False

    def sample(self, sample: Sample | None, now_s: float, *, reset: bool) -> None:
        """Take one sample into account."""
        if self.fresh:
            self.cutoff = trip.at_start(self._latched, now_s=now_s)
            self.fresh = False
        self.cutoff, _ = trip.step(
            self.cutoff, sample=sample, reset_requested=reset, now_s=now_s, limits=self.limits
        )
        state = self.cutoff.state
        self._latched = state if isinstance(state, trip.Tripped) else None
        self.relay_on = self.cutoff.permits_cooling

    @property
    def tripped(self) -> bool:
        """Whether a person must reset it."""
        return self._latched is not None

    def report(self, now_s: float) -> CutoffReport:
        """Return what it says of itself."""
        state = self.cutoff.state
        if isinstance(state, trip.Tripped):
            return CutoffReport("tripped", permits=False, why=state.cause.value, at_s=now_s)
        if isinstance(state, trip.HeldOff):
            return CutoffReport("held off", permits=False, why=state.why.value, at_s=now_s)
        return CutoffReport("permitting", permits=True, why="the water is warm enough", at_s=now_s)
