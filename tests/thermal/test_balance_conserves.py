"""Every joule and every gram that leaves one place enters another, in every step of every plant."""

import pytest
from heated_plants import airs, drives, plants, reef, states, stored_j, vapour_kg
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.thermal.balance import LATENT_HEAT_J_KG, TankBalance
from reefguard.thermal.plant import Plant, Siting
from reefguard.thermal.state import Drive, Flows, State
from reefguard.thermal.weather import OutsideAir

spans_s = st.floats(1.0, 600.0)


def throughput_w(flows: Flows) -> float:
    """Return how much goes through at all, by which an error is measured."""
    watts = (
        flows.lights_w,
        flows.pumps_w,
        flows.heater_w,
        flows.walls_w,
        flows.surface_w,
        flows.latent_w,
        flows.chiller_w,
        flows.room_in_w,
        flows.outdoors_w,
        LATENT_HEAT_J_KG * flows.outdoors_vapour_kg_s,
    )
    return sum(abs(flow_w) for flow_w in watts)


def books_balance(balance: TankBalance, before: State, after: State, flows: Flows, span_s: float) -> None:
    """Hold the step against the first law and the conservation of water: within 1e-9 of what goes through."""
    # What the numbers themselves can hold, of a whole tank's heat and a whole room's vapour.
    least_j, least_kg = 1e-15 * 300.0 * (balance.water_j_k + balance.room_j_k), 1e-14 * balance.room_kg
    error_j = 1e-9 * throughput_w(flows) * span_s + least_j

    in_w = flows.lights_w + flows.pumps_w + flows.heater_w + flows.room_in_w + flows.outdoors_w
    in_w += LATENT_HEAT_J_KG * flows.outdoors_vapour_kg_s - flows.chiller_w
    assert stored_j(balance, before, after) == pytest.approx(in_w * span_s, abs=error_j)

    water_w = flows.lights_w + flows.pumps_w + flows.heater_w - flows.chiller_w
    water_w += flows.walls_w + flows.surface_w + flows.latent_w
    warmed_j = balance.water_j_k * (after.water_c - before.water_c)
    assert warmed_j == pytest.approx(water_w * span_s, abs=error_j)

    kg_s = (flows.evaporation_kg_s, flows.outdoors_vapour_kg_s, -flows.condensed_kg_s)
    error_kg = 1e-9 * sum(abs(flow) for flow in kg_s) * span_s + least_kg
    assert vapour_kg(balance, before, after) == pytest.approx(sum(kg_s) * span_s, abs=error_kg)
    assert flows.condensed_kg_s >= 0.0
    assert flows.latent_w == pytest.approx(-LATENT_HEAT_J_KG * flows.evaporation_kg_s)


def sources_are_named(plant: Plant, drive: Drive, flows: Flows) -> None:
    """Hold what the machines draw against what they give: to the water, to the room, outdoors."""
    lights_w = plant.lights_w * drive.lights
    assert flows.lights_w == pytest.approx(lights_w * plant.lights_to_water)
    assert flows.pumps_w == plant.pumps_w * drive.pumps
    fans_w = sum(fan.power_w * level for fan, level in zip(plant.fans, drive.fans, strict=True))
    assert flows.fans_w == pytest.approx(fans_w)
    assert flows.rejected_w == pytest.approx(flows.chiller_w + flows.chiller_electric_w)
    indoors_w = 0.0 if plant.siting is Siting.OUTSIDE else flows.rejected_w
    given_w = lights_w - flows.lights_w + fans_w + plant.room.other_gains_w + indoors_w
    heating_w = flows.room_in_w - given_w
    if plant.room.heated_to_c is None:
        assert heating_w == pytest.approx(0.0, abs=1e-9 * (1.0 + given_w))
    assert heating_w >= -1e-6


@settings(deadline=None, max_examples=400)
@given(st.data(), plants, states(), airs, spans_s)
def test_nothing_is_lost_in_a_step(
    data: st.DataObject, plant: Plant, state: State, outside: OutsideAir, span_s: float
) -> None:
    drive = data.draw(drives(plant))
    balance = TankBalance(plant)
    after, flows = balance.advance(state, drive, outside, span_s)
    books_balance(balance, state, after, flows, span_s)
    sources_are_named(plant, drive, flows)
    if plant.room.heated_to_c is not None:
        assert after.room_c >= plant.room.heated_to_c
    if plant.stand is None:
        assert (after.stand_c, after.stand_ratio) == (after.room_c, after.room_ratio)
    if drive.topped_off:
        assert after.lost_kg == 0.0
    else:
        assert after.lost_kg == pytest.approx(max(0.0, state.lost_kg + flows.evaporation_kg_s * span_s))


@settings(deadline=None, max_examples=30)
@given(st.data(), plants, states(), spans_s)
def test_nothing_is_lost_on_the_way(data: st.DataObject, plant: Plant, state: State, span_s: float) -> None:
    """Up to a day of steps, the weather and everything that runs drawn anew each few."""
    balance = TankBalance(plant)
    for _ in range(6):
        drive, outside = data.draw(drives(plant)), data.draw(airs)
        for _ in range(25):
            after, flows = balance.advance(state, drive, outside, span_s)
            books_balance(balance, state, after, flows, span_s)
            state = after
            if state.water_c < 5.0:  # a chiller without a thermostat is on its way to ice
                return


@pytest.mark.parametrize("siting", list(Siting))
def test_a_chillers_heat_goes_where_it_is_sited(siting: Siting) -> None:
    balance = TankBalance(reef(siting=siting))
    outside = OutsideAir(30.0, 0.012)
    start = balance.at_rest(27.0, outside)
    idle, idle_flows = balance.advance(start, Drive(fans=(0.0, 0.0)), outside, 60.0)
    runs, flows = balance.advance(start, Drive(fans=(0.0, 0.0), chiller=True), outside, 60.0)
    assert flows.chiller_w > 400.0
    assert (runs.room_c > idle.room_c + 0.05) == (siting is Siting.ROOM)
    assert (runs.stand_c > idle.stand_c + 0.5) == (siting is Siting.STAND)
    indoors_w = 0.0 if siting is Siting.OUTSIDE else flows.rejected_w
    assert flows.room_in_w - idle_flows.room_in_w == pytest.approx(indoors_w)


def test_without_a_stand_its_place_is_the_room() -> None:
    outside = OutsideAir(30.0, 0.012)
    drive = Drive(1.0, (1.0, 1.0), chiller=True)
    ended = []
    for siting in (Siting.STAND, Siting.ROOM):
        balance = TankBalance(reef(siting=siting, stand=None))
        ended.append(balance.advance(balance.at_rest(27.0, outside), drive, outside, 300.0))
    assert ended[0] == ended[1]


def test_one_level_for_each_fan() -> None:
    balance = TankBalance(reef())
    outside = OutsideAir(30.0, 0.012)
    with pytest.raises(ValueError, match="shorter"):
        balance.advance(balance.at_rest(26.0, outside), Drive(fans=(1.0,)), outside, 60.0)


def test_heat_no_formula_holds_for_is_refused() -> None:
    balance = TankBalance(reef())
    outside = OutsideAir(30.0, 0.012)
    boiling = balance.at_rest(26.0, outside)._replace(water_c=200.5)
    with pytest.raises(ValueError, match="from 0 to 200"):
        balance.advance(boiling, Drive(fans=(0.0, 0.0)), outside, 60.0)
