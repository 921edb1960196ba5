"""What anybody who keeps a tank would expect: more of this makes it warmer, more of that cooler."""

from dataclasses import replace

import pytest
from heated_plants import DAY_S, FIXED_ROOM, HOUR_S, INSULATED, air, bare, left_for, reef
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.thermal.balance import LATENT_HEAT_J_KG, TankBalance
from reefguard.thermal.moist_air import relative_humidity, salt_wet_bulb_c
from reefguard.thermal.plant import FanTraits, Plant, Room, Siting, Stand, Vessel
from reefguard.thermal.refrigeration import ChillerTraits
from reefguard.thermal.state import Drive, State
from reefguard.thermal.walls import Walls
from reefguard.thermal.weather import OutsideAir

STILL = Drive(fans=(0.0, 0.0))


def after_hours(plant: Plant, drive: Drive, outside: OutsideAir, hours: float = 12.0) -> State:
    balance = TankBalance(plant)
    return left_for(balance, balance.at_rest(26.0, outside), drive, outside, hours * HOUR_S)[0]


rooms_c = st.floats(18.0, 38.0)
humidities = st.floats(0.1, 0.9)
few = settings(deadline=None, max_examples=20)


@few
@given(rooms_c, humidities, st.floats(0.1, 5.0))
def test_warmer_and_damper_weather_make_a_warmer_tank(air_c: float, humidity: float, more: float) -> None:
    outside = air(air_c, humidity)
    warmer = OutsideAir(air_c + more, outside.humidity_ratio)
    damper = air(air_c, humidity + more / 50.0)
    reference = after_hours(reef(), STILL, outside).water_c
    assert after_hours(reef(), STILL, warmer).water_c > reference
    assert after_hours(reef(), STILL, damper).water_c > reference


@few
@given(rooms_c, humidities, st.floats(0.05, 1.0))
def test_light_warms_and_more_pumps_warm(air_c: float, humidity: float, share: float) -> None:
    outside = air(air_c, humidity)
    dark = after_hours(reef(), STILL, outside)
    assert after_hours(reef(), STILL._replace(lights=share), outside).water_c > dark.water_c
    assert after_hours(reef(), STILL._replace(pumps=1.0 - share), outside).water_c < dark.water_c


@few
@given(rooms_c, humidities, st.floats(0.1, 1.0))
def test_a_chiller_cools_the_water_and_warms_the_room(air_c: float, humidity: float, share: float) -> None:
    plant = reef(lights_to_water=share)
    outside = air(air_c, humidity)
    idle = after_hours(plant, STILL, outside, 3.0)
    runs = after_hours(plant, STILL._replace(chiller=True), outside, 3.0)
    assert runs.water_c < idle.water_c
    assert runs.room_c > idle.room_c


@few
@given(rooms_c, humidities, st.floats(0.1, 1.0))
def test_a_fan_cools_exactly_where_the_wet_bulb_allows(air_c: float, humidity: float, level: float) -> None:
    """In a room that stays as it is, over hours: towards the salt wet bulb, from either side."""
    plant = bare(fans=(FanTraits(1.5, 1.0),))
    outside = air(air_c, humidity)
    still = after_hours(plant, Drive(fans=(0.0,)), outside, 2.0).water_c
    fanned = after_hours(plant, Drive(fans=(level,)), outside, 2.0).water_c
    turning_c = salt_wet_bulb_c(air_c, humidity)
    if min(still, 26.0) > turning_c + 0.05:
        assert fanned < still
    if max(still, 26.0) < turning_c - 0.05:
        assert fanned > still


def test_opening_the_room_helps_where_it_is_cooler_and_drier_outside() -> None:
    outside = air(24.0, 0.4)
    drive = Drive(1.0, (1.0, 1.0))
    shut = after_hours(reef(), drive, outside)
    opened = after_hours(reef(), drive._replace(room_open=True), outside)
    assert opened.water_c < shut.water_c - 0.1
    assert opened.room_ratio < shut.room_ratio


def test_opening_the_stand_cools_the_chiller_in_it() -> None:
    outside = air(28.0, 0.4)
    drive = STILL._replace(chiller=True)
    balance = TankBalance(reef(siting=Siting.STAND, chiller=ChillerTraits(80.0)))
    start = balance.at_rest(27.0, outside)
    shut, shut_flows = left_for(balance, start, drive, outside, HOUR_S, 10.0)
    opened, flows = left_for(balance, start, drive._replace(stand_open=True), outside, HOUR_S, 10.0)
    assert opened.stand_c < shut.stand_c - 3.0
    assert flows.chiller_w > shut_flows.chiller_w
    shut_share = shut_flows.chiller_electric_w / shut_flows.chiller_w
    assert flows.chiller_electric_w / flows.chiller_w < 0.9 * shut_share


def test_a_shut_stand_stops_its_chiller_by_the_machines_own_protection() -> None:
    """The air of a wooden cabinet passes 45 °C within the hour; then nothing is taken or thrown out."""
    outside = air(30.0, 0.4)
    balance = TankBalance(reef(siting=Siting.STAND, stand=Stand(6.0, 0.0)))
    state = balance.at_rest(27.0, outside)
    stopped = 0
    for _ in range(360):
        hot = state.stand_c >= 45.0
        state, flows = balance.advance(state, STILL._replace(chiller=True), outside, 10.0)
        assert (flows.chiller_w == 0.0) == hot
        assert (flows.rejected_w == 0.0) == hot
        stopped += hot
    assert stopped > 0


def test_salt_stays_behind_where_nothing_is_topped_off() -> None:
    balance = TankBalance(reef())
    outside = air(30.0, 0.3)
    drive = Drive(fans=(1.0, 1.0), topped_off=False)
    state, lost_kg = balance.at_rest(26.0, outside), 0.0
    for _ in range(288):
        state, flows = balance.advance(state, drive, outside, 300.0)
        lost_kg += flows.evaporation_kg_s * 300.0
    assert state.lost_kg == pytest.approx(lost_kg)
    assert lost_kg > 3.0
    left_kg = balance.water_kg - lost_kg
    assert balance.salinity(state) * left_kg == pytest.approx(35.0 * balance.water_kg)
    topped, _ = balance.advance(state, drive._replace(topped_off=True), outside, 300.0)
    assert topped.lost_kg == 0.0
    assert balance.salinity(topped) == 35.0


def test_saltier_water_evaporates_less() -> None:
    """Half its water lost: 71 instead of 35 g/kg, whose vapour pressure is 2.6 % less (Nayar 2016)."""
    balance = TankBalance(bare())
    dry = OutsideAir(26.0, 0.0)
    start = balance.at_rest(26.0, dry)
    _, fresh = balance.advance(start, Drive(), dry, 60.0)
    _, salty = balance.advance(start._replace(lost_kg=balance.water_kg / 2.0), Drive(), dry, 60.0)
    assert salty.evaporation_kg_s / fresh.evaporation_kg_s == pytest.approx(0.9769, abs=0.0005)


def test_a_tank_that_ran_dry_is_no_division_by_nought() -> None:
    balance = TankBalance(reef())
    state = balance.at_rest(26.0, OutsideAir(30.0, 0.01))._replace(lost_kg=1e6)
    assert balance.salinity(state) == pytest.approx(70.0)


def test_a_heater_stops_at_its_thermostat() -> None:
    balance = TankBalance(reef(heater_w=200.0))
    outside = air(18.0, 0.5)
    for water_c, heater_w in ((24.4, 200.0), (24.5, 0.0), (26.0, 0.0)):
        _, flows = balance.advance(balance.at_rest(water_c, outside), STILL, outside, 60.0)
        assert flows.heater_w == heater_w


def test_a_heated_room_stays_warm_and_no_warmer() -> None:
    """Its heating makes good what the envelope loses, less what the tank and its machines give."""
    room = Room(60.0, 80.0, heated_to_c=20.0)
    balance = TankBalance(bare(display=INSULATED, pumps_w=0.0, room=room))
    frost = OutsideAir(-5.0, 0.002)
    state, flows = left_for(balance, balance.at_rest(26.0, frost), Drive(), frost, DAY_S)
    assert state.room_c == 20.0
    lost_w = 25.0 * (80.0 + balance.room_kg * 0.5 / HOUR_S * 1_006.0)
    assert flows.room_in_w == pytest.approx(lost_w, rel=1e-6)
    assert flows.outdoors_w == pytest.approx(-lost_w, rel=1e-6)
    warm = air(24.0, 0.5)
    _, idle = left_for(balance, balance.at_rest(26.0, warm), Drive(), warm, HOUR_S)
    assert idle.room_in_w == pytest.approx(0.0, abs=1e-9)


def test_a_tank_begins_in_air_as_warm_as_its_room_is_kept() -> None:
    frost, warm = OutsideAir(-5.0, 0.002), air(24.0, 0.5)
    heated = TankBalance(reef(room=Room(60.0, 80.0, heated_to_c=20.0)))
    assert heated.at_rest(25.0, frost) == State(25.0, 20.0, 0.002, 20.0, 0.002)
    assert heated.at_rest(25.0, warm).room_c == 24.0
    assert TankBalance(reef()).at_rest(25.0, frost).room_c == -5.0


def test_a_terrace_in_frost_holds_no_more_vapour_than_freezing_air() -> None:
    balance = TankBalance(bare(room=replace(FIXED_ROOM, air_changes_per_h=50.0)))
    frost = OutsideAir(-5.0, 0.002)
    state, _ = left_for(balance, balance.at_rest(20.0, frost), Drive(), frost, HOUR_S)
    assert relative_humidity(0.0, state.room_ratio) <= 1.0
    fog = balance.at_rest(20.0, frost)._replace(room_ratio=0.02)
    cleared, flows = balance.advance(fog, Drive(), frost, 60.0)
    assert flows.condensed_kg_s > 0.0
    assert relative_humidity(0.0, cleared.room_ratio) == pytest.approx(1.0)


def test_a_stand_full_of_fog_clears_onto_its_walls() -> None:
    balance = TankBalance(reef())
    outside = air(20.0, 0.5)
    fog = balance.at_rest(20.0, outside)._replace(stand_ratio=0.03)
    cleared, flows = balance.advance(fog, STILL, outside, 60.0)
    assert flows.condensed_kg_s > 0.0
    assert relative_humidity(20.0, cleared.stand_ratio) == pytest.approx(1.0)
    assert cleared.stand_c > 20.5


def test_a_plant_without_a_chiller_is_not_cooled() -> None:
    balance = TankBalance(reef(chiller=None))
    outside = air(28.0, 0.4)
    start = balance.at_rest(26.0, outside)
    assert balance.advance(start, STILL._replace(chiller=True), outside, 60.0) == balance.advance(
        start, STILL, outside, 60.0
    )


def test_a_fan_over_a_sump_that_is_not_there_only_draws_its_power() -> None:
    plant = bare(fans=(FanTraits(2.0, 1.0, power_w=4.0, over_sump=True),))
    balance = TankBalance(plant)
    outside = air(28.0, 0.4)
    start = balance.at_rest(28.0, outside)
    _, still = balance.advance(start, Drive(fans=(0.0,)), outside, 60.0)
    _, blown = balance.advance(start, Drive(fans=(1.0,)), outside, 60.0)
    assert blown.fans_w == 4.0
    assert blown.evaporation_kg_s == pytest.approx(still.evaporation_kg_s, rel=1e-6)


def test_a_fan_over_the_sump_fills_the_stand_with_vapour() -> None:
    """With a stand its vapour goes there; without one into the room."""
    outside = air(28.0, 0.4)
    fanned = Drive(fans=(0.0, 1.0))
    for stand in (Stand(6.0, 5.0), None):
        plant = reef(stand=stand)
        still, blown = after_hours(plant, STILL, outside, 1.0), after_hours(plant, fanned, outside, 1.0)
        assert blown.stand_ratio > still.stand_ratio + 0.0001
        assert blown.water_c < still.water_c


def test_a_lidded_insulated_tank_keeps_its_heat() -> None:
    balance = TankBalance(bare(display=INSULATED, pumps_w=0.0))
    outside = air(10.0, 0.4)
    state, flows = left_for(balance, balance.at_rest(26.0, outside), Drive(), outside, DAY_S)
    assert state.water_c == 26.0
    assert flows.evaporation_kg_s == 0.0


def test_a_calibrated_exchange_scales_evaporation_and_its_warmth_alike() -> None:
    outside = air(30.0, 0.5)
    found = []
    for scale in (1.0, 1.5):
        balance = TankBalance(bare(exchange_scale=scale, fans=(FanTraits(1.0, 1.0),)))
        _, flows = balance.advance(balance.at_rest(26.0, outside), Drive(fans=(0.5,)), outside, 1.0)
        found.append(flows)
    assert found[1].evaporation_kg_s == pytest.approx(1.5 * found[0].evaporation_kg_s, rel=1e-6)
    radiated_w = 0.6 * 5.7685 * 4.0
    assert found[1].surface_w - radiated_w == pytest.approx(1.5 * (found[0].surface_w - radiated_w), rel=1e-3)


def test_a_sump_in_the_room_is_more_of_the_same_surface() -> None:
    """Without a stand, and as good as without one; with its panes and the fan over it."""
    outside = air(30.0, 0.4)
    panes = Walls(0.72, 0.3, 0.008)
    whole = reef(
        display=Vessel(0.85, panes),
        sump=None,
        stand=None,
        exchange_scale=1.3,
        fans=(FanTraits(1.5, 0.25 / 0.85),),
    )
    parted = replace(
        whole,
        display=Vessel(0.6, None),
        sump=Vessel(0.25, panes),
        fans=(FanTraits(1.5, 1.0, over_sump=True),),
    )
    open_stand = replace(parted, stand=Stand(1e7, 1e7))
    one, same, nearly = (
        after_hours(plant, Drive(1.0, (0.7,)), outside) for plant in (whole, parted, open_stand)
    )
    assert same == pytest.approx(one, rel=1e-9)
    assert nearly == pytest.approx(one, rel=1e-3)


def test_evaporation_is_that_of_its_latent_heat() -> None:
    balance = TankBalance(bare(display=Vessel(1.0, None, agitation=1.0), fans=()))
    outside = air(28.0, 0.5)
    _, flows = balance.advance(balance.at_rest(28.0, outside), Drive(), outside, 1.0)
    # ASHRAE's equation by hand: 0.089 W/(m2 Pa), 0.98153 of 3782.2 Pa less half of them.
    assert flows.latent_w == pytest.approx(-0.089 * 3_782.21 * (0.98153 - 0.5), rel=1e-4)
    assert flows.evaporation_kg_s * LATENT_HEAT_J_KG == pytest.approx(-flows.latent_w)
