"""Whatever happens to a guard, what must never happen does not.

`hostile_world` makes up the lives.  After each tick the promises are checked here
against models that share no code with the control.
"""

import math
from dataclasses import dataclass
from datetime import timedelta

from hostile_world import AFTER_RUN_S, TRUST, HostileWorld
from hypothesis import HealthCheck, settings

from reefguard.control.findings import find
from reefguard.control.photoperiod import Told
from reefguard.control.step import Decision, Memory, step
from reefguard.control.words import explain
from reefguard.settings.model import Staging
from reefguard.vocabulary import Cause, Command, Distrusted, Inputs, Mode, Reason, Sampled, Trusted, Wall

WANTS = {
    Reason.WARM,
    Reason.STILL_COOLING,
    Reason.LIGHTS_ON,
    Reason.AFTER_RUN,
    Reason.TIME_UNKNOWN_RUN,
}
ENDS_BY_ITSELF = {Reason.MINIMUM_OFF, Reason.START_TO_START, Reason.MINIMUM_ON, Reason.AFTER_RUN}


@dataclass
class CompressorModel:
    """When the compressor ran, in seconds that no restart sets back."""

    on: bool = False
    stopped_s: float = -math.inf
    started_s: float = -math.inf
    started_in_this_run: bool = False


@dataclass
class ProofModel:
    """Whether a probe ever showed numbers that water can have for the proving time, and when last."""

    proved: bool = False
    run_since_s: float | None = None
    sane_s: float = -math.inf
    seen_s: float = -math.inf


class AnyLife(HostileWorld):
    """The promises, tick by tick."""

    def __init__(self) -> None:
        super().__init__()
        self.compressor = CompressorModel()

    def born(self, memory: Memory) -> None:
        """No output stands, no probe has proved itself; the mode may have been kept."""
        super().born(memory)
        if self.compressor.on:
            self.compressor.on, self.compressor.stopped_s = False, self.real_s
        self.compressor.started_in_this_run = False
        self.proofs = {name: ProofModel() for name in self.wires}
        self.was: tuple[Command, ...] = ()
        self.mode, self.known_s = memory.mode.mode, memory.mode.last_known_s
        self.dark_since_s: float | None = None
        self.cooling_called_for = False

    def after_tick(self, before: Memory, decision: Decision, inputs: Inputs) -> None:
        """See that every promise held."""
        self.look_back()
        self.no_trust_no_chiller(decision)
        self.every_condition_holds_while_it_runs(decision, inputs)
        self.compressor_rests(decision)
        self.fans_do_what_they_must(decision)
        self.mode_is_earned_and_lost(decision)
        self.schedule_follows_the_lights(decision, inputs)
        self.every_command_is_explained(decision, inputs)
        self.the_wall_clock_moves_nothing_in_automatic(before, decision, inputs)
        self.was = decision.commands

    def look_back(self) -> None:
        """Follow what each probe showed."""
        for name, sample in self.samples.items():
            proof = self.proofs[name]
            if sample.at_s <= proof.seen_s:
                continue
            proof.seen_s = sample.at_s
            if not isinstance(sample, Sampled) or not 0.0 < sample.raw_c < 50.0:
                proof.run_since_s = None
                continue
            proof.sane_s = sample.at_s
            if proof.run_since_s is None:
                proof.run_since_s = sample.at_s
            proof.proved = proof.proved or sample.at_s - proof.run_since_s >= TRUST.trusted_after_s

    def has_proved(self, name: str) -> bool:
        """Return whether a probe may be trusted at all."""
        proof = self.proofs[name]
        return proof.proved and self.now_s - proof.sane_s <= TRUST.stale_after_s

    def no_trust_no_chiller(self, decision: Decision) -> None:
        """Promise 1."""
        for reading in decision.readings:
            if isinstance(reading, Trusted):
                assert self.has_proved(reading.probe)
        if decision.commands[-1].on:
            assert any(self.has_proved(name) for name in self.wires)
            assert any(isinstance(reading, Trusted) for reading in decision.readings)
            assert decision.mode is Mode.AUTOMATIC

    def every_condition_holds_while_it_runs(self, decision: Decision, inputs: Inputs) -> None:
        """Promises 2 and 4: nothing, no minimum on time either, keeps it on against a protection."""
        command, chiller = decision.commands[-1], self.settings.chiller
        assert chiller is not None
        cut = chiller.cut
        used_c = [reading.water_c for reading in decision.readings if isinstance(reading, Trusted)]
        if not used_c or min(used_c) <= cut.cut_out_c:
            self.cooling_called_for = False
        elif min(used_c) >= cut.cut_in_c:
            self.cooling_called_for = True
        if not command.on:
            return
        assert min(used_c) > max(
            self.settings.safe_band.low_c, cut.cut_out_c - (cut.cut_in_c - cut.cut_out_c)
        )
        for reading in decision.readings:
            if isinstance(reading, Distrusted) and reading.cause in (Cause.PROVING, Cause.TOO_FAST):
                assert reading.raw_c is not None
                assert reading.raw_c > cut.cut_out_c
        assert self.cooling_called_for or self.real_s - self.compressor.started_s < chiller.minimum_on_s
        assert not chiller.out_of_service
        assert self.cutoff is True
        assert abs(self.cutoff_age_s) <= chiller.cutoff_silent_after_s
        assert chiller.flow_input is None or inputs.flow is True

    def compressor_rests(self, decision: Decision) -> None:
        """Promise 3, on seconds that pass whatever the clocks say."""
        model, chiller, on = self.compressor, self.settings.chiller, decision.commands[-1].on
        assert chiller is not None
        if on and not model.on:
            assert self.real_s - model.stopped_s >= chiller.minimum_off_s - 1e-6
            assert self.real_s - self.begun_s >= chiller.minimum_off_s - 1e-6
            if model.started_in_this_run:
                assert self.real_s - model.started_s >= chiller.start_to_start_s - 1e-6
            model.started_s, model.started_in_this_run = self.real_s, True
        if model.on and not on:
            model.stopped_s = self.real_s
        model.on = on

    def fans_do_what_they_must(self, decision: Decision) -> None:
        """Promise 2 for the fans, and levels that are levels."""
        stage = self.settings.fans
        assert stage is not None
        for command in decision.commands:
            assert 0.0 <= command.level <= 1.0
        if decision.mode is Mode.SCHEDULE:
            return
        used_c = [reading.water_c for reading in decision.readings if isinstance(reading, Trusted)]
        fans = decision.commands[:-1]
        if not used_c:
            if self.was:
                for fan, command, before in zip(stage.fans, fans, self.was, strict=False):
                    assert command.level == (0.0 if fan.out_of_service else before.level)
            return
        warmest_c, limit_c = max(used_c), decision.cools_above_c
        held = limit_c is not None and warmest_c < limit_c + stage.heat_margin_c
        maybe_held = limit_c is not None and warmest_c < limit_c + stage.heat_margin_c + 0.2
        in_service = sum(not fan.out_of_service for fan in stage.fans)
        running = sum(command.on for command in fans)
        if held or warmest_c <= stage.cut.cut_out_c:
            assert running == 0
        elif warmest_c >= stage.cut.cut_in_c and not maybe_held:
            asked = len(fans)
            if stage.staging is Staging.LEAD_LAG:
                asked = 1 + math.floor((warmest_c - stage.cut.cut_in_c) / stage.lag_step_c - 1e-9)
            assert running >= min(asked, in_service)

    def mode_is_earned_and_lost(self, decision: Decision) -> None:
        """Promise 5, the mode."""
        used_s = [reading.at_s for reading in decision.readings if isinstance(reading, Trusted)]
        if used_s:
            self.mode, self.known_s = Mode.AUTOMATIC, min(used_s)
        elif self.known_s is None or self.now_s - self.known_s >= TRUST.schedule_after_s:
            self.mode = Mode.SCHEDULE
        assert decision.mode is self.mode

    def schedule_follows_the_lights(self, decision: Decision, inputs: Inputs) -> None:
        """Promises 5 and 6, the fans."""
        lit = self.sensed
        if lit is None and self.clock_trusted:
            lit = 10 <= inputs.wall.local.hour < 20  # the bench's hours, written in UTC
        if lit is not False:
            self.dark_since_s = None
        elif self.dark_since_s is None:
            self.dark_since_s = self.now_s
        stage = self.settings.fans
        assert stage is not None
        if decision.mode is not Mode.SCHEDULE:
            return
        assert not decision.commands[-1].on
        for fan, command in zip(stage.fans, decision.commands, strict=False):
            if fan.out_of_service:
                assert command.level == 0.0
            elif lit is None:
                assert command.level == float(self.settings.lights.fans_run_when_time_unknown)
            elif lit:
                assert command.level == 1.0
            elif self.dark_since_s is not None and self.now_s - self.dark_since_s >= AFTER_RUN_S:
                assert command.level == 0.0

    def every_command_is_explained(self, decision: Decision, inputs: Inputs) -> None:
        """Promise 14."""
        for command in decision.commands:
            wanted = command.why.reason in WANTS
            if command.why.reason is not Reason.AWAITING_READING:
                assert command.on == (
                    (wanted and command.blocked is None) or command.why.reason is Reason.MINIMUM_ON
                )
            if command.blocked is not None:
                assert not command.on
                assert wanted or command.why.reason is Reason.AWAITING_READING
            for why in (command.why, command.blocked):
                if why is not None and why.reason in ENDS_BY_ITSELF:
                    assert why.until_s is not None
                    assert why.until_s > self.now_s
            sentence = explain(command, self.now_s, self.settings.shown_in)
            assert sentence.strip()
            assert "None" not in sentence
            assert "{" not in sentence
        for finding in find(self.memory, decision, inputs, self.settings):
            assert finding.what.strip()
            assert finding.mend.strip()
            assert "None" not in finding.what

    def the_wall_clock_moves_nothing_in_automatic(
        self, before: Memory, decision: Decision, inputs: Inputs
    ) -> None:
        """Promise 6: the same tick under another wall clock decides the same."""
        other = Wall(inputs.wall.local + timedelta(hours=11, seconds=17), trusted=not inputs.wall.trusted)
        memory, twin = step(before, inputs._replace(wall=other), self.settings)
        assert twin.readings == decision.readings
        assert twin.mode is decision.mode
        assert twin.commands[-1] == decision.commands[-1]
        if decision.mode is Mode.AUTOMATIC:
            assert twin.commands == decision.commands
            assert memory._replace(lights=None) == self.memory._replace(lights=None)
        if self.sensed is not None:
            assert twin == decision
            assert twin.lights.told is Told.SENSED


AnyLife.TestCase.settings = settings(
    max_examples=120,
    stateful_step_count=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
TestAnyLife = AnyLife.TestCase
