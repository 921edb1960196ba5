"""The compressor's rest, its shortest run, and what outranks them."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.control.compressor import Compressor, at_power_up, constrain, starts_too_often
from reefguard.settings.model import Chiller, CutPoints, Wiring
from reefguard.vocabulary import Reason, Why

LIMITS = Chiller(
    Wiring(22),
    CutPoints(27.2, 26.6),
    minimum_off_s=300.0,
    minimum_on_s=120.0,
    start_to_start_s=600.0,
)
RUNNING = Compressor(running=True, since_s=1_000.0, starts_s=(1_000.0,))


def wanted(compressor: Compressor, now_s: float) -> tuple[Compressor, Why | None]:
    return constrain(compressor, demanded=True, protect=False, now_s=now_s, limits=LIMITS)


def unwanted(compressor: Compressor, now_s: float) -> tuple[Compressor, Why | None]:
    return constrain(compressor, demanded=False, protect=False, now_s=now_s, limits=LIMITS)


def protected(compressor: Compressor, now_s: float, *, demanded: bool) -> tuple[Compressor, Why | None]:
    return constrain(compressor, demanded=demanded, protect=True, now_s=now_s, limits=LIMITS)


def test_power_up_begins_a_full_rest() -> None:
    assert at_power_up(7.0) == Compressor(running=False, since_s=7.0, starts_s=())


def test_a_rested_compressor_starts_on_the_exact_second_and_not_before() -> None:
    stopped = at_power_up(1_000.0)
    assert wanted(stopped, 1_299.5) == (stopped, Why(Reason.MINIMUM_OFF, until_s=1_300.0))
    assert wanted(stopped, 1_300.0) == (Compressor(True, 1_300.0, (1_300.0,)), None)


def test_a_wanted_compressor_runs_on() -> None:
    assert wanted(RUNNING, 9_000.0) == (RUNNING, None)


def test_an_ordinary_stop_waits_for_the_exact_end_of_the_minimum_on_time() -> None:
    assert unwanted(RUNNING, 1_119.5) == (RUNNING, Why(Reason.MINIMUM_ON, until_s=1_120.0))
    assert unwanted(RUNNING, 1_120.0) == (Compressor(False, 1_120.0, (1_000.0,)), None)


@pytest.mark.parametrize("demanded", [True, False])
@pytest.mark.parametrize("now_s", [1_000.0, 1_000.5, 1_119.0, 1_120.0, 5_000.0])
def test_protection_stops_at_once_however_short_the_run(now_s: float, demanded: bool) -> None:
    assert protected(RUNNING, now_s, demanded=demanded) == (Compressor(False, now_s, (1_000.0,)), None)


@pytest.mark.parametrize("demanded", [True, False])
def test_protection_keeps_a_rested_compressor_off_and_leaves_its_rest_alone(demanded: bool) -> None:
    rested = at_power_up(0.0)
    assert protected(rested, 9_000.0, demanded=demanded) == (rested, None)


def test_nobody_wants_it_so_it_rests_and_no_hold_is_told() -> None:
    rested = at_power_up(0.0)
    assert unwanted(rested, 9_000.0) == (rested, None)


def test_starts_lie_apart_to_the_exact_second() -> None:
    stopped = Compressor(False, since_s=1_120.0, starts_s=(1_000.0,))
    assert wanted(stopped, 1_599.5) == (stopped, Why(Reason.START_TO_START, until_s=1_600.0))
    assert wanted(stopped, 1_600.0) == (Compressor(True, 1_600.0, (1_000.0, 1_600.0)), None)


def test_where_both_times_hold_the_later_end_is_told() -> None:
    soon_stopped = Compressor(False, since_s=1_120.0, starts_s=(1_000.0,))
    assert wanted(soon_stopped, 1_121.0)[1] == Why(Reason.START_TO_START, until_s=1_600.0)
    late_stopped = Compressor(False, since_s=1_500.0, starts_s=(1_000.0,))
    assert wanted(late_stopped, 1_501.0)[1] == Why(Reason.MINIMUM_OFF, until_s=1_800.0)
    both_at_once = Compressor(False, since_s=1_300.0, starts_s=(1_000.0,))
    assert wanted(both_at_once, 1_301.0)[1] == Why(Reason.MINIMUM_OFF, until_s=1_600.0)


def test_the_rest_holds_though_the_starts_lie_apart() -> None:
    late_stopped = Compressor(False, since_s=1_500.0, starts_s=(1_000.0,))
    assert wanted(late_stopped, 1_799.0)[0] == late_stopped
    assert wanted(late_stopped, 1_800.0)[0].running


def test_zero_sets_no_start_to_start_limit() -> None:
    limits = replace(LIMITS, start_to_start_s=0.0)
    stopped = Compressor(False, since_s=1_120.0, starts_s=(1_000.0,))
    after, hold = constrain(stopped, demanded=True, protect=False, now_s=1_420.0, limits=limits)
    assert after.running
    assert hold is None


def test_five_starts_within_an_hour_are_too_many_and_four_are_not() -> None:
    compressor, times_s = at_power_up(0.0), []
    for start_s in (1_000.0, 1_700.0, 2_400.0, 3_100.0, 3_800.0):
        assert not starts_too_often(compressor, start_s)
        compressor = wanted(compressor, start_s)[0]
        times_s.append(start_s)
        assert compressor.starts_s == tuple(times_s)
        compressor = protected(compressor, start_s + 120.0, demanded=True)[0]
    assert starts_too_often(compressor, 4_599.5)
    assert not starts_too_often(compressor, 4_600.0)


def test_only_the_starts_that_are_looked_at_are_kept() -> None:
    compressor = at_power_up(0.0)
    for count in range(1, 20):
        compressor = wanted(compressor, 10_000.0 * count)[0]
        compressor = protected(compressor, 10_000.0 * count + 500.0, demanded=True)[0]
    assert compressor.starts_s == (150_000.0, 160_000.0, 170_000.0, 180_000.0, 190_000.0)


# A life: how long until the next tick, what is demanded, is it protected.
lives = st.lists(st.tuples(st.integers(0, 200).map(float), st.booleans(), st.booleans()), max_size=60)


@settings(deadline=None)
@given(lives)
def test_rest_and_run_and_distance_hold_for_any_life(life: list[tuple[float, bool, bool]]) -> None:
    now_s = 0.0
    compressor = at_power_up(now_s)
    stopped_s, started_s = now_s, float("-inf")
    for wait_s, demanded, protect in life:
        now_s += wait_s
        ran = compressor.running
        compressor, hold = constrain(
            compressor, demanded=demanded, protect=protect, now_s=now_s, limits=LIMITS
        )
        if compressor.running and not ran:
            assert now_s - stopped_s >= LIMITS.minimum_off_s
            assert now_s - started_s >= LIMITS.start_to_start_s
            started_s = now_s
        if ran and not compressor.running:
            assert protect or now_s - started_s >= LIMITS.minimum_on_s
            stopped_s = now_s
        assert not (compressor.running and protect)
        assert hold is None or compressor.running is not demanded
        if compressor.running is not demanded and not protect:
            assert hold is not None
            assert hold.until_s is not None
            assert hold.until_s > now_s
