"""Settings and inputs for tests, in the prepared bench's numbers."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from reefguard.control.step import Decision, Memory, at_start, step
from reefguard.settings.model import (
    Chiller,
    CutPoints,
    Fan,
    FanStage,
    Lights,
    RoomAirSource,
    SafeBand,
    Settings,
    WaterProbe,
    Wiring,
)
from reefguard.vocabulary import Command, CutoffReport, Inputs, RawSample, Sampled, Wall

NOON = datetime(2026, 7, 1, 12, 0, tzinfo=UTC)
NIGHT = datetime(2026, 7, 1, 23, 30, tzinfo=UTC)


def bench_settings(**changes: Any) -> Settings:
    """Return the prepared bench's settings, with what a test changes."""
    settings = Settings(
        tank="bench",
        safe_band=SafeBand(24.0, 27.8),
        water_probes=(
            WaterProbe("display", "28-000000000101"),
            WaterProbe("sump", "28-000000000102"),
        ),
        room_air=RoomAirSource("28-000000000103"),
        fans=FanStage(CutPoints(26.6, 26.2), (Fan("fan1", Wiring(17)), Fan("fan2", Wiring(27)))),
        chiller=Chiller(Wiring(22), CutPoints(27.2, 26.6), start_to_start_s=420.0),
        lights=Lights(on_s=10 * 3_600, off_s=20 * 3_600, utc_offset_s=0),
    )
    return replace(settings, **changes)


def permitting(now_s: float) -> CutoffReport:
    """Return a fresh report of a cutoff that permits cooling."""
    return CutoffReport("permitting", permits=True, why="the water is warm enough", at_s=now_s)


def inputs(now_s: float, samples: Mapping[str, RawSample], **changes: Any) -> Inputs:
    """Return inputs at noon with a permitting cutoff, with what a test changes."""
    plain = Inputs(
        now_s=now_s, wall=Wall(NOON, trusted=True), samples=dict(samples), cutoff=permitting(now_s)
    )
    return plain._replace(**changes)


def both(water_c: float, at_s: float) -> dict[str, RawSample]:
    """Return the same number from both water probes."""
    return {"display": Sampled(water_c, at_s), "sump": Sampled(water_c, at_s)}


class Life:
    """A guard's life in the pure step: every tick hands its memory to the next.

    Attributes:
        settings: may be replaced between ticks, as a reload does.
        now_s: the boot clock.
        memory: of the last tick.
        decision: of the last tick.
        last_inputs: of the last tick.
    """

    def __init__(self, settings: Settings | None = None, now_s: float = 0.0) -> None:
        """Start a guard that knows nothing."""
        self.settings = bench_settings() if settings is None else settings
        self.now_s = now_s
        self.memory: Memory = at_start(self.settings, now_s)
        self.decision: Decision
        self.last_inputs: Inputs

    def tick(self, water: float | Mapping[str, RawSample], after_s: float = 5.0, **changes: Any) -> Decision:
        """Let `after_s` pass, then make a tick; a bare number is what every water probe reads."""
        self.now_s += after_s
        samples = (
            water
            if isinstance(water, Mapping)
            else {probe.name: Sampled(water, self.now_s) for probe in self.settings.water_probes}
        )
        self.last_inputs = inputs(self.now_s, samples, **changes)
        self.memory, self.decision = step(self.memory, self.last_inputs, self.settings)
        return self.decision

    def last(self, seconds: float, water: float | Mapping[str, RawSample], **changes: Any) -> Decision:
        """Tick every 5 s until `seconds` have passed."""
        until_s = self.now_s + seconds
        while self.now_s < until_s:
            self.tick(water, **changes)
        return self.decision

    def command(self, output: str) -> Command:
        """Return the last tick's command of one output."""
        return next(command for command in self.decision.commands if command.output == output)
