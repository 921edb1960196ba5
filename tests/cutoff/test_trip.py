"""The decision, case by case, and on the very second of each boundary."""

import math
from dataclasses import replace

import pytest

from reefguard.cutoff.ds18b20 import Failed, Fault, Measured, Sample
from reefguard.cutoff.trip import (
    Answer,
    Cause,
    Cutoff,
    HeldOff,
    Hold,
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
    good_for_s=40.0,
    rest_s=300.0,
    releases_per_day=3,
    frozen_after_s=86_400.0,
)
WARM, COLD, BETWEEN = 25.5, 24.0, 24.75
CRC = Failed(Fault.CRC)


class Life:
    """A cutoff and its clock, told one thing after another."""

    def __init__(self, cutoff: Cutoff, limits: Limits = LIMITS) -> None:
        self.cutoff = cutoff
        self.limits = limits
        self.now_s = cutoff.seen_s
        self._odd = False

    def told(self, sample: Sample | None = None, *, after_s: float, reset: bool = False) -> Answer | None:
        self.now_s += after_s
        self.cutoff, answer = step(
            self.cutoff, sample=sample, reset_requested=reset, now_s=self.now_s, limits=self.limits
        )
        return answer

    def water(self, water_c: float, *, after_s: float, reset: bool = False) -> Answer | None:
        """Tell a reading that is never quite the one before."""
        self._odd = not self._odd
        return self.told(Measured(water_c + 0.0625 * self._odd), after_s=after_s, reset=reset)

    def for_s(self, span_s: float, water_c: float, every_s: float = 5.0) -> None:
        until_s = self.now_s + span_s
        while self.now_s < until_s:
            self.water(water_c, after_s=min(every_s, until_s - self.now_s))


def permitting(limits: Limits = LIMITS) -> Life:
    life = Life(at_start(None, now_s=1000.0), limits)
    life.for_s(400.0, WARM)
    assert life.cutoff.permits_cooling
    return life


def tripped(cause: Cause = Cause.TOO_COLD) -> Life:
    return Life(at_start(Tripped(cause, 24.0), now_s=1000.0))


def test_starts_with_cooling_off_and_at_rest() -> None:
    cutoff = at_start(None, losses_s=(3.0, 9.0), now_s=7.0)
    assert cutoff.state == HeldOff(Hold.STARTING)
    assert not cutoff.permits_cooling
    assert (cutoff.since_s, cutoff.seen_s, cutoff.off_since_s, cutoff.evidence.last_good_s) == (7.0,) * 4
    # A loss from the future counts as of now: it must not outlast its day.
    assert cutoff.losses_s == (3.0, 7.0)


def test_starts_as_the_latch_says() -> None:
    assert tripped().cutoff.state == Tripped(Cause.TOO_COLD, 24.0)


def test_permits_on_the_exact_second_of_the_rest() -> None:
    life = Life(at_start(None, now_s=1000.0))
    life.for_s(299.0, WARM)
    assert not life.cutoff.permits_cooling
    life.water(WARM, after_s=1.0)
    assert life.cutoff.state == Permitting()
    assert life.cutoff.since_s == 1300.0


def test_permits_on_the_exact_second_of_the_proof() -> None:
    life = Life(at_start(None, now_s=0.0))
    life.for_s(400.0, BETWEEN)
    life.water(WARM, after_s=1.0)
    life.for_s(39.0, WARM)
    assert life.cutoff.state == HeldOff(Hold.STARTING)
    life.water(WARM, after_s=1.0)
    assert life.cutoff.permits_cooling


def test_water_exactly_recovered_proves_and_a_hair_less_does_not() -> None:
    life = Life(at_start(None, now_s=0.0))
    for _ in range(100):
        life.told(Measured(25.0), after_s=5.0)
    assert life.cutoff.permits_cooling
    life = Life(at_start(None, now_s=0.0))
    for _ in range(100):
        life.told(Measured(math.nextafter(25.0, 0.0)), after_s=5.0)
    assert life.cutoff.state == HeldOff(Hold.STARTING)


@pytest.mark.parametrize(
    "breach",
    [CRC, Measured(BETWEEN), Measured(math.nan), Measured(math.inf)],
    ids=["crc", "cool", "nan", "inf"],
)
def test_one_bad_reading_begins_the_proof_anew(breach: Sample) -> None:
    life = Life(at_start(None, now_s=0.0))
    life.for_s(290.0, BETWEEN)
    life.for_s(35.0, WARM)
    life.told(breach, after_s=1.0)
    life.water(WARM, after_s=1.0)
    life.for_s(39.0, WARM)
    assert life.cutoff.state == HeldOff(Hold.STARTING)
    life.water(WARM, after_s=1.0)
    assert life.cutoff.permits_cooling


def test_nothing_new_for_a_moment_does_not_begin_the_proof_anew() -> None:
    life = Life(at_start(None, now_s=0.0))
    life.for_s(300.0, BETWEEN)
    life.water(WARM, after_s=1.0)
    life.told(None, after_s=39.0)
    assert not life.cutoff.permits_cooling
    life.water(WARM, after_s=1.0)
    assert life.cutoff.permits_cooling


@pytest.mark.parametrize(("silence_s", "proven"), [(59.0, True), (60.0, False)])
def test_a_long_silence_begins_the_proof_anew(silence_s: float, proven: bool) -> None:
    life = Life(at_start(None, now_s=0.0))
    life.for_s(300.0, BETWEEN)
    life.water(WARM, after_s=1.0)
    life.water(WARM, after_s=silence_s)
    assert life.cutoff.permits_cooling is proven


def test_never_permits_on_an_old_reading() -> None:
    life = Life(at_start(None, now_s=0.0))
    life.for_s(295.0, WARM)
    life.told(None, after_s=10.0)
    assert not life.cutoff.permits_cooling
    life.water(WARM, after_s=1.0)
    assert life.cutoff.permits_cooling


def test_trips_on_the_exact_second() -> None:
    life = permitting()
    life.told(Measured(24.5), after_s=1.0)
    life.told(Measured(24.4375), after_s=9.0)
    assert life.cutoff.permits_cooling
    life.told(Measured(24.375), after_s=1.0)
    assert life.cutoff.state == Tripped(Cause.TOO_COLD, 24.375)
    assert life.cutoff.since_s == life.now_s == life.cutoff.off_since_s


def test_a_hair_above_the_limit_is_not_too_cold() -> None:
    life = permitting()
    life.for_s(3600.0, math.nextafter(24.5, 99.0))
    assert life.cutoff.permits_cooling


def test_a_reading_above_the_limit_breaks_the_cold_streak() -> None:
    life = permitting()
    life.told(Measured(24.5), after_s=1.0)
    life.told(Measured(24.5625), after_s=5.0)
    life.told(Measured(24.5), after_s=5.0)
    assert life.cutoff.permits_cooling


@pytest.mark.parametrize("gap", [None, CRC, Measured(math.nan)], ids=["nothing", "crc", "nan"])
def test_a_missing_reading_does_not_break_the_cold_streak(gap: Sample | None) -> None:
    life = permitting()
    life.water(COLD, after_s=1.0)
    life.told(gap, after_s=5.0)
    assert life.cutoff.permits_cooling
    life.water(COLD, after_s=5.0)
    assert life.cutoff.state == Tripped(Cause.TOO_COLD, life.cutoff.evidence.water_c)


def test_one_cold_reading_and_then_nothing_is_no_trip() -> None:
    life = permitting()
    life.water(COLD, after_s=1.0)
    life.told(None, after_s=59.0)
    assert life.cutoff.permits_cooling


def test_cold_on_both_sides_of_a_long_silence_is_a_trip_not_a_loss() -> None:
    life = permitting()
    life.water(COLD, after_s=1.0)
    life.water(COLD, after_s=500.0)
    assert isinstance(life.cutoff.state, Tripped)
    assert life.cutoff.losses_s == ()


def test_trips_while_held_off_too() -> None:
    life = Life(at_start(None, now_s=0.0))
    life.water(COLD, after_s=1.0)
    life.water(COLD, after_s=10.0)
    assert life.cutoff.state == Tripped(Cause.TOO_COLD, life.cutoff.evidence.water_c)
    # The relay was off already: its rest began at the start.
    assert life.cutoff.off_since_s == 0.0


@pytest.mark.parametrize("cause", Cause)
def test_what_tripped_it_first_stays_the_cause(cause: Cause) -> None:
    life = tripped(cause)
    life.for_s(100.0, COLD)
    life.told(None, after_s=1000.0)
    assert life.cutoff.state == Tripped(cause, 24.0)
    assert life.cutoff.since_s == 1000.0


@pytest.mark.parametrize("quiet", [None, CRC, Measured(math.nan)], ids=["nothing", "crc", "nan"])
def test_a_lost_probe_holds_off_on_the_exact_second(quiet: Sample | None) -> None:
    life = permitting()
    life.told(quiet, after_s=59.0)
    assert life.cutoff.permits_cooling
    life.told(quiet, after_s=1.0)
    assert life.cutoff.state == HeldOff(Hold.PROBE_LOST)
    assert life.cutoff.losses_s == (life.now_s,)
    assert life.cutoff.off_since_s == life.cutoff.since_s == life.now_s


def test_a_good_reading_after_too_long_a_silence_still_drops() -> None:
    life = permitting()
    life.water(WARM, after_s=60.0)
    assert life.cutoff.state == HeldOff(Hold.PROBE_LOST)


def test_a_lost_probe_releases_by_itself_after_rest_and_proof() -> None:
    life = permitting()
    life.told(None, after_s=60.0)
    life.for_s(299.0, WARM)
    assert life.cutoff.state == HeldOff(Hold.PROBE_LOST)
    life.water(WARM, after_s=1.0)
    assert life.cutoff.permits_cooling


def test_one_loss_too_many_in_a_day_trips() -> None:
    life = permitting()
    for _ in range(3):
        life.told(None, after_s=60.0)
        assert life.cutoff.state == HeldOff(Hold.PROBE_LOST)
        life.for_s(400.0, WARM)
        assert life.cutoff.permits_cooling
    life.told(None, after_s=60.0)
    assert life.cutoff.state == Tripped(Cause.TOO_MANY_RELEASES)
    assert len(life.cutoff.losses_s) == 4


@pytest.mark.parametrize(
    ("first_s", "state"),
    [(86_400.0, HeldOff(Hold.PROBE_LOST)), (86_399.0, Tripped(Cause.TOO_MANY_RELEASES))],
)
def test_losses_count_for_a_sliding_day(first_s: float, state: object) -> None:
    life = permitting(replace(LIMITS, releases_per_day=1))
    life.cutoff = life.cutoff._replace(losses_s=(life.now_s + 60.0 - first_s,))
    life.told(None, after_s=60.0)
    assert life.cutoff.state == state


def test_losses_of_yesterday_are_forgotten() -> None:
    life = permitting()
    life.cutoff = life.cutoff._replace(losses_s=(life.now_s + 5.0 - 86_400.0, life.now_s))
    life.water(WARM, after_s=5.0)
    assert life.cutoff.losses_s == (life.now_s - 5.0,)


def test_no_release_at_all_where_none_is_allowed() -> None:
    life = permitting(replace(LIMITS, releases_per_day=0))
    life.told(None, after_s=60.0)
    assert life.cutoff.state == Tripped(Cause.TOO_MANY_RELEASES)


@pytest.mark.parametrize("life", [tripped(), Life(at_start(None, now_s=0.0))], ids=["tripped", "held off"])
def test_a_probe_lost_while_cooling_is_off_is_no_loss(life: Life) -> None:
    assert lose_probe(life.cutoff, 5000.0, LIMITS) == life.cutoff


def test_losing_the_probe_forgets_yesterdays_losses() -> None:
    life = permitting()
    cutoff = life.cutoff._replace(losses_s=(life.now_s - 86_400.0,))
    assert lose_probe(cutoff, life.now_s, LIMITS).losses_s == (life.now_s,)


def test_a_frozen_probe_is_no_reading() -> None:
    life = permitting(replace(LIMITS, frozen_after_s=100.0))
    begun_s = life.now_s + 5.0
    while life.now_s < begun_s + 99.0:
        life.told(Measured(26.0), after_s=5.0 if life.now_s < begun_s + 95.0 else 4.0)
    assert life.cutoff.evidence.last_good_s == begun_s + 99.0
    life.told(Measured(26.0), after_s=1.0)
    assert life.cutoff.evidence.last_good_s == begun_s + 99.0
    assert life.cutoff.evidence.frozen(life.now_s, life.limits)
    assert life.cutoff.evidence.warm is None
    life.told(Measured(26.0), after_s=59.0)
    assert life.cutoff.state == HeldOff(Hold.PROBE_LOST)
    life.told(Measured(26.0625), after_s=1.0)
    assert life.cutoff.evidence.last_good_s == life.now_s


def test_a_probe_that_never_spoke_is_not_frozen() -> None:
    evidence = at_start(None, now_s=0.0).evidence
    assert not evidence.frozen(1e9, LIMITS)


def test_a_reset_over_recovered_water_begins_the_proof_and_never_permits_at_once() -> None:
    life = tripped()
    life.cutoff = life.cutoff._replace(losses_s=(1.0, 2.0))
    life.for_s(1000.0, WARM)
    assert life.water(WARM, after_s=5.0, reset=True) is Answer.ACCEPTED
    assert life.cutoff.state == HeldOff(Hold.RESET)
    assert life.cutoff.losses_s == ()
    assert life.cutoff.since_s == life.now_s
    reset_s = life.now_s
    life.water(WARM, after_s=5.0)
    life.for_s(39.0, WARM)
    assert life.cutoff.state == HeldOff(Hold.RESET)
    life.water(WARM, after_s=1.0)
    assert life.cutoff.permits_cooling
    assert life.now_s == reset_s + 45.0


def test_a_reset_soon_after_the_trip_waits_for_the_rest() -> None:
    life = permitting()
    life.for_s(15.0, COLD)
    dropped_s = life.cutoff.off_since_s
    assert life.water(WARM, after_s=5.0, reset=True) is Answer.ACCEPTED
    life.for_s(dropped_s + 299.0 - life.now_s, WARM)
    assert life.cutoff.state == HeldOff(Hold.RESET)
    life.water(WARM, after_s=1.0)
    assert life.cutoff.permits_cooling


def test_a_reset_between_two_readings_goes_by_the_last() -> None:
    life = tripped()
    life.water(WARM, after_s=5.0)
    assert life.told(None, after_s=59.0, reset=True) is Answer.ACCEPTED


REFUSALS = {
    "water not recovered": (Measured(24.9375), 5.0, Answer.NOT_RECOVERED),
    "water too cold": (Measured(24.0), 5.0, Answer.NOT_RECOVERED),
    "never a reading": (None, 5.0, Answer.NO_GOOD_READING),
    "no reading now": (CRC, 5.0, Answer.NO_GOOD_READING),
}


@pytest.mark.parametrize(("sample", "after_s", "answer"), REFUSALS.values(), ids=REFUSALS.keys())
def test_a_refused_reset_changes_nothing(sample: Sample | None, after_s: float, answer: Answer) -> None:
    life = tripped()
    assert life.told(sample, after_s=after_s, reset=True) is answer
    assert life.cutoff.state == Tripped(Cause.TOO_COLD, 24.0)


@pytest.mark.parametrize(
    ("last_c", "silence_s", "answer"),
    [
        (WARM, 60.0, Answer.NO_GOOD_READING),
        (COLD, 60.0, Answer.NO_GOOD_READING),
        (COLD, 59.0, Answer.NOT_RECOVERED),
    ],
)
def test_a_reset_after_a_silence_is_refused(last_c: float, silence_s: float, answer: Answer) -> None:
    life = tripped()
    life.water(last_c, after_s=5.0)
    assert life.told(None, after_s=silence_s, reset=True) is answer
    assert isinstance(life.cutoff.state, Tripped)


def test_a_bad_reading_over_recovered_water_is_said_to_be_one() -> None:
    life = tripped()
    life.told(Measured(25.0), after_s=5.0)
    assert life.told(CRC, after_s=5.0, reset=True) is Answer.NO_GOOD_READING


@pytest.mark.parametrize(
    "life", [permitting(), Life(at_start(None, now_s=0.0))], ids=["permitting", "held off"]
)
def test_a_reset_without_a_trip_changes_nothing(life: Life) -> None:
    before = life.cutoff.state
    assert life.water(WARM, after_s=1.0, reset=True) is Answer.NOT_TRIPPED
    assert life.cutoff.state == before


def test_no_reset_no_answer() -> None:
    assert tripped().water(WARM, after_s=1.0) is None
    assert permitting().water(WARM, after_s=1.0) is None


@pytest.mark.parametrize("now_s", [1399.0, -5.0, -math.inf])
def test_a_clock_that_ran_backwards_drops_and_begins_anew(now_s: float) -> None:
    life = permitting()
    life.cutoff = life.cutoff._replace(losses_s=(1398.0, -7.0))
    cutoff, answer = step(
        life.cutoff, sample=Measured(WARM), reset_requested=False, now_s=now_s, limits=LIMITS
    )
    begun_s = now_s if math.isfinite(now_s) else 1400.0
    expected = at_start(None, losses_s=(1398.0, -7.0), now_s=begun_s)
    assert cutoff == expected._replace(state=HeldOff(Hold.CLOCK))
    assert answer is None


@pytest.mark.parametrize("now_s", [math.nan, math.inf])
def test_a_clock_that_is_no_number_drops(now_s: float) -> None:
    life = permitting()
    cutoff, answer = step(
        life.cutoff, sample=Measured(WARM), reset_requested=True, now_s=now_s, limits=LIMITS
    )
    assert cutoff.state == HeldOff(Hold.CLOCK)
    assert cutoff.seen_s == life.now_s
    assert answer is Answer.NO_GOOD_READING


def test_a_trip_outlives_a_clock_that_ran_backwards() -> None:
    life = tripped()
    life.told(Measured(WARM), after_s=-500.0)
    assert life.cutoff.state == Tripped(Cause.TOO_COLD, 24.0)
    assert life.cutoff.seen_s == 500.0


def test_a_clock_that_stands_still_is_no_fault() -> None:
    life = permitting()
    life.water(WARM, after_s=0.0)
    assert life.cutoff.permits_cooling


def test_recovery_is_counted_from_the_limit() -> None:
    assert LIMITS.recovered_c == 25.0


def test_a_proof_test_opens_the_contact_and_returns_by_the_usual_rule() -> None:
    life = permitting_life()
    life.cutoff = open_for_test(life.cutoff, life.now_s)
    assert life.cutoff.state == HeldOff(Hold.PROOF_TEST)
    opened_s = life.now_s
    while not life.cutoff.permits_cooling:
        life.water(WARM, after_s=5.0)
    assert life.now_s - opened_s == LIMITS.rest_s


def test_the_water_must_prove_warm_anew_after_a_proof_test() -> None:
    life = permitting_life()
    life.cutoff = open_for_test(life.cutoff, life.now_s)
    life.for_s(LIMITS.rest_s, BETWEEN)
    life.for_s(LIMITS.good_for_s - 5.0, WARM)
    assert not life.cutoff.permits_cooling
    life.for_s(10.0, WARM)
    assert life.cutoff.permits_cooling


def test_what_proved_warm_before_a_proof_test_counts_no_more_after_it() -> None:
    limits = replace(LIMITS, good_for_s=LIMITS.rest_s + 100.0)
    life = Life(at_start(None, now_s=0.0), limits)
    life.for_s(limits.good_for_s + 100.0, WARM)
    life.cutoff = open_for_test(life.cutoff, life.now_s)
    life.for_s(limits.good_for_s, WARM)
    assert not life.cutoff.permits_cooling
    life.for_s(10.0, WARM)
    assert life.cutoff.permits_cooling


def test_cold_water_trips_during_a_proof_test_too() -> None:
    life = permitting_life()
    life.cutoff = open_for_test(life.cutoff, life.now_s)
    life.for_s(20.0, COLD)
    assert isinstance(life.cutoff.state, Tripped)


@pytest.mark.parametrize("state", [HeldOff(Hold.PROBE_LOST), Tripped(Cause.TOO_COLD, 24.0)])
def test_a_proof_test_changes_nothing_where_the_contact_is_open_already(state: HeldOff | Tripped) -> None:
    cutoff = at_start(None, now_s=0.0)._replace(state=state)
    assert open_for_test(cutoff, 5.0) is cutoff


def permitting_life() -> Life:
    life = Life(at_start(None, now_s=0.0))
    life.for_s(LIMITS.rest_s + LIMITS.good_for_s, WARM)
    assert life.cutoff.permits_cooling
    return life
