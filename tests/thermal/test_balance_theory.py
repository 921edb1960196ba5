"""The balance against closed forms: equilibrium, time constant, wet bulb, saturation, closed cabinets."""

import math
from dataclasses import replace

import pytest
from heated_plants import DAY_S, HOUR_S, INSULATED, air, bare, left_for
from scipy.optimize import brentq

from reefguard.thermal.balance import LATENT_HEAT_J_KG, TankBalance
from reefguard.thermal.moist_air import (
    STANDARD_PRESSURE_PA,
    humidity_ratio,
    relative_humidity,
    salt_wet_bulb_c,
    saturation_pressure_pa,
)
from reefguard.thermal.plant import FanTraits, Plant, Room, Siting, Stand, Vessel
from reefguard.thermal.refrigeration import ChillerTraits, cabinet_air_c, runaway_conductance_w_k
from reefguard.thermal.sea_water import vapour_share
from reefguard.thermal.state import Drive
from reefguard.thermal.walls import Walls
from reefguard.thermal.weather import OutsideAir

ROOMS = [(24.0, 0.5), (30.0, 0.3), (30.0, 0.5), (30.0, 0.7), (32.0, 0.8), (35.0, 0.3), (35.0, 0.5)]


# --- Equilibrium and time constant ---


def linearised(plant: Plant, room_c: float, humidity: float, around_c: float) -> tuple[float, float]:
    """Return equilibrium and time constant of an open tank, its vapour pressure a straight line.

    C dT/dt = Q + G (T_a - T) - K (a p_sat(T) - p_a), derived here; the numbers are written out anew:
    ASHRAE's still-air term with agitation 0.75, 61.1 Pa/K, 5.77 W/(m2 K) of radiation.
    """
    area_m2 = plant.display.open_m2
    exchange_w_pa = area_m2 * 0.089 * 0.75
    sensible_w_k = exchange_w_pa * 61.1 + area_m2 * 5.7685
    share = 0.98153
    slope_pa_k = share * (saturation_pressure_pa(around_c + 0.5) - saturation_pressure_pa(around_c - 0.5))
    vapour_pa = humidity * saturation_pressure_pa(room_c)
    total_w_k = sensible_w_k + exchange_w_pa * slope_pa_k
    held_w = plant.pumps_w + sensible_w_k * room_c
    held_w += exchange_w_pa * (vapour_pa - share * saturation_pressure_pa(around_c) + slope_pa_k * around_c)
    capacity_j_k = plant.litres / 1_000.0 * 1_023.03 * 3_998.4  # EOS-80 at 26 °C, salinity 35
    return held_w / total_w_k, capacity_j_k / total_w_k


@pytest.mark.parametrize(("room_c", "humidity"), ROOMS)
def test_the_water_settles_where_the_straight_line_says(room_c: float, humidity: float) -> None:
    """Within 0.01 K once the line is laid through the equilibrium itself."""
    plant = bare()
    balance = TankBalance(plant)
    outside = air(room_c, humidity)
    settled, _ = left_for(balance, balance.at_rest(26.0, outside), Drive(), outside, 12.0 * DAY_S, 600.0)
    around_c = 26.0
    for _ in range(5):
        around_c, _ = linearised(plant, room_c, humidity, around_c)
    assert settled.water_c == pytest.approx(around_c, abs=0.01)
    assert settled.water_c > salt_wet_bulb_c(room_c, humidity)


@pytest.mark.parametrize(("room_c", "humidity"), ROOMS)
def test_the_water_takes_the_time_the_straight_line_says(room_c: float, humidity: float) -> None:
    """Half a kelvin decays to its e-th part in one time constant, within 2 %."""
    plant = bare()
    balance = TankBalance(plant)
    outside = air(room_c, humidity)
    settled, _ = left_for(balance, balance.at_rest(26.0, outside), Drive(), outside, 12.0 * DAY_S, 600.0)
    _, tau_s = linearised(plant, room_c, humidity, settled.water_c + 0.25)
    warmer = settled._replace(water_c=settled.water_c + 0.5)
    span_s = tau_s / 1_000.0
    later, _ = left_for(balance, warmer, Drive(), outside, tau_s, span_s)
    assert later.water_c - settled.water_c == pytest.approx(0.5 * math.exp(-1.0), rel=0.02)
    assert 10.0 * HOUR_S < tau_s < 40.0 * HOUR_S


def test_a_hundred_watts_warm_a_reef_by_a_quarter_kelvin_an_hour() -> None:
    """340 L: 1.391 MJ/K, hence 0.26 K/h."""
    plant = bare(display=INSULATED)
    balance = TankBalance(plant)
    assert balance.water_j_k == pytest.approx(1.391e6, rel=0.001)
    outside = air(26.0, 0.5)
    later, _ = left_for(balance, balance.at_rest(26.0, outside), Drive(), outside, HOUR_S)
    assert later.water_c - 26.0 == pytest.approx(0.26, abs=0.002)


def test_a_litre_a_day_takes_twenty_eight_watts() -> None:
    assert pytest.approx(28.2, abs=0.05) == LATENT_HEAT_J_KG / DAY_S


# --- Fans ---


def gained_by_fan_w(
    water_c: float,
    room_c: float,
    humidity: float,
    air_m_s: float = 1.5,
    pressure_pa: float = STANDARD_PRESSURE_PA,
) -> float:
    """Return by how much more heat flows into the water as the fan is switched on."""
    balance = TankBalance(bare(fans=(FanTraits(air_m_s, 1.0, power_w=0.0),), pressure_pa=pressure_pa))
    vapour_pa = humidity * saturation_pressure_pa(room_c)
    outside = OutsideAir(room_c, humidity_ratio(vapour_pa, pressure_pa))
    start = balance.at_rest(water_c, outside)
    _, without = balance.advance(start, Drive(fans=(0.0,)), outside, 1.0)
    _, fanned = balance.advance(start, Drive(fans=(1.0,)), outside, 1.0)
    return fanned.surface_w + fanned.latent_w - without.surface_w - without.latent_w


@pytest.mark.parametrize(("room_c", "humidity"), ROOMS)
def test_a_fan_cools_exactly_above_the_salt_wet_bulb(room_c: float, humidity: float) -> None:
    """There, and only there, it changes nothing: within 0.02 W of some 25 W for each kelvin off it."""
    turning_c = salt_wet_bulb_c(room_c, humidity)
    assert gained_by_fan_w(turning_c, room_c, humidity) == pytest.approx(0.0, abs=0.02)
    assert gained_by_fan_w(turning_c - 1.0, room_c, humidity) > 10.0
    assert gained_by_fan_w(turning_c + 1.0, room_c, humidity) < -10.0


def test_in_thin_air_a_fan_cools_further() -> None:
    """At 80 kPa, some 1 950 m up, the balance turns half a kelvin lower."""
    turning_c = salt_wet_bulb_c(30.0, 0.5, 80_000.0)
    assert gained_by_fan_w(turning_c, 30.0, 0.5, pressure_pa=80_000.0) == pytest.approx(0.0, abs=0.02)
    assert turning_c < salt_wet_bulb_c(30.0, 0.5) - 0.4


def test_a_fans_effect_is_as_worked_once() -> None:
    """28 °C over 0.6 m2 in 30 °C and 50 %, 2 m/s: dK (61.1 (30 - 28) - (a p_sat(28) - p))."""
    added_w_pa = 0.6 * 0.0782 * 2.0
    expected_w = added_w_pa * (61.1 * 2.0 - (0.98153 * 3_782.21 - 2_123.0))
    assert gained_by_fan_w(28.0, 30.0, 0.5, 2.0) == pytest.approx(expected_w, rel=0.001)
    assert expected_w == pytest.approx(-138.0, abs=1.0)


# --- A room is not the outdoors ---


def test_vapour_piles_up_in_a_room_as_its_air_changes_say() -> None:
    """6 L a day into 40 m3 at half a change an hour: 11 g/kg more than outdoors (worked by hand)."""
    room = Room(40.0, 1_000.0, 0.5)
    balance = TankBalance(bare(room=room))
    air_kg_s = balance.room_kg * 0.5 / HOUR_S
    assert 6.0 / DAY_S / air_kg_s == pytest.approx(0.011, abs=0.0005)
    outside = air(28.0, 0.4)
    settled, flows = left_for(balance, balance.at_rest(27.0, outside), Drive(), outside, 20.0 * DAY_S)
    assert flows.condensed_kg_s == 0.0
    piled = settled.room_ratio - outside.humidity_ratio
    assert piled == pytest.approx(flows.evaporation_kg_s / air_kg_s, rel=1e-6)
    assert piled > 0.002


def test_a_closed_room_saturates_by_itself() -> None:
    """Without air changes evaporation ends at the water's own vapour pressure."""
    closed = TankBalance(bare(pumps_w=0.0, room=Room(40.0, 1_000.0, 0.0)))
    outside = air(28.0, 0.4)
    start = closed.at_rest(28.0, outside)
    _, first = closed.advance(start, Drive(), outside, 60.0)
    settled, flows = left_for(closed, start, Drive(), outside, 20.0 * DAY_S)
    assert relative_humidity(settled.room_c, settled.room_ratio) == pytest.approx(vapour_share(), abs=0.001)
    assert abs(flows.evaporation_kg_s) < first.evaporation_kg_s / 1_000.0


def test_what_air_cannot_hold_runs_down_the_walls_and_warms_them() -> None:
    """A closed cold room: all that evaporates condenses, and its heat leaves through the envelope."""
    balance = TankBalance(bare(pumps_w=300.0, room=Room(40.0, 50.0, 0.0)))
    outside = air(10.0, 0.5)
    settled, flows = left_for(balance, balance.at_rest(26.0, outside), Drive(), outside, 20.0 * DAY_S)
    assert relative_humidity(settled.room_c, settled.room_ratio) == pytest.approx(1.0, abs=1e-3)
    assert flows.condensed_kg_s == pytest.approx(flows.evaporation_kg_s, rel=1e-3)
    assert settled.room_c == pytest.approx(10.0 + 300.0 / 50.0, abs=0.01)


def test_humid_air_condenses_on_cool_water_and_warms_it() -> None:
    balance = TankBalance(bare())
    outside = air(35.0, 0.9)
    _, flows = balance.advance(balance.at_rest(24.0, outside), Drive(), outside, 60.0)
    assert flows.evaporation_kg_s < 0.0 < flows.latent_w


# --- A chiller's heat in the room, in a cabinet, outdoors ---

# Moves what it is asked to, whatever the air: so that the closed forms hold.
IDEAL = ChillerTraits(160.0, per_air_k=0.0, per_water_k=0.0, trips_at_air_c=1e6)


def test_a_chiller_in_the_room_warms_it_by_all_that_it_rejects() -> None:
    """(T_r - T_o) (UA + air changes) = Q (1 + 1/COP); outdoors the room is spared all of it."""
    outside = air(28.0, 0.4)
    risen_k = []
    for siting in (Siting.ROOM, Siting.OUTSIDE):
        plant = bare(display=INSULATED, pumps_w=160.0, room=Room(60.0, 80.0), chiller=IDEAL, siting=siting)
        balance = TankBalance(plant)
        start = balance.at_rest(26.0, outside)
        settled, flows = left_for(balance, start, Drive(chiller=True), outside, 5.0 * DAY_S)
        assert settled.water_c == pytest.approx(26.0, abs=1e-6)
        risen_k.append(settled.room_c - outside.air_c)
    given_off_w_k = 80.0 + balance.room_kg * 0.5 / HOUR_S * 1_006.0

    def unbalanced_w(room_c: float) -> float:
        return 160.0 * (1.0 + 1.0 / IDEAL.performance(26.0, room_c)) - given_off_w_k * (room_c - 28.0)

    assert 28.0 + risen_k[0] == pytest.approx(brentq(unbalanced_w, 28.0, 60.0), abs=1e-4)
    assert risen_k[1] == pytest.approx(0.0, abs=1e-6)
    assert flows.rejected_w == pytest.approx(160.0 * (1.0 + 1.0 / IDEAL.performance(26.0, 28.0)))


def test_a_coupled_tank_warms_its_room_by_the_chillers_electricity() -> None:
    """G (T_r - T_o) = Q0 (1 + 1/COP) + k (T_r - T_w) / COP, the water held by switching (derived here)."""
    display = Vessel(0.0, Walls(3.0, 0.5, 0.010))
    plant = bare(display=display, pumps_w=120.0, room=Room(60.0, 80.0), chiller=ChillerTraits(600.0))
    balance = TankBalance(plant)
    outside = air(30.0, 0.4)
    state = balance.at_rest(26.0, outside)
    room_k = walls_w = electric_w = chilled_w = 0.0
    steps, counted = 4 * 2_880, 2_880
    for step in range(steps):
        state, flows = balance.advance(state, Drive(chiller=state.water_c > 26.0), outside, 30.0)
        if step >= steps - counted:
            room_k += (state.room_c - outside.air_c) / counted
            walls_w += flows.walls_w / counted
            electric_w += flows.chiller_electric_w / counted
            chilled_w += flows.chiller_w / counted
    assert state.water_c == pytest.approx(26.0, abs=0.02)
    inverse = electric_w / chilled_w
    given_off_w_k = 80.0 + balance.room_kg * 0.5 / HOUR_S * 1_006.0
    assert given_off_w_k * room_k == pytest.approx(120.0 * (1.0 + inverse) + walls_w * inverse, rel=0.002)
    assert walls_w > 50.0


def cabinet(gain: float) -> tuple[TankBalance, float]:
    """Return a chiller alone in a closed stand whose loop gain is given, and the stand's conductance."""
    conductance_w_k = runaway_conductance_w_k(160.0, 26.0, IDEAL) / gain
    plant = bare(
        display=INSULATED,
        pumps_w=160.0,
        sump=INSULATED,
        stand=Stand(conductance_w_k, 0.0),
        chiller=IDEAL,
        siting=Siting.STAND,
    )
    return TankBalance(plant), conductance_w_k


@pytest.mark.parametrize("gain", [0.1, 0.3, 0.5])
def test_a_cabinet_settles_where_the_closed_form_says(gain: float) -> None:
    """The last at 143 °C, where no machine runs and no air is saturated any more."""
    balance, conductance_w_k = cabinet(gain)
    outside = air(28.0, 0.4)
    start = balance.at_rest(26.0, outside)
    settled, flows = left_for(balance, start, Drive(chiller=True), outside, 5.0 * DAY_S)
    assert settled.stand_c == pytest.approx(
        cabinet_air_c(160.0, 26.0, 28.0, conductance_w_k, IDEAL), abs=0.001
    )
    assert settled.stand_ratio == pytest.approx(outside.humidity_ratio)
    assert flows.condensed_kg_s == 0.0


def test_ventilation_counts_like_walls() -> None:
    """The stand's conductance is its walls' and that of the air it exchanges."""
    balance, _ = cabinet(0.3)
    stand = Stand(4.0, 30.0)
    vented = TankBalance(replace(balance.plant, stand=stand))
    conductance_w_k = 4.0 + 30.0 / HOUR_S * vented.stand_kg / stand.volume_m3 * 1_006.0
    outside = air(28.0, 0.4)
    settled, _ = left_for(vented, vented.at_rest(26.0, outside), Drive(chiller=True), outside, 10.0 * DAY_S)
    assert settled.stand_c == pytest.approx(
        cabinet_air_c(160.0, 26.0, 28.0, conductance_w_k, IDEAL), abs=0.01
    )


@pytest.mark.parametrize("gain", [0.5, 0.8, 1.0, 1.2, 2.0])
def test_it_runs_away_exactly_beyond_the_criterion(gain: float) -> None:
    """Each span's rise is exp((gain - 1) G t / C) times the last: it grows exactly beyond a gain of one."""
    balance, conductance_w_k = cabinet(gain)
    outside = air(28.0, 0.4)
    begun = balance.at_rest(26.0, outside)
    span_s = 1_200.0
    middle, _ = left_for(balance, begun, Drive(chiller=True), outside, span_s, 1.0)
    ended, _ = left_for(balance, middle, Drive(chiller=True), outside, span_s, 1.0)
    growth = (ended.stand_c - middle.stand_c) / (middle.stand_c - begun.stand_c)
    capacity_j_k = 15_000.0 + 0.4 * balance.room_kg / 60.0 * 1_006.0
    expected = math.exp((gain - 1.0) * conductance_w_k * span_s / capacity_j_k)
    assert growth == pytest.approx(expected, rel=1e-4)


def test_a_runaway_ends_where_no_formula_holds() -> None:
    balance, _ = cabinet(1.5)
    outside = air(28.0, 0.4)
    with pytest.raises(ValueError, match="from 0 to 200"):
        left_for(balance, balance.at_rest(26.0, outside), Drive(chiller=True), outside, DAY_S)
