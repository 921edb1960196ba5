"""The chiller's currents against what switches it."""

import pytest

from reefguard.planning.account_power import currents_section
from reefguard.planning.currents import currents_of
from reefguard.settings.model import RatedFor
from reefguard.settings.plan_model import ChillerPlan, Switch, SwitchPlan


def test_without_a_current_nothing_is_said() -> None:
    assert currents_of(ChillerPlan(), SwitchPlan(Switch.RELAY, 10.0)) is None
    assert currents_section(None) == ()


def test_the_starting_current_is_estimated_and_marked() -> None:
    currents = currents_of(ChillerPlan(running_current_a=2.0), None)
    assert currents is not None
    assert currents.starting_a == 12.0
    assert currents.starting_is_estimate
    assert "an estimate" in currents_section(currents)[0].paragraphs[0]


def test_a_given_starting_current_is_kept() -> None:
    currents = currents_of(ChillerPlan(running_current_a=2.0, starting_current_a=9.0), None)
    assert currents is not None
    assert currents.starting_a == 9.0
    assert "an estimate" not in currents_section(currents)[0].paragraphs[0]


@pytest.mark.parametrize(("running_a", "exceeded"), [(7.9, False), (8.0, False), (8.1, True)])
def test_a_continuous_load_may_draw_80_percent(running_a: float, exceeded: bool) -> None:
    currents = currents_of(ChillerPlan(running_current_a=running_a), SwitchPlan(Switch.CONTACTOR, 10.0))
    assert currents is not None
    assert currents.continuous_a == pytest.approx(8.0)
    assert currents.continuous_exceeded is exceeded


def test_a_motor_on_a_resistive_rating_is_warned_of() -> None:
    chiller = ChillerPlan(running_current_a=2.0)
    resistive = currents_of(chiller, SwitchPlan(Switch.RELAY, 10.0))
    motor = currents_of(chiller, SwitchPlan(Switch.CONTACTOR, 10.0, RatedFor.MOTOR))
    assert resistive is not None
    assert motor is not None
    assert resistive.starting_exceeds_resistive
    assert not motor.starting_exceeds_resistive
    assert any("weld" in said for said in currents_section(resistive)[0].paragraphs)
    assert not any("weld" in said for said in currents_section(motor)[0].paragraphs)


def test_the_wiring_is_deferred_to_an_electrician() -> None:
    currents = currents_of(ChillerPlan(running_current_a=2.0), None)
    assert "licensed electrician" in currents_section(currents)[0].paragraphs[-1]
