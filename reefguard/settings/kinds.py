"""What one value of the file may be: how it is read, and how an editor can check it."""

import difflib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from reefguard.settings import pins
from reefguard.settings.quantities import (
    NUMBER,
    TEMPERATURE,
    WATER,
    Bounds,
    Measure,
    MisreadError,
    water_temperature,
)
from reefguard.settings.yaml_nodes import Scalar

# The names a keeper gives to probes and fans: they become file names, topics and words in alerts.
NAME = "^[A-Za-z][A-Za-z0-9_-]{0,23}$"
# The 1-wire families the kernel's w1_therm reads (Documentation/w1/slaves/w1_therm.rst).
_FAMILIES = ("10", "22", "28", "3b", "42")
_ROM_ID = f"^(?:{'|'.join(_FAMILIES)})-[0-9a-f]{{12}}$"
_PATH = r"^/[^\u0000-\u001f\u007f]+$"
_TIME = "^(?:[01][0-9]|2[0-3]):[0-5][0-9]$"
_UTC = "^UTC[+-](?:0[0-9]|1[0-4]):[0-5][0-9]$"
_LONGEST_TEXT = 60


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of value.

    Attributes:
        example: how one is written.
        read: turns what was written into a value, or raises `MisreadError`.
        schema: what JSON Schema says of it.
        bounds: the range as a phrase, or nothing.
    """

    example: str
    read: Callable[[Scalar], object]
    schema: Mapping[str, object]
    bounds: str = ""


def quantity(measure: Measure, bounds: Bounds) -> Kind:
    """Return the kind of a quantity within bounds."""

    def read(scalar: Scalar) -> float:
        return bounds.admit(measure.read(scalar.text), measure)

    schema = {"type": "string", "pattern": measure.pattern()}
    return Kind(measure.example, read, schema, bounds.words(measure))


def water(example: str) -> Kind:
    """Return the kind of a temperature of the tank."""
    schema = {"type": "string", "pattern": TEMPERATURE.pattern()}
    return Kind(example, lambda scalar: water_temperature(scalar.text), schema, WATER.words(TEMPERATURE))


def choice(words: Mapping[str, object], refused: Mapping[str, tuple[str, str]] | None = None) -> Kind:
    """Return the kind of a choice among words.

    Args:
        words: what each word means.
        refused: words that make sense and are not allowed: why, and how to mend it.
    """
    not_here = refused or {}

    def read(scalar: Scalar) -> object:
        if scalar.text in words:
            return words[scalar.text]
        if scalar.text in not_here:
            raise MisreadError(*not_here[scalar.text])
        near = _nearest(scalar.text, words)
        mend = f"did you mean `{near}`?" if near else "write " + " or ".join(f"`{word}`" for word in words)
        raise MisreadError("no such choice", mend)

    return Kind(next(iter(words)), read, {"type": "string", "enum": list(words)})


def _nearest(text: str, words: Mapping[str, object]) -> str | None:
    near = difflib.get_close_matches(text.casefold(), list(words), n=1, cutoff=0.7)
    return near[0] if near else None


def word_or(word: str, means: object, kind: Kind) -> Kind:
    """Return `kind`, or else one word with a meaning of its own."""

    def read(scalar: Scalar) -> object:
        if scalar.text == word:
            return means
        try:
            return kind.read(scalar)
        except MisreadError as misread:
            raise MisreadError(misread.why, f"{misread.mend}, or `{word}`") from None

    return Kind(kind.example, read, {"anyOf": [{"enum": [word]}, kind.schema]}, kind.bounds)


def _read_truth(scalar: Scalar) -> bool:
    if scalar.plain and scalar.text in {"true", "false"}:
        return scalar.text == "true"
    meant = {"yes": "true", "on": "true", "true": "true", "no": "false", "off": "false", "false": "false"}
    likely = meant.get(scalar.text.casefold())
    raise MisreadError("neither true nor false", f"write `{likely}`" if likely else "write `true` or `false`")


def _read_text(scalar: Scalar) -> str:
    if scalar.plain and re.fullmatch(rf"true|false|{NUMBER}", scalar.text):
        raise MisreadError("a text is wanted here", f'put it in quotes: `"{scalar.text}"`')
    if not scalar.text.isprintable() or len(scalar.text) > _LONGEST_TEXT:
        raise MisreadError(
            "not one short line of text", f"write at most {_LONGEST_TEXT} characters on one line"
        )
    return scalar.text


def _read_path(scalar: Scalar) -> str:
    if not scalar.text.startswith("/"):
        raise MisreadError(
            "not a whole path: it would depend on where the program was started", "begin it with `/`"
        )
    if not re.fullmatch(_PATH, scalar.text) or ".." in scalar.text.split("/"):
        raise MisreadError("no path to keep anything in", "write the whole path, without `..`")
    return scalar.text


def _read_rom_id(scalar: Scalar) -> str:
    text = scalar.text
    if re.fullmatch(_ROM_ID, text):
        return text
    if re.fullmatch(_ROM_ID, text.lower()):
        raise MisreadError("the kernel writes these with small letters", f"write `{text.lower()}`")
    if family := re.fullmatch(r"([0-9a-f]{2})-[0-9a-f]{12}", text):
        why = f"family {family.group(1)} is no thermometer the kernel reads ({', '.join(_FAMILIES)})"
        raise MisreadError(why, "take the name of the probe's directory in /sys/bus/w1/devices")
    why = "not a 1-wire id: family, a hyphen and 12 hexadecimal digits"
    raise MisreadError(why, "take the name of the probe's directory in /sys/bus/w1/devices")


def _read_time_of_day(scalar: Scalar) -> int:
    if re.fullmatch(_TIME, scalar.text):
        hours, minutes = scalar.text.split(":")
        return int(hours) * 3600 + int(minutes) * 60
    mend = "write hours and minutes of 24: `08:30`, `20:00`"
    if re.fullmatch(_TIME, f"0{scalar.text}"):
        mend = f"write `0{scalar.text}`"
    raise MisreadError("not a time of day", mend)


def _read_utc_offset(scalar: Scalar) -> int:
    if re.fullmatch(_UTC, scalar.text):
        seconds = _read_time_of_day(Scalar(scalar.text[4:], plain=True, place=scalar.place))
        if seconds <= 14 * 3600:  # the furthest of any time zone (tz database: Pacific/Kiritimati)
            return seconds if scalar.text[3] == "+" else -seconds
    raise MisreadError("not an offset from UTC", "write it like `UTC+01:00`, up to 14 hours")


TRUTH = Kind("true", _read_truth, {"type": "boolean"})
TEXT = Kind("North reef", _read_text, {"type": "string", "minLength": 1, "maxLength": _LONGEST_TEXT})
PATH = Kind("/var/lib/reefguard", _read_path, {"type": "string", "pattern": _PATH})
ROM_ID = Kind("28-000000000101", _read_rom_id, {"type": "string", "pattern": _ROM_ID})
LIGHTS_ON = Kind("10:00", _read_time_of_day, {"type": "string", "pattern": _TIME})
LIGHTS_OFF = replace(LIGHTS_ON, example="20:00")
UTC_OFFSET = Kind("UTC+01:00", _read_utc_offset, {"type": "string", "pattern": _UTC})


def _read_pin(scalar: Scalar) -> int:
    return pins.read_pin(scalar.text)


PIN = Kind("GPIO17", _read_pin, {"type": "string", "pattern": pins.PATTERN})
