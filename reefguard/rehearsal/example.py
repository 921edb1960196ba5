"""The example's tank and files: the demonstration's, and a rehearsal's without files of one's own."""

from pathlib import Path
from typing import Final

from reefguard.planning.parts import plant_of
from reefguard.rehearsal import bench
from reefguard.settings.outcome import Rejected
from reefguard.settings.plan_model import TankPlan
from reefguard.settings.plan_reading import EXAMPLE, read_plan
from reefguard.thermal.plant import Plant
from reefguard.thermal.weather import DesignDay

_NOWHERE: Final = bench.Bench(Path("/run/reefguard-example"))
# The chiller of the example, where its plan names none: what `reefguard plan` finds for it, rounded up.
CAPACITY_W: Final = 600.0
_HOT: Final = DesignDay(hottest_c=33.0, coolest_c=23.0, relative_humidity=0.45)


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
    """Return the weather of the demonstration."""
    return _HOT


def settings_text() -> str:
    """Return the example's settings, as a file would hold them."""
    return bench.settings_text(_NOWHERE)


def limits_text() -> str:
    """Return the example's limits file."""
    return bench.limits_text(_NOWHERE)
