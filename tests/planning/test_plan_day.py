"""A settled day repeats itself, conserves energy and moisture, and holds what it is told to hold."""

import pytest
from planned_tanks import muggy, reef

from reefguard.planning.day import STEP_S, Day, TankDay, Way, photoperiod
from reefguard.planning.parts import plant_of
from reefguard.planning.weather_day import design_day
from reefguard.settings.plan_model import DesignDayPlan, StandPlan, TankPlan
from reefguard.thermal.balance import LATENT_HEAT_J_KG, TankBalance

WAYS = [
    Way(),
    Way(lit=False),
    Way(fans=True),
    Way(fans=True, room_open=True),
    Way(chiller=True, without_limit=True),
    Way(fans=True, chiller=True),
]
TANKS = [reef(), muggy(), reef(stand=StandPlan())]


def settled(tank: TankPlan, way: Way) -> tuple[TankBalance, Day]:
    balance = TankBalance(plant_of(tank, capacity_w=300.0))
    assert isinstance(tank.weather, DesignDayPlan)
    day = TankDay(balance, design_day(tank.weather, tank)[0], tank).settled(way)
    assert isinstance(day, Day)
    return balance, day


@pytest.mark.parametrize("tank", TANKS)
@pytest.mark.parametrize("way", WAYS)
def test_the_water_gains_what_flows_into_it(tank: TankPlan, way: Way) -> None:
    balance, day = settled(tank, way)
    flowed_j = through_j = 0.0
    for step in day.steps:
        flows = step.flows
        into_w = (
            flows.lights_w,
            flows.pumps_w,
            flows.heater_w,
            flows.walls_w,
            flows.surface_w,
            flows.latent_w,
        )
        flowed_j += STEP_S * (sum(into_w) - flows.chiller_w)
        through_j += STEP_S * (sum(map(abs, into_w)) + flows.chiller_w)
        assert flows.latent_w == pytest.approx(-LATENT_HEAT_J_KG * flows.evaporation_kg_s)
    stored_j = balance.water_j_k * (day.steps[-1].after.water_c - day.before.water_c)
    assert abs(flowed_j - stored_j) <= 1e-9 * through_j


@pytest.mark.parametrize("tank", TANKS)
@pytest.mark.parametrize("way", WAYS)
def test_the_day_ends_as_it_began(tank: TankPlan, way: Way) -> None:
    _, day = settled(tank, way)
    assert day.steps[-1].after.water_c == pytest.approx(day.before.water_c, abs=0.01)


@pytest.mark.parametrize("tank", TANKS)
def test_a_chiller_without_limit_holds_the_water_and_no_less(tank: TankPlan) -> None:
    _, day = settled(tank, Way(chiller=True, without_limit=True))
    assert max(step.after.water_c for step in day.steps) <= tank.hold_c + 1e-9
    for step in day.steps:
        if step.chiller > 0.0:
            assert step.after.water_c == pytest.approx(tank.hold_c, abs=1e-9)


def test_a_chiller_with_a_limit_keeps_to_it() -> None:
    _, day = settled(reef(lights_w=600.0), Way(chiller=True))
    shares = [step.chiller for step in day.steps]
    assert max(shares) == 1.0
    assert min(shares) >= 0.0
    assert max(step.after.water_c for step in day.steps) > 26.0


def test_the_lights_may_burn_across_midnight() -> None:
    light = photoperiod(reef(lights_on_s=20 * 3_600, lights_off_s=4 * 3_600))
    assert sum(light) * STEP_S == 8 * 3_600
    assert light[0] == 1.0
    assert light[len(light) // 2] == 0.0


def test_an_ordinary_photoperiod() -> None:
    light = photoperiod(reef())
    assert sum(light) * STEP_S == 10 * 3_600
    assert light[0] == 0.0
