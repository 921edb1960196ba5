"""Every key of a drill file, declared as those of the settings are."""

import re
from fractions import Fraction
from typing import Final

from reefguard.rehearsal.drills.drill import CutoffMust, Expected, Part, Turn
from reefguard.settings import declaration
from reefguard.settings.declaration import Field, Named, Presence, Section, step_kind, time_kind
from reefguard.settings.kinds import TEXT, TRUTH, Kind, choice, quantity, water
from reefguard.settings.quantities import SHARE, TEMPERATURE, Bounds, Measure, MisreadError, Scale
from reefguard.settings.yaml_nodes import Scalar

_LONGEST_S: Final = 370 * 86_400.0

DEGREE_HOURS = Measure(
    "degree-hours", "2 °C·h", {"°C·h": Scale(), "°F·h": Scale(size=Fraction(5, 9)), "C·h": Scale()}
)


def _read_count(scalar: Scalar) -> int:
    if not re.fullmatch("0|[1-9][0-9]{0,5}", scalar.text):
        raise MisreadError("not a count", "write a whole number: `6`")
    return int(scalar.text)


COUNT = Kind("6", _read_count, {"type": "integer", "minimum": 0})
_LINE = Kind("what happens, in a sentence", lambda scalar: _sentence(scalar.text), {"type": "string"})


def _sentence(text: str) -> str:
    if not text.isprintable() or len(text) > 300:
        raise MisreadError("not one line of text", "write at most 300 characters on one line")
    return text


# Of what measure it is, the turn says.
_AMOUNT = Kind("1 °C", lambda scalar: scalar.text, {"type": "string"})
_AFTER = time_kind(0.0, _LONGEST_S, "before the drill begins", "longer than any drill")
_SPAN = time_kind(1.0, _LONGEST_S, "shorter than a tick", "longer than any drill")
_OUTDOOR = quantity(TEMPERATURE, Bounds(-40.0, 55.0, "colder than any summer", "hotter than any summer"))
_HUMIDITY = quantity(SHARE, Bounds(0.0, 1.0, "drier than dry", "more than saturated"))
_STEP = step_kind(0.0, 20.0, "less than nothing", "further than a tank can go")

_EVENT: tuple[declaration.Part, ...] = (
    Field("part", choice({part.value: part for part in Part}), "To what it happens.", required=True),
    Field("is", choice({turn.value: turn for turn in Turn}), "What becomes of it.", required=True),
    Field("from", _AFTER, "When, after the drill begins.", required=True),
    Field("lasts", _SPAN, "For how long; to the end when it is not given."),
    Field("every", _SPAN, "How far apart its repetitions begin."),
    Field("times", COUNT, "How often, with `every`.", default="1"),
    Field(
        "which",
        TEXT,
        "Which probe or fan: a name, `first`, `last`, `every`, `cutoff's`, or `each` (a run for each).",
    ),
    Field("by", _AMOUNT, "How far or how much: `1 °C`, `60 min`, `30 %`."),
    Field("water", water("18 °C"), "The temperature of the new water in a water change."),
)

_LIMITS: tuple[declaration.Part, ...] = (
    Field("above_band", _STEP, "How far above the safe band the water may get."),
    Field("below_band", _STEP, "How far below."),
    Field("out_of_band", _AFTER, "For how long it may be outside."),
    Field(
        "degree_hours",
        quantity(DEGREE_HOURS, Bounds(0.0, 1e5, "less than none", "more than a tank survives")),
        "How far outside times how long.",
    ),
    Field("starts", COUNT, "Compressor starts in the whole run, at most."),
    Field("starts_in_an_hour", COUNT, "Compressor starts in any hour, at most."),
    Field("told", TEXT, "Findings that must be told.", many=True),
    Field("told_within", _SPAN, "How soon after the first event they must be told."),
    Field("quiet", TRUTH, "Nothing may be told at all.", default="false"),
    Field("cutoff_must", choice({must.value: must for must in CutoffMust}), "What the cutoff must do."),
    Field("chiller_rests", TRUTH, "The chiller must not run at all.", default="false"),
    Field(
        "check_says", choice({one.value: one for one in Expected}), "What `check` must say of the mistakes."
    ),
)

FILE: Final[tuple[declaration.Part, ...]] = (
    Field("says", _LINE, "What happens, in a sentence.", required=True),
    Field("lasts", _SPAN, "How long the drill lasts.", required=True),
    Field(
        "begins",
        Kind("06:00", lambda scalar: _time(scalar.text), {"type": "string"}),
        "The time of day it begins at.",
        default="06:00",
    ),
    Field("tick", time_kind(1.0, 60.0, "faster than a probe", "slower than trust"), "How often it ticks."),
    Field("water", water("26 °C"), "The water at the beginning."),
    Section(
        "weather",
        "The day outdoors; the plan's own design day when it is not given.",
        (
            Field("hottest", _OUTDOOR, "The day's hottest, in the shade."),
            Field("coolest", _OUTDOOR, "The day's coolest."),
            Field("humidity", _HUMIDITY, "Relative humidity at the hottest hour."),
            Field("file", TEXT, "Instead: a file with a series of hours; its hottest stretch is taken."),
        ),
    ),
    Named("events", "What happens, each under a name.", _EVENT, "event", presence=Presence.OPTIONAL),
    Field("mistakes", TEXT, "Mistakes in the guard's settings: `fans.cut_in = 25 °C`.", many=True),
    Field("cutoff_mistakes", TEXT, "Mistakes in the cutoff's limits file: `limit = 26.5 °C`.", many=True),
    Section("limits", "What the run is held to.", _LIMITS, Presence.REQUIRED),
)


def _time(text: str) -> int:
    if not re.fullmatch("(?:[01][0-9]|2[0-3]):[0-5][0-9]", text):
        raise MisreadError("not a time of day", "write hours and minutes of 24: `06:00`")
    return int(text[:2]) * 3_600 + int(text[3:]) * 60
