"""Plants for the heat balance, and how a test keeps the books of their flows."""

from dataclasses import replace
from typing import Any

from hypothesis import strategies as st

from reefguard.thermal.balance import LATENT_HEAT_J_KG, TankBalance
from reefguard.thermal.moist_air import humidity_ratio, saturation_pressure_pa
from reefguard.thermal.plant import FanTraits, Plant, Room, Siting, Stand, Vessel
from reefguard.thermal.refrigeration import ChillerTraits
from reefguard.thermal.state import Drive, Flows, State
from reefguard.thermal.walls import Material, Walls
from reefguard.thermal.weather import OutsideAir

HOUR_S, DAY_S = 3_600.0, 86_400.0
# Air that changes so often that the room is outdoors.
FIXED_ROOM = Room(volume_m3=60.0, conductance_w_k=0.0, air_changes_per_h=1e7)
INSULATED = Vessel(open_m2=0.0, walls=None)


def air(air_c: float, humidity: float) -> OutsideAir:
    return OutsideAir(air_c, humidity_ratio(humidity * saturation_pressure_pa(air_c)))


def reef(**changes: Any) -> Plant:
    """Return 340 L over a sump in a stand, with two fans and a chiller; and what a test changes."""
    plant = Plant(
        litres=340.0,
        display=Vessel(0.6, Walls(1.87, 0.55, 0.010)),
        room=Room(60.0, 80.0),
        lights_w=250.0,
        pumps_w=60.0,
        sump=Vessel(0.25, Walls(0.72, 0.3, 0.008)),
        stand=Stand(6.0, 5.0),
        fans=(FanTraits(1.5, 0.5), FanTraits(1.5, 0.5, over_sump=True)),
        chiller=ChillerTraits(500.0),
    )
    return replace(plant, **changes)


def bare(**changes: Any) -> Plant:
    """Return an open tank in a room that is outdoors: nothing but water, surface and pumps."""
    plant = Plant(litres=340.0, display=Vessel(0.6, None), room=FIXED_ROOM, lights_w=0.0, pumps_w=100.0)
    return replace(plant, **changes)


def left_for(
    balance: TankBalance, state: State, drive: Drive, outside: OutsideAir, for_s: float, span_s: float = 300.0
) -> tuple[State, Flows]:
    """Return where a constant drive in constant weather leads, and the flows of the last step."""
    state, flows = balance.advance(state, drive, outside, span_s)
    for _ in range(round(for_s / span_s) - 1):
        state, flows = balance.advance(state, drive, outside, span_s)
    return state, flows


def stored_j(balance: TankBalance, before: State, after: State) -> float:
    """Return the heat stored meanwhile in water, room and stand, that of their vapour included."""
    room_j = balance.room_j_k * (after.room_c - before.room_c)
    room_j += LATENT_HEAT_J_KG * balance.room_kg * (after.room_ratio - before.room_ratio)
    stand_j = 0.0
    if balance.plant.stand is not None:
        stand_j = balance.stand_j_k * (after.stand_c - before.stand_c)
        stand_j += LATENT_HEAT_J_KG * balance.stand_kg * (after.stand_ratio - before.stand_ratio)
    return balance.water_j_k * (after.water_c - before.water_c) + room_j + stand_j


def vapour_kg(balance: TankBalance, before: State, after: State) -> float:
    """Return the vapour that the air of room and stand has taken up meanwhile."""
    taken_kg = balance.room_kg * (after.room_ratio - before.room_ratio)
    if balance.plant.stand is not None:
        taken_kg += balance.stand_kg * (after.stand_ratio - before.stand_ratio)
    return taken_kg


# --- What there is to vary ---

shares = st.floats(0.0, 1.0)
airs = st.builds(air, st.floats(0.0, 44.0), shares)
walls = st.none() | st.builds(
    Walls, st.floats(0.1, 5.0), st.floats(0.15, 1.0), st.floats(0.004, 0.025), st.sampled_from(Material)
)
vessels = st.builds(Vessel, st.floats(0.0, 2.0), walls, st.floats(0.5, 1.5))
rooms = st.builds(
    Room,
    st.floats(15.0, 300.0),
    st.floats(5.0, 300.0),
    st.floats(0.0, 3.0),
    st.floats(2.0, 20.0),
    st.floats(0.0, 500.0),
    st.none() | st.floats(15.0, 24.0),
    st.floats(1.0, 10.0),
)
stands = st.builds(
    Stand, st.floats(0.5, 20.0), st.floats(0.0, 100.0), st.floats(100.0, 400.0), st.floats(0.1, 1.0)
)
fans = st.builds(FanTraits, st.floats(0.0, 3.0), shares, st.floats(0.0, 20.0), st.booleans())
plants = st.builds(
    Plant,
    litres=st.floats(80.0, 2_000.0),
    display=vessels,
    room=rooms,
    lights_w=st.floats(0.0, 600.0),
    pumps_w=st.floats(0.0, 200.0),
    sump=st.none() | vessels,
    stand=st.none() | stands,
    lights_to_water=shares,
    fans=st.lists(fans, max_size=3).map(tuple),
    chiller=st.none() | st.builds(ChillerTraits, st.floats(100.0, 1_500.0)),
    siting=st.sampled_from(Siting),
    heater_w=st.floats(0.0, 300.0),
    salinity=st.floats(30.0, 40.0),
    pressure_pa=st.floats(75_000.0, 104_000.0),
    exchange_scale=st.floats(0.5, 2.0),
)


@st.composite
def drives(draw: st.DrawFn, plant: Plant) -> Drive:
    """Draw what of a plant runs, and how much."""
    return Drive(
        lights=draw(shares),
        fans=tuple(draw(shares) for _ in plant.fans),
        chiller=draw(st.booleans()),
        pumps=draw(shares),
        room_open=draw(st.booleans()),
        stand_open=draw(st.booleans()),
        topped_off=draw(st.booleans()),
    )


@st.composite
def states(draw: st.DrawFn) -> State:
    """Draw where a tank stands: its air anything up to fog, its losses made good or not."""
    room, stand = draw(airs), draw(airs)
    return State(
        draw(st.floats(12.0, 38.0)),
        room.air_c,
        room.humidity_ratio * draw(st.floats(0.2, 1.1)),
        stand.air_c,
        stand.humidity_ratio,
        draw(st.just(0.0) | st.floats(0.0, 30.0)),
    )
