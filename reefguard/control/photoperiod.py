"""Are the lights on, and for how long have they been off?

A sensed input outranks the hours.  The hours need a clock known to be right;
the time since lights-off does not: it runs on the boot clock.
"""

from dataclasses import dataclass
from datetime import timedelta, timezone
from enum import Enum

from reefguard.settings.model import Lights
from reefguard.vocabulary import Wall

DAY_S = 86_400


class Told(Enum):
    """Who says whether the lights are on."""

    SENSED = "seen at the lights input"
    HOURS = "by the hours in the settings"
    NOBODY = "not known: no lights input answers and the clock is not known to be right"


@dataclass(frozen=True, slots=True)
class LightsState:
    """The lights at one moment.

    Attributes:
        on: `None` when nobody can tell.
        told: who says so.
        off_since_s: boot-clock time of lights-off; `None` while on or unknown.
    """

    on: bool | None
    told: Told
    off_since_s: float | None = None


def observe(
    before: LightsState | None, *, sensed: bool | None, wall: Wall, now_s: float, lights: Lights
) -> LightsState:
    """Return the state of the lights now.  `before` is `None` on the first tick."""
    on, told, off_for_s = _told(sensed, wall, lights)
    if before is not None and before.on is on and before.told is told:
        return before
    if on is not False:
        return LightsState(on, told)
    if before is not None and before.off_since_s is not None:
        return LightsState(on, told, before.off_since_s)
    if before is None or before.on is None:
        # Nobody saw them go off, but the hours, where they tell, say how long it has been dark.
        return LightsState(on, told, now_s - off_for_s)
    # They went off now, or it is not known when: run the whole time on.
    return LightsState(on, told, now_s)


def next_change(wall: Wall, lights: Lights) -> tuple[str, float] | None:
    """Return what the lights do next by the hours, and in how many seconds; `None` if nobody knows."""
    if not wall.trusted:
        return None
    time_s = _time_of_day_s(wall, lights)
    to_on_s = (lights.on_s - time_s) % DAY_S or DAY_S
    to_off_s = (lights.off_s - time_s) % DAY_S or DAY_S
    return ("lights on", float(to_on_s)) if to_on_s < to_off_s else ("lights off", float(to_off_s))


def _time_of_day_s(wall: Wall, lights: Lights) -> int:
    """Return seconds after midnight in the time the hours are written in."""
    local = wall.local
    if lights.utc_offset_s is not None:
        local = local.astimezone(timezone(timedelta(seconds=lights.utc_offset_s)))
    return local.hour * 3_600 + local.minute * 60 + local.second


def _told(sensed: bool | None, wall: Wall, lights: Lights) -> tuple[bool | None, Told, float]:
    """Return whether they are on, who says so, and for the hours since when they are off."""
    if sensed is not None:
        return sensed, Told.SENSED, 0.0
    if not wall.trusted:
        return None, Told.NOBODY, 0.0
    time_s = _time_of_day_s(wall, lights)
    return lit_at(time_s, lights), Told.HOURS, (time_s - lights.off_s) % DAY_S


def lit_at(time_s: float, lights: Lights) -> bool:
    """Return whether the hours have the lights on, so long after any midnight."""
    return (time_s - lights.on_s) % DAY_S < (lights.off_s - lights.on_s) % DAY_S
