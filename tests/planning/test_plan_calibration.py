"""A measured top-off sets the evaporation, and an impossible one is refused."""

import pytest
from planned_tanks import reef

from reefguard.planning.found import Course
from reefguard.planning.make import make_plan
from reefguard.planning.model import Advice, Option
from reefguard.settings.plan_model import DesignDayPlan

DAY = DesignDayPlan(32.0, 20.0, 0.4)


@pytest.mark.parametrize("measured", [1.2, 2.0, 3.0])
def test_the_model_evaporates_what_was_measured(measured: float) -> None:
    plan = make_plan(reef(weather=DAY, measured_topoff_l_day=measured))
    assert isinstance(plan.nothing, Course)
    assert plan.nothing.evaporation_l_day == pytest.approx(measured, rel=0.005)


def test_a_measurement_narrows_the_range() -> None:
    before = make_plan(reef(weather=DAY))
    assert isinstance(before.nothing, Course)
    after = make_plan(reef(weather=DAY, measured_topoff_l_day=before.nothing.evaporation_l_day))
    assert after.calibration.scale == pytest.approx(1.0, abs=0.01)
    assert after.calibration.uncertainty == 0.10
    assert before.nothing_peak_c is not None
    assert after.nothing_peak_c is not None
    wide = before.nothing_peak_c.high - before.nothing_peak_c.low
    assert after.nothing_peak_c.high - after.nothing_peak_c.low < 0.5 * wide


@pytest.mark.parametrize("measured", [0.1, 40.0])
def test_a_measurement_that_does_not_fit_the_tank_is_refused(measured: float) -> None:
    plan = make_plan(reef(weather=DAY, measured_topoff_l_day=measured))
    assert plan.verdict.advice is Advice.CANNOT_JUDGE
    assert "does not fit this tank" in plan.verdict.why


def test_the_scale_moves_the_still_and_the_fanned_exchange_alike() -> None:
    dry = make_plan(reef(weather=DAY, measured_topoff_l_day=1.2))
    wet = make_plan(reef(weather=DAY, measured_topoff_l_day=3.0))
    low, high = dry.course(Option.FANS), wet.course(Option.FANS)
    assert isinstance(low, Course)
    assert isinstance(high, Course)
    assert high.evaporation_l_day > 1.5 * low.evaporation_l_day
