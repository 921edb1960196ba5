"""What a drill is: a stretch of weather, a hazard at set times, and limits to hold."""

from dataclasses import dataclass
from enum import Enum


class Part(Enum):
    """What something happens to."""

    PROBE = "probe"
    FAN = "fan"
    CHILLER = "chiller"
    CUTOFF_RELAY = "cutoff relay"
    LIGHTS = "lights"
    CLOCK = "clock"
    POWER = "power"
    GUARD = "guard"
    CUTOFF = "cutoff"
    PUMPS = "pumps"
    ROOM = "room"
    STAND = "stand"
    TOP_OFF = "top-off"
    WATER = "water"
    PERSON = "person"


class Turn(Enum):
    """What becomes of it."""

    # A probe: what the wire then gives.
    ABSENT = "absent"
    EMPTY = "empty"
    CHECKSUM = "checksum wrong"
    ZEROS = "all zeros"
    MALFORMED = "malformed"
    UNREADABLE = "unreadable"
    NO_ANSWER = "without answer"
    POWER_ON = "at its power-on value"
    UNCONVERTED = "unconverted"
    OUT_OF_RANGE = "out of range"
    OFF_BY = "off by"
    DRIFTING = "drifting"
    FROZEN = "frozen"
    IN_AIR = "in the air"
    # A machine.
    DEAD = "dead"
    STUCK_ON = "stuck on"
    WELDED = "welded"
    WEAKENED = "weakened to"
    ENCLOSED = "enclosed"
    # Lights and clock.
    ON = "on"
    OFF = "off"
    SHIFTED = "shifted by"
    UNTRUSTED = "untrusted"
    WRONG_BY = "wrong by"
    # Programs and power.
    CUT = "cut"
    CUT_FROM_PI = "cut from the Pi"
    KILLED = "killed"
    HUNG = "hung"
    # The place.
    OPEN = "open"
    STOPPED = "stopped"
    CHANGED = "changed"
    RESETS_CUTOFF = "resets the cutoff"


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happens, perhaps more than once.

    Attributes:
        name: as the drill's author calls it.
        part: to what.
        turn: what.
        from_s: when, after the drill begins.
        lasts_s: for how long; `None` is to the end.
        every_s: how far apart its repetitions begin; `None` is once.
        times: how often.
        which: which probe or fan: a name, `first`, `last`, `cutoff's`; `each` makes a run of its own for
            every one of the guard's, `every` means all of them.
        by: how far, how much: degrees, seconds or a share, as the turn has it.
        water_c: of the new water in a water change.
    """

    name: str
    part: Part
    turn: Turn
    from_s: float
    lasts_s: float | None = None
    every_s: float | None = None
    times: int = 1
    which: str = ""
    by: float = 0.0
    water_c: float | None = None


EACH, EVERY, CUTOFFS = "each", "every", "cutoff's"


class Expected(Enum):
    """What `check` is expected to say of the drill's mistake in the settings."""

    REFUSED = "refused"
    WARNED = "warned of"


class CutoffMust(Enum):
    """What the cutoff must do."""

    TRIP = "trip"
    HOLD = "hold off"
    STAY = "never trip"


@dataclass(frozen=True, slots=True)
class Bounds:
    """The limits a run is held to; `None` sets none.

    Attributes:
        above_band_c: how far above the safe band the water may get.
        below_band_c: how far below.
        out_of_band_s: for how long it may be outside.
        degree_hours: how far times how long.
        starts: compressor starts in the run.
        starts_in_an_hour: in any hour of it.
        told: findings that must be told.
        told_within_s: after the first event.
        quiet: nothing may be told once the guard has settled.
        cutoff: what the cutoff must do.
        chiller_rests: the chiller must not run.
        check: what the settings check must say.
    """

    above_band_c: float | None = None
    below_band_c: float | None = None
    out_of_band_s: float | None = None
    degree_hours: float | None = None
    starts: int | None = None
    starts_in_an_hour: int | None = None
    told: tuple[str, ...] = ()
    told_within_s: float | None = None
    quiet: bool = False
    cutoff: CutoffMust | None = None
    chiller_rests: bool = False
    check: Expected | None = None


@dataclass(frozen=True, slots=True)
class Outdoors:
    """The weather of a drill by three numbers; the humidity is that of the hottest hour."""

    hottest_c: float
    coolest_c: float
    relative_humidity: float


@dataclass(frozen=True, slots=True)
class WeatherSeries:
    """The weather of a drill from a file: its hottest stretch of the drill's length."""

    file: str


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill.

    Attributes:
        name: what it is called; the name of its file.
        says: what happens, in a sentence.
        lasts_s: how long.
        begins_s: at what time of day, seconds after midnight.
        weather: `None` is the plan's own design day.
        tick_s: how often the guard ticks; `None` is as in its settings.
        water_c: at the beginning; `None` is the middle of the control.
        events: what happens.
        mistakes: keys of the guard's settings and what stands there by mistake.
        cutoff_mistakes: the same for the cutoff's limits file.
        bounds: what the run is held to.
    """

    name: str
    says: str
    lasts_s: float
    begins_s: float
    bounds: Bounds
    weather: Outdoors | WeatherSeries | None = None
    tick_s: float | None = None
    water_c: float | None = None
    events: tuple[Event, ...] = ()
    mistakes: tuple[tuple[str, str], ...] = ()
    cutoff_mistakes: tuple[tuple[str, str], ...] = ()
