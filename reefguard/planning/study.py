"""Runs a tank's day as often as a plan asks, and keeps what it has run."""

from reefguard.planning.course import course_of
from reefguard.planning.day import STEPS_A_DAY, Day, DayWeather, TankDay, Tripped, Way
from reefguard.planning.found import CannotJudge, Course, LongerThan, Spread
from reefguard.planning.parts import plant_of
from reefguard.settings.plan_model import TankPlan
from reefguard.thermal.balance import TankBalance
from reefguard.thermal.plant import Siting
from reefguard.thermal.state import Drive
from reefguard.thermal.steady import steady_state
from reefguard.thermal.weather import OutsideAir

STUCK = "the chiller's own protection stops it in air too hot"
_STARTS = range(0, STEPS_A_DAY, STEPS_A_DAY // 8)  # every three hours
# Beyond two days somebody is home again: "longer than" is all there is to say.
_LOOK_AHEAD_H = 48.0

NOTHING = Way()


class Study:
    """A tank and its weather, with the evaporation as calibrated."""

    def __init__(self, tank: TankPlan, weather: DayWeather, scale: float, uncertainty: float) -> None:
        """Run nothing yet.

        Args:
            tank: as the keeper says.
            weather: of the day.
            scale: on the textbook exchange of the surface.
            uncertainty: share by which it may be wrong, either way.
        """
        self.tank = tank
        self._weather = weather
        self._scales = (scale * (1.0 - uncertainty), scale, scale * (1.0 + uncertainty))

    def machine(self, capacity_w: float | None = None, siting: Siting | None = None) -> "Machine":
        """Return the tank with that chiller, at the best estimate of the evaporation."""
        return Machine(self.tank, self._weather, self._scales[1], capacity_w, siting)

    def machines(
        self, capacity_w: float | None = None, siting: Siting | None = None
    ) -> "tuple[Machine, ...]":
        """Return the tank with that chiller, with the evaporation low, best and high."""
        return tuple(Machine(self.tank, self._weather, scale, capacity_w, siting) for scale in self._scales)

    def peak_c(
        self, way: Way, capacity_w: float | None = None, siting: Siting | None = None
    ) -> Spread | None:
        """Return the peak under a way of cooling, with the uncertainty; `None` where it is not judged."""
        courses = [machine.course(way) for machine in self.machines(capacity_w, siting)]
        return spread([None if isinstance(course, CannotJudge) else course.peak_c for course in courses])


class Machine:
    """A tank with a chiller of one size at one place."""

    def __init__(
        self,
        tank: TankPlan,
        weather: DayWeather,
        scale: float,
        capacity_w: float | None,
        siting: Siting | None,
    ) -> None:
        """Draw its balance.

        Args:
            tank: as the keeper says.
            weather: of the day.
            scale: on the exchange of the surface.
            capacity_w: nominal; `None` without a chiller.
            siting: `None` for where the keeper says.
        """
        plant = plant_of(tank, exchange_scale=scale, capacity_w=capacity_w, siting=siting)
        self.balance = TankBalance(plant)
        self._tank = tank
        self._weather = weather
        self._day = TankDay(self.balance, weather, tank)

    def day(self, way: Way) -> Day | Tripped | CannotJudge:
        """Return the settled day."""
        return self._day.settled(way)

    def course(self, way: Way) -> Course | CannotJudge:
        """Return what the settled day comes to."""
        return self.summed(self.day(way))

    def summed(self, day: Day | Tripped | CannotJudge) -> Course | CannotJudge:
        """Return what a day comes to."""
        if isinstance(day, Tripped):
            return CannotJudge(STUCK)
        return day if isinstance(day, CannotJudge) else course_of(day, self.balance, self._tank)

    def time_constant_h(self) -> float | None:
        """Return how fast the water left to itself follows, in the mean air of the day."""
        steps = self._weather.steps
        mean = OutsideAir(*(sum(values) / len(steps) for values in zip(*steps, strict=True)))
        still = Drive(fans=(0.0,) * len(self.balance.plant.fans))
        found = steady_state(self.balance, still, mean)
        return None if found is None else found.time_constant_s / 3_600.0

    def breathed_peak_c(self, day: Day, siting: Siting) -> float:
        """Return the hottest air around a chiller at that place."""
        match siting:
            case Siting.ROOM:
                return max(step.after.room_c for step in day.steps)
            case Siting.STAND:
                return max(step.after.stand_c for step in day.steps)
            case Siting.OUTSIDE:
                return max(outside.air_c for outside in self._weather.steps)

    def soonest_h(self, day: Day, way: Way, bound_c: float, *, upwards: bool) -> float | LongerThan:
        """Return the shortest time in which the water crosses a bound, whenever of the day `way` sets in."""
        soonest_h: float = _LOOK_AHEAD_H
        found = False
        for start in _STARTS:
            hours = self._day.hours_until(day, start, way, bound_c, upwards=upwards, most_h=soonest_h)
            if hours is not None:
                soonest_h, found = hours, True
        return soonest_h if found else LongerThan(_LOOK_AHEAD_H)


def spread(values: list[float | None]) -> Spread | None:
    """Return low, best and high of three values given as at low, best and high evaporation.

    >>> spread([28.0, 27.0, 26.5])
    Spread(low=26.5, best=27.0, high=28.0)
    """
    known = [value for value in values if value is not None]
    if len(known) < len(values):
        return None
    return Spread(min(known), known[1], max(known))
