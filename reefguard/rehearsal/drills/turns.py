"""Which turns each part can take, and what each needs to be told: the vocabulary of a drill file."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from reefguard.rehearsal.drills.drill import Part, Turn
from reefguard.settings.quantities import DIFFERENCE, DURATION, SHARE, Bounds, Measure

_DEGREES = Bounds(-15.0, 15.0, "further off than a probe can be", "further off than a probe can be")
_PER_HOUR = Bounds(-5.0, 5.0, "faster than a probe drifts", "faster than a probe drifts")
_CLOCK = Bounds(-1e9, 1e9, "more than a clock can be wrong", "more than a clock can be wrong")
_A_DAY = Bounds(-43_200.0, 43_200.0, "more than half a day", "more than half a day")
_A_SHARE = Bounds(0.0, 1.0, "less than none of it", "more than all of it")


@dataclass(frozen=True, slots=True)
class Needs:
    """What a turn needs beside its times.

    Attributes:
        measure: the quantity of `by`, or `None` where it has none.
        bounds: of that quantity.
        momentary: it happens at once and does not last.
    """

    measure: Measure | None = None
    bounds: Bounds | None = None
    momentary: bool = False


_LASTS = Needs()
_AT_ONCE = Needs(momentary=True)

TURNS: Final[Mapping[Part, Mapping[Turn, Needs]]] = {
    Part.PROBE: {
        Turn.ABSENT: _LASTS,
        Turn.EMPTY: _LASTS,
        Turn.CHECKSUM: _LASTS,
        Turn.ZEROS: _LASTS,
        Turn.MALFORMED: _LASTS,
        Turn.UNREADABLE: _LASTS,
        Turn.NO_ANSWER: _LASTS,
        Turn.POWER_ON: _LASTS,
        Turn.UNCONVERTED: _LASTS,
        Turn.OUT_OF_RANGE: _LASTS,
        Turn.OFF_BY: Needs(DIFFERENCE, _DEGREES),
        Turn.DRIFTING: Needs(DIFFERENCE, _PER_HOUR),
        Turn.FROZEN: _LASTS,
        Turn.IN_AIR: _LASTS,
    },
    Part.FAN: {Turn.DEAD: _LASTS, Turn.STUCK_ON: _LASTS},
    Part.CHILLER: {
        Turn.DEAD: _LASTS,
        Turn.WELDED: _LASTS,
        Turn.WEAKENED: Needs(SHARE, _A_SHARE),
        Turn.ENCLOSED: _LASTS,
    },
    Part.CUTOFF_RELAY: {Turn.WELDED: _LASTS},
    Part.LIGHTS: {Turn.ON: _LASTS, Turn.OFF: _LASTS, Turn.SHIFTED: Needs(DURATION, _A_DAY)},
    Part.CLOCK: {Turn.UNTRUSTED: _LASTS, Turn.WRONG_BY: Needs(DURATION, _CLOCK)},
    Part.POWER: {Turn.CUT: _LASTS, Turn.CUT_FROM_PI: _LASTS},
    Part.GUARD: {Turn.KILLED: _AT_ONCE, Turn.HUNG: _AT_ONCE, Turn.DEAD: _LASTS},
    Part.CUTOFF: {Turn.KILLED: _AT_ONCE, Turn.HUNG: _AT_ONCE, Turn.DEAD: _LASTS},
    Part.PUMPS: {Turn.STOPPED: _LASTS},
    Part.ROOM: {Turn.OPEN: _LASTS},
    Part.STAND: {Turn.OPEN: _LASTS},
    Part.TOP_OFF: {Turn.STOPPED: _LASTS},
    Part.WATER: {Turn.CHANGED: Needs(SHARE, _A_SHARE, momentary=True)},
    Part.PERSON: {Turn.RESETS_CUTOFF: _AT_ONCE},
}
