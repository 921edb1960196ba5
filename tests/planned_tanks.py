"""Tanks to be planned, for tests: `reef()` is an ordinary one, of which a test changes what it is about."""

from dataclasses import replace
from typing import Any

from reefguard.settings.model import SafeBand
from reefguard.settings.plan_model import DesignDayPlan, RoomPlan, TankPlan, VesselPlan

HOUR_S = 3_600


def reef(**changes: Any) -> TankPlan:
    """Return a tank of 340 L, open on top, in an ordinary room on a dry summer day."""
    tank = TankPlan(
        tank="the reef by the stairs",
        litres=340.0,
        display=VesselPlan(1.2, 0.5, 0.55),
        lights_w=140.0,
        lights_on_s=10 * HOUR_S,
        lights_off_s=20 * HOUR_S,
        pumps_w=40.0,
        safe_band=SafeBand(24.0, 27.0),
        hold_c=25.5,
        weather=DesignDayPlan(30.0, 18.0, 0.35),
    )
    return replace(tank, **changes)


def muggy() -> TankPlan:
    """Return a small tank in a closed room in damp heat."""
    return reef(
        litres=30.0,
        display=VesselPlan(0.35, 0.35, 0.30, thickness_m=0.006),
        lights_w=30.0,
        pumps_w=12.0,
        room=RoomPlan(volume_m3=30.0, air_changes_per_h=0.2),
        weather=DesignDayPlan(33.0, 27.0, 0.75),
    )
