"""All devices of one guard, behind their ports."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from reefguard.hardware.ports import Clock, Input, Output, ServiceManager, WaterProbes
from reefguard.vocabulary import CutoffReport, ProofTests


@dataclass(frozen=True, slots=True)
class World:
    """What the guard senses and moves.

    Attributes:
        clock: boot time, wall time, and waiting.
        probes: read in the background.
        outputs: by their names in the settings.
        lights: the input that sees the lights, if wired.
        chiller_running: the feedback that the compressor runs, if wired.
        flow: the flow switch, if wired.
        cutoff: reads the cutoff's last report of this boot, or returns `None`.
        proof_tests: what is on record of proof tests of the cutoff, if anybody keeps one.
        service: who started us.
    """

    clock: Clock
    probes: WaterProbes
    outputs: Mapping[str, Output]
    service: ServiceManager
    cutoff: Callable[[], CutoffReport | None]
    proof_tests: Callable[[], ProofTests | None] = lambda: None
    lights: Input | None = None
    chiller_running: Input | None = None
    flow: Input | None = None
