"""Where a tank settles: against long stepping, and against the straight line."""

import pytest
from heated_plants import DAY_S, air, bare, left_for

from reefguard.thermal.balance import TankBalance
from reefguard.thermal.plant import Plant, Room, Siting, Stand, Vessel
from reefguard.thermal.refrigeration import ChillerTraits
from reefguard.thermal.state import Drive
from reefguard.thermal.steady import steady_state
from reefguard.thermal.walls import Walls

REEF = Plant(
    litres=340.0,
    display=Vessel(0.6, Walls(1.87, 0.55, 0.010)),
    room=Room(50.0, 60.0, other_gains_w=100.0),
    lights_w=250.0,
    pumps_w=60.0,
    sump=Vessel(0.32, Walls(0.6, 0.25, 0.010)),
    stand=Stand(6.0, 10.0),
)


@pytest.mark.parametrize("lights", [0.0, 0.4, 1.0])
@pytest.mark.parametrize(("air_c", "humidity"), [(20.0, 0.4), (28.0, 0.7), (35.0, 0.3)])
def test_it_is_where_long_stepping_ends(lights: float, air_c: float, humidity: float) -> None:
    balance = TankBalance(REEF)
    outside = air(air_c, humidity)
    found = steady_state(balance, Drive(lights), outside)
    assert found is not None
    stepped, _ = left_for(
        balance, balance.at_rest(26.0, outside), Drive(lights), outside, 30.0 * DAY_S, 600.0
    )
    assert found.state.water_c == pytest.approx(stepped.water_c, abs=0.01)
    assert found.state.room_c == pytest.approx(stepped.room_c, abs=0.02)
    assert found.state.stand_ratio == pytest.approx(stepped.stand_ratio, rel=0.01)


def test_it_stays_there() -> None:
    balance = TankBalance(REEF)
    outside = air(28.0, 0.5)
    found = steady_state(balance, Drive(0.5), outside)
    assert found is not None
    later, _ = left_for(balance, found.state, Drive(0.5), outside, DAY_S, 600.0)
    assert later.water_c == pytest.approx(found.state.water_c, abs=0.002)


def test_a_small_deviation_decays_with_its_time_constant() -> None:
    """Half a kelvin falls to its e-th part, 0.184 K, within 3 %: the room follows almost at once."""
    plant = bare()
    balance = TankBalance(plant)
    outside = air(30.0, 0.5)
    found = steady_state(balance, Drive(), outside)
    assert found is not None
    warmer = found.state._replace(water_c=found.state.water_c + 0.5)
    later, _ = left_for(balance, warmer, Drive(), outside, found.time_constant_s, 60.0)
    assert later.water_c - found.state.water_c == pytest.approx(0.5 * 0.3679, rel=0.03)


def test_a_strong_chiller_in_the_cold_finds_no_place_to_settle() -> None:
    cold = Plant(
        200.0,
        bare().display,
        Room(30.0, 30.0),
        0.0,
        5.0,
        chiller=ChillerTraits(2_000.0),
        siting=Siting.OUTSIDE,
    )
    assert steady_state(TankBalance(cold), Drive(chiller=True), air(5.0, 0.5)) is None


def test_a_tank_that_only_gains_finds_none() -> None:
    oven = Plant(200.0, Vessel(0.0, None), Room(30.0, 1.0, 0.0), 5_000.0, 0.0)
    assert steady_state(TankBalance(oven), Drive(1.0), air(35.0, 0.5)) is None
