"""Programs under a service manager, in virtual time."""

from rehearsed import SETTINGS, SETUP

from reefguard.cutoff.ds18b20 import Measured
from reefguard.rehearsal.drills.programs import (
    BOOTS_IN_S,
    COMES_BACK_AFTER_S,
    CUTOFF_HANGS_FOR_S,
    GUARD_HANGS_FOR_S,
    CutoffProcess,
    GuardProcess,
    Standing,
)


def test_a_killed_program_comes_back() -> None:
    guard = GuardProcess(SETTINGS)
    assert guard.standing(0.0) is Standing.UP
    guard.kill(100.0)
    assert guard.standing(100.0) is Standing.DOWN
    assert guard.standing(100.0 + COMES_BACK_AFTER_S) is Standing.UP


def test_a_hang_ends_as_a_kill() -> None:
    guard = GuardProcess(SETTINGS)
    guard.hang(100.0)
    assert guard.standing(100.0 + GUARD_HANGS_FOR_S - 0.1) is Standing.HUNG
    assert guard.standing(100.0 + GUARD_HANGS_FOR_S) is Standing.DOWN
    assert guard.standing(100.0 + GUARD_HANGS_FOR_S + COMES_BACK_AFTER_S) is Standing.UP


def test_without_power_nothing_stands_and_with_it_the_pi_boots() -> None:
    guard = GuardProcess(SETTINGS)
    guard.hang(50.0)
    guard.power(60.0, on=False)
    assert guard.standing(1_000.0) is Standing.DOWN
    guard.power(2_000.0, on=True)
    assert guard.standing(2_000.0 + BOOTS_IN_S - 0.1) is Standing.DOWN
    assert guard.standing(2_000.0 + BOOTS_IN_S) is Standing.UP


def cold_until_tripped(cutoff: CutoffProcess) -> float:
    now_s = 0.0
    while not cutoff.tripped:
        now_s += 5.0
        cutoff.sample(Measured(24.0), now_s, reset=False)
    return now_s


def test_a_trip_outlives_kill_hang_and_power() -> None:
    cutoff = CutoffProcess(SETUP)
    now_s = cold_until_tripped(cutoff)
    cutoff.kill(now_s)
    cutoff.rest()
    cutoff.sample(Measured(27.0), now_s + 10.0, reset=False)
    assert cutoff.tripped
    cutoff.hang(now_s + 20.0)
    assert cutoff.standing(now_s + 20.0 + CUTOFF_HANGS_FOR_S) is Standing.DOWN
    cutoff.sample(Measured(27.0), now_s + 60.0, reset=False)
    cutoff.power(now_s + 70.0, on=False)
    cutoff.power(now_s + 80.0, on=True)
    cutoff.sample(Measured(27.0), now_s + 200.0, reset=False)
    assert cutoff.tripped
    assert not cutoff.relay_on
    assert cutoff.report(now_s + 200.0).state == "tripped"


def test_a_reset_over_warm_water_is_let_through() -> None:
    cutoff = CutoffProcess(SETUP)
    now_s = cold_until_tripped(cutoff)
    cutoff.sample(Measured(27.0), now_s + 5.0, reset=False)
    cutoff.sample(Measured(27.0), now_s + 10.0, reset=True)
    assert not cutoff.tripped
    assert cutoff.report(now_s + 10.0).state == "held off"
