"""What the page says, as values: words, each with the shape that says the same without colour."""

from dataclasses import dataclass
from enum import Enum

from reefguard.link.page.gauge import Gauge
from reefguard.link.page.sight import Liveness


class Shape(Enum):
    """A shape that says the same as the word beside it; each is a symbol of the page's own."""

    WELL = "well"
    ABOVE = "above"
    BELOW = "below"
    UNKNOWN = "unknown"
    ALARM = "alarm"
    LOOK = "look"
    ON = "on"
    OFF = "off"
    HELD = "held"


@dataclass(frozen=True, slots=True)
class Said:
    """A shape, its word, and a sentence that explains both."""

    shape: Shape
    word: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class Named:
    """Something with a name: an output, a probe."""

    name: str
    said: Said
    more: str = ""


@dataclass(frozen=True, slots=True)
class AlarmSaid:
    """An alarm for a person."""

    shape: Shape
    name: str
    urgency: str
    state: str
    what: str
    means: str
    first: str
    since: str


@dataclass(frozen=True, slots=True)
class View:
    """All that the page says of one moment.

    Attributes:
        title: of the document: state, water, tank.
        spoken: how the tank stands, one sentence without numbers that change all the time.
        liveness: how far it is of now.
        loud: what is wrong with the knowledge itself; empty where it is live.
        condition: the tank in a word.
        water: the number, large; a dash where it is not known now.
        last_water: the last known one with its time, where `water` is none.
        place: where the water is, against the safe band.
        gauge: the same as a picture; `None` where there is nothing to draw.
        age: how old the reading is, in words.
        age_s: the same in seconds.
    """

    title: str
    tank: str
    spoken: str
    liveness: Liveness
    loud: str
    condition: Said
    water: str
    unit: str
    last_water: str
    place: Said
    band: str
    gauge: Gauge | None
    age: str
    age_s: float | None
    written: str
    alarms: tuple[AlarmSaid, ...]
    quiet_alarms: tuple[AlarmSaid, ...]
    findings: tuple[tuple[Said, str], ...]
    outputs: tuple[Named, ...]
    cutoff: Said
    lights: Said
    room: str
    mode: Said
    probes: tuple[Named, ...]
    coming: str
    proof_test: str
