"""The nouns of the program, shared by every layer.

Temperatures are degrees Celsius (`_c`), times are seconds of the boot-time
clock (`_s`), levels are shares from 0 (off) to 1 (full).  Absence is a type
of its own, never a number.  This module imports nothing of ours.

What a tick makes anew is a `NamedTuple`: as immutable as a frozen dataclass,
and made in a quarter of the time.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from typing import NamedTuple, TypeAlias


class Cause(Enum):
    """What is wrong with a probe, or with one of its readings, in words."""

    NONE = "in order"
    # The wire gave no number.
    ABSENT = "no such probe on the 1-wire bus"
    EMPTY = "the kernel's file is empty: the probe did not answer"
    CRC = "the checksum does not match: the line is disturbed"
    ZEROS = "all bytes are zero: the data line is shorted"
    MALFORMED = "the file is not in the kernel's format"
    UNREADABLE = "the file cannot be read"
    NO_ANSWER = "the read did not come back in time: the bus hangs"
    NOT_YET = "not read yet"
    # The wire gave a number that is no water temperature.
    POWER_ON = "85.000 °C, which the chip holds until it has measured"
    UNCONVERTED = "127.9375 °C, which the chip gives after a failed conversion"
    OUT_OF_RANGE = "outside what water in a tank can be"
    TOO_FAST = "changed faster than water can"
    FROZEN = "has not changed at all for too long"
    PROVING = "must stay in order for a while before it is trusted"
    STALE = "no good reading for too long"
    ODD_ONE_OUT = "disagrees with the other probes, which agree among themselves"
    DISAGREES = "the probes disagree"


class Sampled(NamedTuple):
    """The wire gave a number: raw, not yet believed."""

    raw_c: float
    at_s: float


class Missed(NamedTuple):
    """The wire gave no number, and why."""

    cause: Cause
    at_s: float


RawSample: TypeAlias = Sampled | Missed


class Quality(Enum):
    """How far a reading is trusted; the words are those of QARTOD (NOAA IOOS)."""

    PASS = "pass"  # noqa: S105  the standard's word, not a password
    SUSPECT = "suspect"
    NOT_EVALUATED = "not evaluated"
    FAIL = "fail"
    MISSING = "missing"


class Trusted(NamedTuple):
    """A probe whose last good value may be used; `at_s` says when it was measured."""

    probe: str
    water_c: float
    at_s: float
    quality: Quality
    cause: Cause


class Distrusted(NamedTuple):
    """A probe that must not be used, and why.

    `raw_c` is what it shows all the same, calibrated: for a person's eyes, and
    where `may_warn_of_cold`, for stopping the chiller, never for starting it.
    """

    probe: str
    raw_c: float | None
    quality: Quality
    cause: Cause

    @property
    def may_warn_of_cold(self) -> bool:
        """Whether the number may be right: plausible in itself, only not yet believed."""
        return self.cause in (Cause.TOO_FAST, Cause.PROVING)


Reading: TypeAlias = Trusted | Distrusted


class WaterEstimate(NamedTuple):
    """What the trusted probes say together.

    The warmest speaks for the fans, the coldest for the chiller.  `at_s` is
    the time of the oldest reading it rests on.
    """

    warmest_c: float
    warmest_probe: str
    coldest_c: float
    coldest_probe: str
    at_s: float


class Mode(Enum):
    """How the outputs are decided."""

    AUTOMATIC = "automatic"
    SCHEDULE = "schedule"


class Wall(NamedTuple):
    """The wall clock: local time with its offset, and whether it is known to be right."""

    local: datetime
    trusted: bool


@dataclass(frozen=True, slots=True)
class RoomAir:
    """The air over the tank; either value may be missing.

    Attributes:
        air_c: dry-bulb temperature.
        relative_humidity: share of saturation, 0 to 1.
        at_s: when both were measured (the older of the two).
    """

    air_c: float | None
    relative_humidity: float | None
    at_s: float


class CutoffReport(NamedTuple):
    """What the separate cutoff last said of itself.

    Attributes:
        at_s: when it said so.
        proof_test_since_s: since when its contact has been open for a proof test, if it is.
    """

    state: str
    permits: bool
    why: str
    at_s: float
    proof_test_since_s: float | None = None


class ProofTests(NamedTuple):
    """What is on record of proof tests of the cutoff, by the wall clock.

    Attributes:
        passed: when the last one was passed, if one ever was.
        failed: when the latest one failed; `None` unless none was passed since.
    """

    passed: datetime | None = None
    failed: datetime | None = None


class Wish(NamedTuple):
    """What a person at the tank asks of one output, for a while.

    It stands in the place of what the water or the lights want, and nowhere
    else: every hold and every rest outranks it.

    Attributes:
        output: its name in the settings.
        on: what it shall be.
        who: the person's user name.
        until_s: when it ends by itself, boot clock.
    """

    output: str
    on: bool
    who: str
    until_s: float


class Inputs(NamedTuple):
    """All that one tick may know of the world.

    A sensed input is `None` when it is not wired or could not be read;
    `cutoff` is `None` when no report of this boot can be read, `proof_tests`
    when nobody keeps a record (in a rehearsal), `wish` when no person asks for
    anything.
    """

    now_s: float
    wall: Wall
    samples: Mapping[str, RawSample]
    room: RoomAir | None = None
    lights_sensed: bool | None = None
    chiller_running: bool | None = None
    flow: bool | None = None
    cutoff: CutoffReport | None = None
    proof_tests: ProofTests | None = None
    wish: Wish | None = None


class Reason(Enum):
    """Why an output is as it is.  `control.words` puts each into a sentence."""

    # Demands, from the water.
    WARM = "warm"
    COOL_ENOUGH = "cool enough"
    STILL_COOLING = "still cooling"
    NOT_WARM = "not warm"
    # Demands, without the water.
    LIGHTS_ON = "lights on"
    AFTER_RUN = "after-run"
    LIGHTS_OFF = "lights off"
    TIME_UNKNOWN_RUN = "time unknown, runs"
    TIME_UNKNOWN_REST = "time unknown, rests"
    AWAITING_READING = "awaiting a reading"
    NO_TRUSTED_WATER = "no trusted water reading"
    # Demands, from a person.
    ASKED_ON = "a person asks for it to run"
    ASKED_OFF = "a person asks for it to rest"
    # Holds.
    MINIMUM_OFF = "minimum off time"
    START_TO_START = "start-to-start time"
    MINIMUM_ON = "minimum on time"
    COLD_WATER = "cold water"
    CUTOFF_HOLDS = "the cutoff holds"
    CUTOFF_SILENT = "the cutoff is silent"
    NO_FLOW = "no flow"
    OUT_OF_SERVICE = "out of service"
    WOULD_HEAT = "a fan would heat the water"


class Why(NamedTuple):
    """A reason with its numbers.

    Attributes:
        reason: which one.
        water_c: the reading that argued, if one did.
        limit_c: what it was held against.
        until_s: when the hold ends by itself, if it does.
        detail: a name or a phrase the sentence needs.
    """

    reason: Reason
    water_c: float | None = None
    limit_c: float | None = None
    until_s: float | None = None
    detail: str = ""


class Command(NamedTuple):
    """What one output shall be.

    Attributes:
        output: its name in the settings.
        level: 0 is off; 1 is on, or full speed.
        why: why it is so; for an output held off against a demand, the demand.
        blocked: what holds a demanded output off, or `None`.
    """

    output: str
    level: float
    why: Why
    blocked: Why | None = None

    @property
    def on(self) -> bool:
        """Whether anything turns."""
        return self.level > 0.0


class Severity(Enum):
    """How soon a person should look."""

    WARNING = "warning"
    CRITICAL = "critical"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a person should know about the running guard.

    Attributes:
        severity: how soon.
        name: stays the same while its numbers change, such as `water high`.
        what: the sentence, with its numbers.
        mend: what to do.
    """

    severity: Severity
    name: str
    what: str
    mend: str
