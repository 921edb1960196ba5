"""Set the evaporation by the keeper's own top-off."""

from reefguard.planning.day import DayWeather
from reefguard.planning.found import CannotJudge
from reefguard.planning.model import Calibration
from reefguard.planning.study import NOTHING, Study
from reefguard.settings.plan_model import TankPlan
from reefguard.thermal.water_surface import UNCERTAINTY

CALIBRATED_UNCERTAINTY = 0.10
# Beyond a factor of three either way it is the measurement that is in doubt, not the equation: ours.
LEAST_SCALE, MOST_SCALE = 0.3, 3.0
_NEAR_ENOUGH = 0.002


def calibrated(tank: TankPlan, weather: DayWeather) -> Calibration | CannotJudge:
    """Return by how much the surface exchanges more than the textbook says.

    The measurement is taken to be of weather like the plan's day, fans off and the water left to itself.

    Returns:
        The calibration; `CannotJudge` where no believable scale explains the measurement.
    """
    measured = tank.measured_topoff_l_day
    if measured is None:
        return Calibration(None, 1.0, UNCERTAINTY)
    low, high = LEAST_SCALE, MOST_SCALE
    least, most = _evaporation(tank, weather, low), _evaporation(tank, weather, high)
    if isinstance(least, CannotJudge):
        return least
    if isinstance(most, CannotJudge):
        return most
    if not least <= measured <= most:
        return CannotJudge(
            f"a top-off of {measured:.1f} L/day does not fit this tank: on such a day it evaporates "
            f"{least:.1f} to {most:.1f} L/day, even if the textbook is wrong threefold; check the "
            "measurement (fans off, no water changes, no splash or leak) and the size of the open surface"
        )
    # False position: the evaporation grows with the scale, a little slower the more humid it makes the room.
    scale = 1.0
    for _ in range(12):
        now = _evaporation(tank, weather, scale)
        if isinstance(now, CannotJudge):
            return now
        if abs(now - measured) <= _NEAR_ENOUGH * measured:
            break
        if now < measured:
            low, least = scale, now
        else:
            high, most = scale, now
        scale = low + (high - low) * (measured - least) / (most - least)
    return Calibration(measured, scale, CALIBRATED_UNCERTAINTY)


def _evaporation(tank: TankPlan, weather: DayWeather, scale: float) -> float | CannotJudge:
    course = Study(tank, weather, scale, 0.0).machine().course(NOTHING)
    return course if isinstance(course, CannotJudge) else course.evaporation_l_day
