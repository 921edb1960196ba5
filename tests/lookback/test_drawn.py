"""What was drawn and what evaporated: as the physics that the tank was lived by says, and else left out."""

from dataclasses import replace
from datetime import date

import pytest
from invented_past import DISPLAY, HUMIDITY, ROOM, ZONE, Lived, planned, settings_of
from planned_tanks import reef

from reefguard.lookback.drawn import EnergyFound, TopOffFound, Unknown, energy_found, top_off_found
from reefguard.lookback.evidence import Evidence, evidence
from reefguard.lookback.running import OutputFound, outputs_found
from reefguard.lookback.stretch import Stretch
from reefguard.records.history import Past, Span
from reefguard.settings.plan_model import Price, StandPlan, VesselPlan

FANS = ("fan1", "fan2")


def day_of_air(*, water_c: float = 26.0, room_c: float = 24.0, humidity: float = 0.5) -> Evidence:
    def hours(mean: float) -> tuple[Span, ...]:
        return tuple(Span(3_600.0 * n, 3_600.0, mean, mean, mean, 1.0) for n in range(24))

    series = {DISPLAY: hours(water_c), ROOM: hours(room_c), HUMIDITY: hours(humidity)}
    stretch = Stretch(0.0, 86_400.0)
    return evidence(stretch, ZONE, Past(*stretch, 3_600.0, series, ()), (), ())


def ran(name: str, hours: float) -> OutputFound:
    return OutputFound(name, 3_600.0 * hours, 1, None, None, None, None, 0)


def test_a_still_surface_evaporates_as_the_handbook_says() -> None:
    # ASHRAE Handbook HVAC Applications, natatoriums: 0.089 W/(m2 Pa) in still air, here times 0.75, on
    # 1.2 m x 0.5 m; vapour pressures 3364 Pa at 26 °C and 2986 Pa at 24 °C (ASHRAE Fundamentals 2017,
    # chapter 1, table 3), 2 % less over sea water; 2.44 MJ/kg.
    by_hand_kg = 0.6 * 86_400.0 * 0.089 * 0.75 * (0.98 * 3_364.0 - 0.5 * 2_986.0) / 2.44e6
    found = top_off_found(day_of_air(), reef(), FANS)
    assert isinstance(found, TopOffFound)
    assert found.litres == pytest.approx(by_hand_kg, rel=0.01)
    assert found.over_s == 86_400.0


def test_what_evaporates_and_what_the_chiller_draws_is_what_the_tank_was_lived_by() -> None:
    plan = planned()
    settings = settings_of(plan)
    life = Lived(date(2026, 7, 13), 2, plan, settings)
    past = life.live(600).whole
    seen = evidence(Stretch(past.from_s, past.until_s), ZONE, past, (), ())
    top_off = top_off_found(seen, plan, FANS)
    assert isinstance(top_off, TopOffFound)
    assert top_off.litres == pytest.approx(life.evaporated_kg, rel=0.03)
    outputs = outputs_found(seen, (*FANS, "chiller"), 2 * 86_400.0)
    energy = energy_found(seen, outputs, plan)
    assert isinstance(energy, EnergyFound)
    assert energy.kwh["chiller"] == pytest.approx(life.chiller_j / 3.6e6, rel=0.05)


def test_a_sump_in_a_cabinet_is_said_to_be_left_out_and_one_in_the_room_is_not() -> None:
    plan = reef(sump=VesselPlan(0.8, 0.4, 0.25))
    bare, in_room = top_off_found(day_of_air(), reef(), FANS), top_off_found(day_of_air(), plan, FANS)
    in_stand = top_off_found(day_of_air(), replace(plan, stand=StandPlan()), FANS)
    assert isinstance(bare, TopOffFound)
    assert isinstance(in_room, TopOffFound)
    assert isinstance(in_stand, TopOffFound)
    assert in_room.litres == pytest.approx(bare.litres * (0.6 + 0.32) / 0.6)
    assert in_stand.litres == pytest.approx(bare.litres)
    assert in_stand.without_sump


def test_without_a_plan_or_the_room_it_is_left_out_and_not_nought() -> None:
    assert isinstance(top_off_found(day_of_air(), None, FANS), Unknown)
    seen = day_of_air()
    without = seen._replace(past=seen.past._replace(series={DISPLAY: seen.past.series[DISPLAY]}))
    assert isinstance(top_off_found(without, reef(), FANS), Unknown)
    assert isinstance(energy_found(seen, (ran("fan1", 1.0),), None), Unknown)


def test_fans_cost_their_hours_and_a_chiller_of_unknown_size_is_left_out() -> None:
    plan = reef(price=Price(0.5, "EUR"))
    found = energy_found(day_of_air(), (ran("fan1", 1_000.0), ran("chiller", 5.0)), plan)
    assert isinstance(found, EnergyFound)
    assert found.kwh == {"fan1": 3.0}
    assert found.total_kwh == 3.0
    assert found.left_out == (("chiller", "the plan does not give its capacity"),)
