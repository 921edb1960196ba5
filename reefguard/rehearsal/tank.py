"""A tank of one node: what warms it, what cools it, one temperature.

Its numbers are those of a 340-litre tank in a warm house.  Pure: the caller
brings the time and what runs.
"""

import math
from dataclasses import dataclass

# Sea water at 25 degrees C, salinity 35: TEOS-10 (gsw 3.6): 1023.3 kg/m3 and 3999 J/(kg K).
_HEAT_CAPACITY_J_PER_L_K = 1.0233 * 3_999.0


@dataclass(frozen=True, slots=True)
class TankTraits:
    """What the demonstration's tank is made of (invented, in the range of common practice).

    Attributes:
        litres: water in tank and sump.
        lights_w: heat of the lights that reaches the water while they are on.
        pumps_w: heat of the pumps, always.
        walls_w_per_k: walls and still surface together, per kelvin to the room.
        fan_w: what one fan takes away at 27 degrees C, by evaporation.
        chiller_w: what the chiller takes away.
    """

    litres: float = 340.0
    lights_w: float = 180.0
    pumps_w: float = 45.0
    walls_w_per_k: float = 16.0
    fan_w: float = 45.0
    chiller_w: float = 420.0


@dataclass(frozen=True, slots=True)
class Running:
    """What runs at the moment: the lights, how many fans, and whether the chiller has power."""

    lights: bool
    fans: int
    chiller: bool


@dataclass(frozen=True, slots=True)
class HotDay:
    """A day's room temperature: coolest before sunrise, hottest in the afternoon."""

    coolest_c: float = 25.0
    hottest_c: float = 32.5
    hottest_hour: float = 16.0

    def room_c(self, hour: float) -> float:
        """Return the room's temperature at an hour of the day (0 to 24)."""
        middle_c = (self.coolest_c + self.hottest_c) / 2.0
        swing_c = (self.hottest_c - self.coolest_c) / 2.0
        return middle_c + swing_c * math.cos((hour - self.hottest_hour) * math.pi / 12.0)


def after(water_c: float, span_s: float, *, room_c: float, running: Running, traits: TankTraits) -> float:
    """Return the water's temperature after a span of constant conditions.

    The balance C dT/dt = P - k (T - room) is solved exactly, so the span may
    be long.  The chiller's capacity counts as constant, and a fan's too.
    """
    gains_w = traits.pumps_w + (traits.lights_w if running.lights else 0.0)
    losses_w = running.fans * traits.fan_w + (traits.chiller_w if running.chiller else 0.0)
    capacity_j_per_k = traits.litres * _HEAT_CAPACITY_J_PER_L_K
    settles_c = room_c + (gains_w - losses_w) / traits.walls_w_per_k
    return settles_c + (water_c - settles_c) * math.exp(-span_s * traits.walls_w_per_k / capacity_j_per_k)
