"""Promise 7 as what can never happen, over any life the cutoff may lead."""

import math
from dataclasses import replace

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from reefguard.cutoff.ds18b20 import Failed, Fault, Measured, Sample
from reefguard.cutoff.latch import Latch, latch_from_text, latch_of, latch_text
from reefguard.cutoff.trip import (
    Answer,
    Cause,
    Cutoff,
    HeldOff,
    Limits,
    Permitting,
    Tripped,
    at_start,
    lose_probe,
    open_for_test,
    step,
)

LIMITS = Limits(
    limit_c=24.5,
    recovery_c=0.5,
    trip_after_s=10.0,
    probe_timeout_s=60.0,
    good_for_s=60.0,
    rest_s=300.0,
    releases_per_day=3,
    frozen_after_s=86_400.0,
)

cold = st.sampled_from([24.5, 24.4375, 20.0, 0.0])
between = st.sampled_from([24.5625, 24.9375])
warm = st.sampled_from([25.0, 25.0625, 26.0])
no_number = st.sampled_from([math.nan, math.inf, -math.inf])
bad = st.one_of(st.sampled_from(Fault).map(Failed), no_number.map(Measured))
samples = st.one_of(st.none(), bad, st.one_of(cold, between, warm).map(Measured))
waits = st.one_of(st.sampled_from([0.0, 2.0, 5.0, 9.0, 10.0, 59.0, 60.0, 300.0]), st.floats(0.0, 90_000.0))


class AnyLife(RuleBasedStateMachine):
    """The cutoff, beside a plain record of what it was told."""

    @initialize()
    def first_start(self) -> None:
        self.boot = "0"
        self.disk: str | None = latch_text(Latch())
        self.now_s = 1_000.0
        self.begin()

    def begin(self) -> None:
        latch = None if self.disk is None else latch_from_text(self.disk)
        losses_s = () if latch is None else latch.losses_in(self.boot)
        latched = Tripped(Cause.LATCH_UNREADABLE) if latch is None else latch.tripped
        self.cutoff = at_start(latched, losses_s=losses_s, now_s=self.now_s)
        self.off_at_s = self.now_s
        self.good_at_s = self.now_s
        self.warm_from_s: float | None = None
        self.cold_from_s: float | None = None
        self.repeated_c: float | None = None
        self.repeated_from_s = self.now_s
        self.remember()

    def remember(self) -> None:
        self.disk = latch_text(latch_of(self.cutoff, self.boot, "then"))

    def told(self, sample: Sample | None, wait_s: float, reset: bool) -> None:
        before = self.cutoff
        self.now_s += wait_s
        self.cutoff, answer = step(
            before, sample=sample, reset_requested=reset, now_s=self.now_s, limits=LIMITS
        )
        self.judge(before, sample, answer)
        self.remember()

    def good(self, sample: Sample | None) -> float | None:
        """Return the water, or `None`: a value that has not moved for too long is no reading."""
        if not isinstance(sample, Measured) or not math.isfinite(sample.water_c):
            return None
        if sample.water_c != self.repeated_c:
            self.repeated_c, self.repeated_from_s = sample.water_c, self.now_s
        frozen = self.now_s - self.repeated_from_s >= LIMITS.frozen_after_s
        return None if frozen else sample.water_c

    def judge(self, before: Cutoff, sample: Sample | None, answer: Answer | None) -> None:
        """Hold each step against the record."""
        good_c = self.good(sample)
        silent = self.now_s - self.good_at_s >= LIMITS.probe_timeout_s
        if good_c is None:
            self.warm_from_s = None if silent or sample is not None else self.warm_from_s
        else:
            began_warm_s = self.now_s if self.warm_from_s is None or silent else self.warm_from_s
            began_cold_s = self.now_s if self.cold_from_s is None else self.cold_from_s
            self.warm_from_s = began_warm_s if good_c >= 25.0 else None
            self.cold_from_s = began_cold_s if good_c <= 24.5 else None
            self.good_at_s = self.now_s
        cold_s = -1.0 if good_c is None or self.cold_from_s is None else self.now_s - self.cold_from_s

        released = self.cutoff.permits_cooling and not before.permits_cooling
        dropped = before.permits_cooling and not self.cutoff.permits_cooling
        if dropped:
            self.off_at_s = self.now_s
        if released:
            assert isinstance(before.state, HeldOff)
            assert good_c is not None
            assert good_c >= 25.0
            assert self.warm_from_s is not None
            assert self.now_s - self.warm_from_s >= LIMITS.good_for_s
            assert self.now_s - self.off_at_s >= LIMITS.rest_s
        if self.cutoff.permits_cooling:
            assert not silent
            assert cold_s < LIMITS.trip_after_s
        if not isinstance(before.state, Tripped) and cold_s >= LIMITS.trip_after_s:
            assert isinstance(self.cutoff.state, Tripped)
        if isinstance(before.state, Tripped) and not isinstance(self.cutoff.state, Tripped):
            assert answer is Answer.ACCEPTED
            assert isinstance(self.cutoff.state, HeldOff)
            assert self.warm_from_s is not None
        if answer is Answer.ACCEPTED:
            # The proof begins anew with the next reading.
            self.warm_from_s = None
        if isinstance(before.state, Tripped) and isinstance(self.cutoff.state, Tripped):
            assert self.cutoff.state == before.state

    @rule(sample=samples, wait_s=waits, reset=st.booleans())
    def anything(self, sample: Sample | None, wait_s: float, reset: bool) -> None:
        self.told(sample, wait_s, reset)

    @rule(
        water_c=st.one_of(cold, between, warm),
        readings=st.integers(1, 80),
        wait_s=st.sampled_from([2.0, 5.0]),
    )
    def steady_water(self, water_c: float, readings: int, wait_s: float) -> None:
        for number in range(readings):
            self.told(Measured(water_c + 0.001 * (number % 2) * (water_c >= 25.0)), wait_s, reset=False)

    @precondition(lambda self: self.cutoff.permits_cooling)
    @rule()
    def the_probe_is_lost(self) -> None:
        self.told(None, LIMITS.probe_timeout_s, reset=False)
        assert not self.cutoff.permits_cooling

    @precondition(lambda self: self.cutoff.permits_cooling)
    @rule()
    def the_reader_ends(self) -> None:
        self.cutoff = lose_probe(self.cutoff, self.now_s, LIMITS)
        assert not self.cutoff.permits_cooling
        self.remember()
        self.restart(wait_s=2.0)

    @rule()
    def a_proof_test(self) -> None:
        before = self.cutoff
        self.cutoff = open_for_test(before, self.now_s)
        assert not self.cutoff.permits_cooling
        if before.permits_cooling:
            self.off_at_s = self.now_s
            self.warm_from_s = None
        else:
            assert self.cutoff == before
        self.remember()

    @rule(wait_s=waits)
    def restart(self, wait_s: float) -> None:
        self.now_s += wait_s
        self.kept_over_a_start()

    @rule(now_s=st.floats(0.0, 5_000.0))
    def power_cut(self, now_s: float) -> None:
        self.boot = str(int(self.boot) + 1)
        self.now_s = now_s
        self.kept_over_a_start()

    def kept_over_a_start(self) -> None:
        before = self.cutoff
        self.begin()
        assert not self.cutoff.permits_cooling
        if isinstance(before.state, Tripped):
            assert self.cutoff.state == before.state
        assert len(self.cutoff.losses_s) == len(before.losses_s)

    @rule(damage=st.sampled_from(["missing", "empty", "cut", "flipped"]), at=st.floats(0.0, 0.999))
    def the_latch_is_damaged(self, damage: str, at: float) -> None:
        text = self.disk or ""
        position = int(len(text) * at)
        flipped = text[:position] + chr(ord(text[position]) ^ 1) + text[position + 1 :]
        self.disk = {"missing": None, "empty": "", "cut": text[:position], "flipped": flipped}[damage]
        self.begin()
        assert self.cutoff.state == Tripped(Cause.LATCH_UNREADABLE)

    @rule(back_s=st.one_of(st.floats(0.001, 5_000.0), st.just(math.nan), st.just(math.inf)))
    def the_clock_goes_wrong(self, back_s: float) -> None:
        before = self.cutoff
        now_s = self.now_s - back_s
        self.cutoff, _ = step(before, sample=Measured(26.0), reset_requested=True, now_s=now_s, limits=LIMITS)
        assert not self.cutoff.permits_cooling
        if isinstance(before.state, Tripped):
            assert self.cutoff.state == before.state
        self.now_s = self.cutoff.seen_s
        self.off_at_s = self.good_at_s = self.now_s
        self.warm_from_s = self.cold_from_s = self.repeated_c = None
        self.remember()

    @invariant()
    def permits_in_permitting_only(self) -> None:
        assert self.cutoff.permits_cooling == (self.cutoff.state == Permitting())

    @invariant()
    def never_more_self_releases_than_allowed(self) -> None:
        in_a_day = [loss_s for loss_s in self.cutoff.losses_s if self.now_s - loss_s < 86_400.0]
        if self.cutoff.permits_cooling:
            assert len(in_a_day) <= LIMITS.releases_per_day

    @invariant()
    def the_disk_knows_what_must_survive(self) -> None:
        assert self.disk is not None
        latch = latch_from_text(self.disk)
        assert latch is not None
        assert latch == replace(latch_of(self.cutoff, self.boot, ""), since="then")


AnyLife.TestCase.settings = settings(max_examples=150, stateful_step_count=40, deadline=None)
TestAnyLife = AnyLife.TestCase
