"""A value must leave its limit behind before its alarm returns."""

import pytest

from reefguard.alarms.deadband import held_by_deadband
from reefguard.alarms.machine import Transition
from reefguard.alarms.survey import NOTHING, survey
from reefguard.settings.model import SafeBand
from reefguard.vocabulary import Finding, Severity, WaterEstimate

BAND = SafeBand(24.0, 27.8)
HIGH = Finding(Severity.CRITICAL, "water high", "the water is high", "cool it")


def water(warmest_c: float, coldest_c: float | None = None) -> WaterEstimate:
    return WaterEstimate(warmest_c, "display", warmest_c if coldest_c is None else coldest_c, "sump", 0.0)


@pytest.mark.parametrize(
    ("warmest_c", "coldest_c", "held"),
    [
        (27.59, 25.0, set()),
        (27.61, 25.0, {"water high"}),
        (28.61, 25.0, {"water high", "water far too high"}),
        (25.0, 24.21, set()),
        (25.0, 24.19, {"water low"}),
        (25.0, 23.19, {"water low", "water far too low"}),
    ],
)
def test_what_is_near_its_limit_is_held(warmest_c: float, coldest_c: float, held: set[str]) -> None:
    assert held_by_deadband(water(warmest_c, coldest_c), BAND) == held


def test_unknown_water_holds_nothing() -> None:
    assert held_by_deadband(None, BAND) == frozenset()


def test_a_held_alarm_stands_and_one_that_never_stood_is_not_raised() -> None:
    memory, now_s, told = NOTHING, 0.0, []
    for warmest_c, ticks in [(27.7, 1_000), (27.9, 30), (27.7, 2_000), (27.5, 1_000)]:
        for _ in range(ticks):
            now_s += 5.0
            findings = [HIGH] if warmest_c > BAND.high_c else []
            held = held_by_deadband(water(warmest_c), BAND)
            memory, events = survey(memory, findings, now_s=now_s, held=held)
            told += [(event.transition, now_s) for event in events]
    (raised, raised_s), (returned, returned_s) = told
    assert (raised, returned) == (Transition.RAISED, Transition.RETURNED)
    assert raised_s == 5_000.0 + 65.0
    # Held for 10,000 s within the deadband; then the half hour of the off-delay.
    assert returned_s == pytest.approx(5_000.0 + 150.0 + 10_000.0 + 1_805.0)
