"""Where a tank settles when nothing changes any more, and how long that takes."""

from typing import NamedTuple

from reefguard.thermal.balance import TankBalance
from reefguard.thermal.state import Drive, Flows, State
from reefguard.thermal.weather import OutsideAir

# So long a step that room and stand are where they end, whatever they began at.
_FOR_EVER_S = 1e9
_COLDEST_C, _WARMEST_C = 1.0, 60.0
_HOTTEST_AIR_C = 150.0
_ROUNDS = 12


class Steady(NamedTuple):
    """A steady state.

    Attributes:
        state: of water, room and stand.
        flows: that hold it.
        time_constant_s: in which a small deviation of the water decays to its e-th part, the room
            following at once.
    """

    state: State
    flows: Flows
    time_constant_s: float


def steady_state(balance: TankBalance, drive: Drive, outside: OutsideAir) -> Steady | None:
    """Return where the tank settles under constant conditions.

    Args:
        balance: of the tank.
        drive: what runs, for ever.
        outside: the air outdoors.

    Returns:
        The steady state to 0.001 K, or `None` where the water finds none between 1 and 60 degrees C:
        it freezes, or a chiller that heats its own air lets it run away.
    """
    low_c, high_c = _COLDEST_C, _WARMEST_C
    if _gained_w(*_settled(balance, drive, outside, low_c)) < 0.0:
        return None
    if _gained_w(*_settled(balance, drive, outside, high_c)) > 0.0:
        return None
    while high_c - low_c > 0.001:
        middle_c = (low_c + high_c) / 2.0
        if _gained_w(*_settled(balance, drive, outside, middle_c)) > 0.0:
            low_c = middle_c
        else:
            high_c = middle_c
    water_c = (low_c + high_c) / 2.0
    state, flows = _settled(balance, drive, outside, water_c)
    lost_w_k = (
        _gained_w(*_settled(balance, drive, outside, water_c - 0.25))
        - _gained_w(*_settled(balance, drive, outside, water_c + 0.25))
    ) / 0.5
    return Steady(state, flows, balance.water_j_k / lost_w_k)


def _settled(balance: TankBalance, drive: Drive, outside: OutsideAir, water_c: float) -> tuple[State, Flows]:
    """Return room and stand around water that is held at a temperature, and the flows."""
    state = balance.at_rest(water_c, outside)
    # Room and stand depend a little on where they are (walls, a chiller's air): a few rounds find them.
    for _ in range(_ROUNDS):
        after, flows = balance.advance(state, drive, outside, _FOR_EVER_S)
        # What a room hotter than this holds more of changes nothing any more: the tank runs away.
        air_c, stand_c = min(after.room_c, _HOTTEST_AIR_C), min(after.stand_c, _HOTTEST_AIR_C)
        state = after._replace(water_c=water_c, room_c=air_c, stand_c=stand_c, lost_kg=0.0)
    return state, flows


def _gained_w(state: State, flows: Flows) -> float:
    """Return what the water gains in all."""
    del state
    return (
        flows.lights_w
        + flows.pumps_w
        + flows.heater_w
        + flows.walls_w
        + flows.surface_w
        + flows.latent_w
        - flows.chiller_w
    )
