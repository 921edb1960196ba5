"""The demonstration's tank: the planner's own balance of heat and moisture, under the example's tank."""

from dataclasses import dataclass

from reefguard.rehearsal import example
from reefguard.thermal.balance import TankBalance
from reefguard.thermal.state import Drive

# A step of the balance is at most this long; a demonstration at full speed leaves longer gaps.
_LONGEST_STEP_S = 60.0


@dataclass(frozen=True, slots=True)
class Running:
    """What runs at the moment: the lights, how many fans, and whether the chiller has power."""

    lights: bool
    fans: int
    chiller: bool


class DemonstrationTank:
    """Water, room and weather of a hot day."""

    def __init__(self, water_c: float, time_s: float) -> None:
        """Fill the tank.

        Args:
            water_c: of the water.
            time_s: the time of day it begins at, seconds after midnight.
        """
        self._balance = TankBalance(example.plant())
        self._weather = example.hot_day()
        self.state = self._balance.at_rest(water_c, self._weather.at(time_s))

    def live(self, span_s: float, time_s: float, running: Running) -> None:
        """Carry it forward to a time of day, under what runs."""
        fans = len(self._balance.plant.fans)
        drive = Drive(
            lights=1.0 if running.lights else 0.0,
            fans=tuple(1.0 if place < running.fans else 0.0 for place in range(fans)),
            chiller=running.chiller,
        )
        outside = self._weather.at(time_s)
        while span_s > 0.0:
            step_s = min(span_s, _LONGEST_STEP_S)
            self.state, _ = self._balance.advance(self.state, drive, outside, step_s)
            span_s -= step_s
