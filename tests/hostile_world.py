"""A world that does not spare a guard, as a state machine for hypothesis.

Probes drift, jump, fall silent and lie; clocks are set; the program and the machine
are restarted; settings change; the cutoff holds or falls silent; the air is humid.
After every tick of the pure step `after_tick` is called: a test says there what must
never happen.
"""

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from builders import bench_settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from reefguard.control.step import Decision, Memory, at_start, step
from reefguard.guard.recall import recalled, to_keep
from reefguard.settings.model import (
    Chiller,
    CutPoints,
    Fan,
    FanSpeed,
    FanStage,
    SensedInput,
    Settings,
    Staging,
    Trust,
    Unit,
    WaterProbe,
    Wiring,
)
from reefguard.vocabulary import Cause, CutoffReport, Inputs, Missed, RawSample, RoomAir, Sampled, Wall

TRUST = Trust(stale_after_s=30.0, trusted_after_s=20.0, schedule_after_s=60.0, frozen_after_s=1_200.0)
PROBES = tuple(WaterProbe(name, f"28-00000000010{place}") for place, name in enumerate(("a", "b", "c")))
FANS = FanStage(
    CutPoints(26.6, 26.2),
    (
        Fan("fan1", Wiring(17)),
        Fan("fan2", Wiring(18), speed=FanSpeed(100.0, 0.3, 27.5)),
        Fan("fan3", Wiring(27)),
    ),
    lag_step_c=0.3,
    rotate_after_s=300.0,
)
CHILLER = Chiller(
    Wiring(22), CutPoints(27.2, 26.6), minimum_off_s=100.0, minimum_on_s=240.0, start_to_start_s=300.0
)
AFTER_RUN_S = 300.0

# What a wire that gives no number may say of itself; the other causes are found by judging a number.
WIRE_CAUSES = [
    Cause.ABSENT,
    Cause.EMPTY,
    Cause.CRC,
    Cause.ZEROS,
    Cause.MALFORMED,
    Cause.UNREADABLE,
    Cause.NO_ANSWER,
    Cause.NOT_YET,
]


@dataclass
class Wire:
    """One probe's wire: it shows the water, moved by `bias_c`, unless it shows something else."""

    bias_c: float = 0.0
    shows: float | Cause | None = None
    hung: bool = False


class HostileWorld(RuleBasedStateMachine):
    """One guard, and all that can happen to it.  `real_s` passes whatever the clocks say."""

    @initialize(
        count=st.sampled_from([2, 3]),
        staging=st.sampled_from(Staging),
        flow_wired=st.booleans(),
        begin_s=st.sampled_from([0.0, 12.7, 1e6]),
        water_c=st.sampled_from([26.0, 27.4]),
    )
    def begin(self, count: int, staging: Staging, flow_wired: bool, begin_s: float, water_c: float) -> None:
        self.settings: Settings = bench_settings(
            water_probes=PROBES[:count],
            trust=TRUST,
            fans=replace(FANS, staging=staging),
            chiller=replace(CHILLER, flow_input=SensedInput(6) if flow_wired else None),
            lights=replace(bench_settings().lights, after_run_s=AFTER_RUN_S),
        )
        self.wires = {probe.name: Wire() for probe in self.settings.water_probes}
        self.samples: dict[str, RawSample] = {}
        self.water_c = water_c
        self.drift_c_per_s = 0.0
        self.clock_off_by = timedelta(0)
        self.clock_trusted = True
        self.sensed: bool | None = None
        self.cutoff: bool | None = True
        self.cutoff_age_s = 0.0
        self.flow: bool | None = True
        self.room: tuple[float | None, float | None, float] | None = None
        self.now_s = self.real_s = begin_s
        self.boot = 0
        self.born(at_start(self.settings, self.now_s))
        for _ in range(25):
            self.pass_time(5.0)

    def born(self, memory: Memory) -> None:
        """Begin a run of the program, with every output at rest."""
        self.memory = memory
        self.begun_s = self.real_s

    def after_tick(self, before: Memory, decision: Decision, inputs: Inputs) -> None:
        """See that nothing happened that must not."""
        raise NotImplementedError

    # What the world does.

    @rule(count=st.integers(1, 12), tick_s=st.sampled_from([5.0, 5.0, 5.0, 7.3, 1.0, 0.0, 19.9]))
    def time_passes(self, count: int, tick_s: float) -> None:
        for _ in range(count):
            self.pass_time(tick_s)

    @rule(
        to_c=st.sampled_from([25.9, 26.3, 26.7, 27.0, 27.4, 28.5, 23.5]),
        over_s=st.sampled_from([60.0, 120.0, 300.0]),
    )
    def water_goes(self, to_c: float, over_s: float) -> None:
        self.water_goes_to(to_c, over_s)

    def water_goes_to(self, to_c: float, over_s: float) -> None:
        self.drift_c_per_s = max(-0.03, min(0.03, (to_c - self.water_c) / over_s))
        for _ in range(round(over_s / 5.0)):
            self.pass_time(5.0)
        self.drift_c_per_s = 0.0

    @rule(data=st.data(), bias_c=st.sampled_from([0.0, 0.5, -0.5, 1.2, -1.2, 3.0, -3.0]))
    def a_probe_is_off(self, data: st.DataObject, bias_c: float) -> None:
        self.a_wire(data).bias_c = bias_c
        for _ in range(24):
            self.pass_time(5.0)

    @rule(
        data=st.data(),
        shows=st.sampled_from(WIRE_CAUSES)
        | st.sampled_from([85.0, 127.9375, math.nan, math.inf, -math.inf, 26.0, 20.0, 40.0, 0.0, 50.0])
        | st.floats(),
    )
    def a_probe_is_sick(self, data: st.DataObject, shows: float | Cause) -> None:
        self.a_wire(data).shows = shows

    @rule(data=st.data(), shows=st.sampled_from([20.0, 31.0, 85.0, Cause.CRC]))
    def a_probe_has_a_glitch(self, data: st.DataObject, shows: float | Cause) -> None:
        wire = self.a_wire(data)
        before, wire.shows = wire.shows, shows
        self.pass_time(5.0)
        wire.shows = before

    @rule(data=st.data(), hung=st.booleans())
    def a_bus_hangs(self, data: st.DataObject, hung: bool) -> None:
        self.a_wire(data).hung = hung

    @rule(water_c=st.sampled_from([26.9, 27.4]))
    def all_is_well(self, water_c: float) -> None:
        self.wires = {name: Wire() for name in self.wires}
        self.cutoff, self.cutoff_age_s, self.flow, self.room = True, 0.0, True, None
        self.water_goes_to(water_c, 120.0)

    @rule(jump_s=st.sampled_from([-86_400, -40_000, -3_600, -1, 1, 3_600, 40_000, 10**8]))
    def the_clock_is_set(self, jump_s: int) -> None:
        self.clock_off_by += timedelta(seconds=jump_s)

    @rule(trusted=st.booleans())
    def the_clock_is_known_or_not(self, trusted: bool) -> None:
        self.clock_trusted = trusted

    @rule(sensed=st.sampled_from([None, True, False]))
    def the_lights_input_says(self, sensed: bool | None) -> None:
        self.sensed = sensed

    @rule(
        permits=st.sampled_from([True, True, False, None]),
        age_s=st.sampled_from([0.0, 0.0, 29.9, 31.0, -0.1, -1e6, math.nan]),
    )
    def the_cutoff_says(self, permits: bool | None, age_s: float) -> None:
        self.cutoff, self.cutoff_age_s = permits, age_s

    @rule(flow=st.sampled_from([True, True, False, None]))
    def the_flow_switch_says(self, flow: bool | None) -> None:
        self.flow = flow

    @rule(
        air_c=st.sampled_from([27.5, 28.0, 28.0, 30.0, 22.0, None, 85.0, math.nan]),
        humidity=st.sampled_from([0.8, 0.85, 0.9, 1.0, 0.3, None, 1.5, math.nan]),
        age_s=st.sampled_from([0.0, 0.0, 0.0, 100.0]),
    )
    def the_air_is(self, air_c: float | None, humidity: float | None, age_s: float) -> None:
        self.room = (air_c, humidity, age_s)

    @rule(
        staging=st.sampled_from(Staging),
        warmer_c=st.sampled_from([0.0, 0.0, 0.5, -0.5]),
        out=st.sets(st.integers(0, 2), max_size=2),
        chiller_out=st.sampled_from([False, False, True]),
        offset_c=st.sampled_from([0.0, 0.3]),
        rest_s=st.sampled_from([100.0, 150.0]),
        unknown_run=st.booleans(),
    )
    def other_settings_are_loaded(
        self,
        staging: Staging,
        warmer_c: float,
        out: set[int],
        chiller_out: bool,
        offset_c: float,
        rest_s: float,
        unknown_run: bool,
    ) -> None:
        old = self.settings
        assert old.chiller is not None
        self.settings = replace(
            old,
            water_probes=(replace(old.water_probes[0], offset_c=offset_c), *old.water_probes[1:]),
            fans=replace(
                FANS,
                staging=staging,
                cut=CutPoints(26.6 + warmer_c, 26.2 + warmer_c),
                fans=tuple(replace(fan, out_of_service=place in out) for place, fan in enumerate(FANS.fans)),
            ),
            chiller=replace(
                old.chiller,
                cut=CutPoints(27.2 + warmer_c, 26.6 + warmer_c),
                out_of_service=chiller_out,
                minimum_off_s=rest_s,
            ),
            lights=replace(old.lights, fans_run_when_time_unknown=unknown_run),
            shown_in=Unit.FAHRENHEIT if unknown_run else Unit.CELSIUS,
        )

    @precondition(lambda self: self.real_s > self.begun_s)
    @rule(down_s=st.sampled_from([0.0, 3.0, 40.0, 500.0]), reboot=st.booleans())
    def the_guard_is_restarted(self, down_s: float, reboot: bool) -> None:
        kept = to_keep(
            self.memory, self.settings, now_s=self.now_s, boot_id=f"boot {self.boot}", wall="unused"
        )
        self.real_s += down_s
        self.now_s += down_s
        if reboot:
            self.boot += 1
            self.now_s = 15.0
        self.samples = {}
        self.born(recalled(kept, self.settings, now_s=self.now_s, boot_id=f"boot {self.boot}"))

    # A tick.

    def a_wire(self, data: st.DataObject) -> Wire:
        return self.wires[data.draw(st.sampled_from(sorted(self.wires)))]

    def pass_time(self, tick_s: float) -> None:
        self.now_s += tick_s
        self.real_s += tick_s
        self.water_c = max(23.0, min(29.0, self.water_c + self.drift_c_per_s * tick_s))
        for name, wire in self.wires.items():
            if not wire.hung:
                self.samples[name] = self.sample(wire)
        inputs = self.inputs()
        before = self.memory
        self.memory, decision = step(before, inputs, self.settings)
        self.after_tick(before, decision, inputs)

    def sample(self, wire: Wire) -> RawSample:
        if isinstance(wire.shows, Cause):
            return Missed(wire.shows, self.now_s)
        if wire.shows is not None:
            return Sampled(wire.shows, self.now_s)
        tremble_c = 0.0625 * (int(self.real_s / 5.0) % 2)
        return Sampled(round((self.water_c + wire.bias_c) * 16.0) / 16.0 + tremble_c, self.now_s)

    def inputs(self) -> Inputs:
        local = datetime(2026, 7, 1, 12, tzinfo=UTC) + timedelta(seconds=self.real_s) + self.clock_off_by
        report = None
        if self.cutoff is not None:
            report = CutoffReport("x", permits=self.cutoff, why="so", at_s=self.now_s - self.cutoff_age_s)
        room = None
        if self.room is not None:
            room = RoomAir(self.room[0], self.room[1], self.now_s - self.room[2])
        return Inputs(
            now_s=self.now_s,
            wall=Wall(local, trusted=self.clock_trusted),
            samples=dict(self.samples),
            room=room,
            lights_sensed=self.sensed,
            flow=self.flow,
            cutoff=report,
        )
