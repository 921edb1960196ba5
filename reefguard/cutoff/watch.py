"""The cutoff's loop: read, decide, drive, remember, tell, feed the watchdog.  Nothing else.

The relay comes before everything that touches a disk.  Neither a reset nor a
proof test ever energises it, so what persons ask for comes after.  The watchdog is fed by a loop that came
to its end, and by nothing else.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reefguard.cutoff import status, words
from reefguard.cutoff.clock import BootClock, wall_text
from reefguard.cutoff.ds18b20 import Sample
from reefguard.cutoff.latch import LatchKeeper, latch_of
from reefguard.cutoff.limits import Setup
from reefguard.cutoff.probe import Probe, ProbeReaderEndedError
from reefguard.cutoff.relay import Relay
from reefguard.cutoff.resets import Request, RequestDesk
from reefguard.cutoff.service import ServiceManager, StopSignal, say
from reefguard.cutoff.trip import Answer, Cutoff, State, lose_probe, open_for_test, step


@dataclass(frozen=True, slots=True)
class Parts:
    """What the loop works with."""

    clock: BootClock
    probe: Probe
    relay: Relay
    latch: LatchKeeper
    desk: RequestDesk
    tests: RequestDesk
    service: ServiceManager
    stop: StopSignal
    boot_id: str


class Watch:
    """The cutoff at work."""

    def __init__(self, setup: Setup, parts: Parts, cutoff: Cutoff, since: str) -> None:
        """Begin.

        Args:
            setup: what the limits file says.
            parts: what to work with.
            cutoff: where it stands at the start.
            since: when it came to stand there, wall clock, for a person.
        """
        self._setup = setup
        self._parts = parts
        self._cutoff = cutoff
        self._since = since
        self._latest: Sample | None = None
        self._last_reset: status.Outcome | None = None
        self._last_test: status.Outcome | None = None
        self._faults: list[str] = []
        self._logged: tuple[State | None, list[str]] = None, []

    def until_stopped(self) -> None:
        """Loop until a person or the service manager stops it; the relay is off afterwards.

        Raises:
            ProbeReaderEndedError: the probe can be read no more.
            RelayError: the relay can be driven no more.
        """
        parts = self._parts
        try:
            while not parts.stop.asked:
                self._loop()
        except ProbeReaderEndedError:
            parts.relay.drive(on=False)
            self._turn_to(lose_probe(self._cutoff, parts.clock.now_s(), self._setup.limits))
            self._remember()
            raise
        finally:
            parts.relay.drive(on=False)
            parts.service.stopping()
            status.publish(Path(self._setup.runtime_directory), status.stopped(self._said()))

    def _loop(self) -> None:
        parts = self._parts
        samples = parts.probe.wait(self._setup.sampling_s, parts.stop.descriptor)
        now_s = parts.clock.now_s()
        for sample in samples or (None,):
            self._decide(sample, now_s)
        parts.relay.drive(on=self._cutoff.permits_cooling)
        for request in parts.desk.take():
            self._reset(request, now_s)
        for request in parts.tests.take():
            self._test(request, now_s)
        self._remember()
        self._tell()
        parts.service.healthy()

    def _decide(self, sample: Sample | None, now_s: float) -> None:
        limits = self._setup.limits
        after, _ = step(self._cutoff, sample=sample, reset_requested=False, now_s=now_s, limits=limits)
        self._latest = sample or self._latest
        self._turn_to(after)

    def _reset(self, request: Request, now_s: float) -> None:
        limits = self._setup.limits
        after, answer = step(self._cutoff, sample=None, reset_requested=True, now_s=now_s, limits=limits)
        if answer is not None:
            why = words.answer_sentence(answer, self._cutoff, self._latest, self._setup)
            accepted = answer is Answer.ACCEPTED
            self._last_reset = status.Outcome(accepted, why, request.who, request.name)
            say(f"reset asked for by {request.who}: {why}")
        self._turn_to(after)

    def _test(self, request: Request, now_s: float) -> None:
        before, self._cutoff = self._cutoff, open_for_test(self._cutoff, now_s)
        accepted = before.permits_cooling
        if accepted:
            self._parts.relay.drive(on=False)
            self._since = wall_text()
        why = words.proof_sentence(accepted, before, self._latest, self._setup)
        self._last_test = status.Outcome(accepted, why, request.who, request.name)
        say(f"proof test asked for by {request.who}: {why}")

    def _turn_to(self, after: Cutoff) -> None:
        if after.state != self._cutoff.state:
            self._since = wall_text()
        self._cutoff = after

    def _remember(self) -> None:
        fault = self._parts.latch.keep(latch_of(self._cutoff, self._parts.boot_id, self._since))
        self._faults = [] if fault is None else [fault]

    def _tell(self) -> None:
        """Publish how things stand; log it once per change of state or fault."""
        said = self._said()
        unpublished = status.publish(Path(self._setup.runtime_directory), said)
        faults = [*self._faults, *([] if unpublished is None else [unpublished])]
        stands = words.sentence(self._cutoff, self._latest, self._setup)
        sentence = "; ".join([stands, *faults])
        self._parts.service.status(sentence)
        if (self._cutoff.state, faults) != self._logged:
            self._logged = self._cutoff.state, faults
            say(sentence)

    def _said(self) -> dict[str, Any]:
        return status.document(
            self._cutoff,
            latest=self._latest,
            setup=self._setup,
            boot_id=self._parts.boot_id,
            last_reset=self._last_reset,
            last_test=self._last_test,
            faults=self._faults,
        )
