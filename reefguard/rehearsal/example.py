"""The example's tank and files: the demonstration's, and a rehearsal's without files of one's own."""

from pathlib import Path
from typing import Final

from reefguard.planning.parts import plant_of
from reefguard.rehearsal import bench
from reefguard.settings.outcome import Rejected
from reefguard.settings.plan_model import DesignDayPlan, TankPlan
from reefguard.settings.plan_reading import EXAMPLE, read_plan
from reefguard.thermal.plant import Plant
from reefguard.thermal.weather import DesignDay

_NOWHERE: Final = bench.Bench(Path("/run/reefguard-example"))
# The chiller of the example, where its plan names none: a third above the 450 W that the plan asks for, as
# sizes on sale fall.
CAPACITY_W: Final = 600.0


def tank() -> TankPlan:
    """Return the plan of the example's tank."""
    outcome = read_plan(EXAMPLE.encode())
    if isinstance(outcome, Rejected):
        message = "the example plan does not read"
        raise TypeError(message)
    return outcome.plan


def plant() -> Plant:
    """Return the example's tank."""
    planned = tank()
    return plant_of(planned, capacity_w=planned.chiller.capacity_w or CAPACITY_W)


def hot_day() -> DesignDay:
    """Return the weather of the demonstration: the day that the example's plan is made for."""
    day = tank().weather
    if not isinstance(day, DesignDayPlan):
        message = "the example plan names a file of weather"
        raise TypeError(message)
    return DesignDay(day.hottest_c, day.coolest_c, day.relative_humidity)


def settings_text() -> str:
    """Return the example's settings, as a file would hold them."""
    return bench.settings_text(_NOWHERE)


def limits_text() -> str:
    """Return the example's limits file."""
    return bench.limits_text(_NOWHERE)
