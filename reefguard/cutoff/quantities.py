"""Turn a single written value into what it means: temperatures, times, pins, names.  Pure.

Each function takes the text as it stands in the file and returns its meaning
in °C, seconds or GPIO numbers, or raises `Wrong` with why and how to mend it.
"""

import math
import re
from collections.abc import Callable
from typing import Final

_NUMBER = r"(-?(?:0|[1-9][0-9]{0,5})(?:\.[0-9]{1,6})?)"
_TEMPERATURE = re.compile(_NUMBER + r"\s*(?:°\s?)?([CF])")
_BARE = re.compile(_NUMBER)
_SPAN = re.compile(_NUMBER + r"\s*(s|min|h)")
_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}
_PIN = re.compile(r"(GPIO|header )(0|[1-9][0-9]?)")
_PROBE = re.compile(r"([0-9a-f]{2})-[0-9a-f]{12}")

HEADER_GPIO: Final = {
    3: 2, 5: 3, 7: 4, 8: 14, 10: 15, 11: 17, 12: 18, 13: 27, 15: 22, 16: 23, 18: 24, 19: 10, 21: 9, 22: 25,
    23: 11, 24: 8, 26: 7, 27: 0, 28: 1, 29: 5, 31: 6, 32: 12, 33: 13, 35: 19, 36: 16, 37: 26, 38: 20, 40: 21,
}  # fmt: skip
"""Position on the 40-pin header to GPIO; Raspberry Pi documentation, "GPIO and the 40-pin header"."""

PROBE_FAMILIES: Final = frozenset({"28", "22", "3b", "42"})
"""Chips with the DS18B20's register; Linux Documentation/w1/slaves/w1_therm.rst."""


class Wrong(Exception):  # noqa: N818  it is an answer, not a failure
    """A written value that does not mean what its key needs."""

    def __init__(self, why: str, mend: str) -> None:
        super().__init__(why)
        self.why = why
        self.mend = mend


def celsius(fahrenheit: float) -> float:
    """Turn a temperature in °F into °C."""
    return (fahrenheit - 32.0) * 5.0 / 9.0


def temperature(lowest_c: float, highest_c: float) -> Callable[[str], float]:
    """Return a reader of temperatures between two bounds, °C."""

    def read(text: str) -> float:
        number, unit = _number_and_unit(text)
        value_c = number if unit == "C" else celsius(number)
        if lowest_c <= value_c <= highest_c:
            return value_c
        band = (
            f"outside {lowest_c:g} °C to {highest_c:g} °C ({_in_f(lowest_c):g} °F to {_in_f(highest_c):g} °F)"
        )
        other = "F" if unit == "C" else "C"
        as_other_c = celsius(number) if other == "F" else number
        if lowest_c <= as_other_c <= highest_c:
            raise Wrong(band, f"did you mean {number:g} °{other}?")
        raise Wrong(band, "write the water temperature at which this tank has become too cold")

    return read


def difference(lowest_c: float, highest_c: float, mend: str) -> Callable[[str], float]:
    """Return a reader of temperature differences: 1 °F is 5/9 °C, without the 32."""

    def read(text: str) -> float:
        number, unit = _number_and_unit(text)
        value_c = number if unit == "C" else number * 5.0 / 9.0
        if not lowest_c <= value_c <= highest_c:
            raise Wrong(f"a difference of {value_c:g} °C, outside {lowest_c:g} °C to {highest_c:g} °C", mend)
        return value_c

    return read


def written_in_fahrenheit(text: str) -> bool:
    """Whether a temperature was written in °F."""
    return text.endswith("F")


def _number_and_unit(text: str) -> tuple[float, str]:
    found = _TEMPERATURE.fullmatch(text)
    if found is not None:
        return float(found[1]), found[2]
    if _BARE.fullmatch(text):
        raise Wrong("a temperature without its unit", f"write {text} °C or {text} °F, whichever is meant")
    raise Wrong("not a temperature", "write a number and its unit: 24.5 °C or 76 °F")


def _in_f(value_c: float) -> float:
    return value_c * 9.0 / 5.0 + 32.0


def span(lowest_s: float, highest_s: float, why: str) -> Callable[[str], float]:
    """Return a reader of times between two bounds, seconds; `why` says what the bounds are for."""

    def read(text: str) -> float:
        found = _SPAN.fullmatch(text)
        if found is None:
            bare = "a time without its unit" if _BARE.fullmatch(text) else "not a time"
            raise Wrong(bare, "write a number and its unit: 10 s, 5 min or 24 h")
        value_s = float(found[1]) * _SECONDS[found[2]]
        if not lowest_s <= value_s <= highest_s:
            raise Wrong(
                f"outside {written_span(lowest_s)} to {written_span(highest_s)}: {why}",
                f"write {written_span(lowest_s)} to {written_span(highest_s)}",
            )
        return value_s

    return read


def written_span(span_s: float) -> str:
    """Write a time as a person would.

    >>> [written_span(s) for s in (10, 90, 300, 86400, 59.6)]
    ['10 s', '90 s', '5 min', '24 h', '60 s']
    """
    rounded_s = math.ceil(span_s)
    for unit_s, unit in ((3600, "h"), (60, "min")):
        if rounded_s % unit_s == 0 and rounded_s > unit_s:
            return f"{rounded_s // unit_s} {unit}"
    return f"{rounded_s} s"


def count(lowest: int, highest: int) -> Callable[[str], int]:
    """Return a reader of whole numbers."""

    def read(text: str) -> int:
        if not re.fullmatch(r"0|[1-9][0-9]{0,5}", text):
            raise Wrong("not a whole number", f"write {lowest} to {highest}, without a unit")
        if not lowest <= int(text) <= highest:
            raise Wrong(f"outside {lowest} to {highest}", f"write {lowest} to {highest}")
        return int(text)

    return read


def gpio(text: str) -> int:
    """Read a pin, `GPIO23` or `header 16`, as its GPIO number."""
    found = _PIN.fullmatch(text)
    if found is None:
        if re.fullmatch(r"[0-9]{1,2}", text):
            raise Wrong(
                "a bare pin number means one pin to some and another to others",
                f"write GPIO{text} (the chip's number) or header {text} (the position on the header)",
            )
        raise Wrong("not a pin", "write GPIO23 or header 16")
    number = int(found[2])
    if found[1] == "GPIO":
        if number > 27:
            raise Wrong("the header has GPIO0 to GPIO27", "write the one the relay's input is wired to")
        return number
    if number not in HEADER_GPIO:
        raise Wrong(
            "this position is power, ground or not on the 40-pin header",
            "write a position that is a GPIO, such as header 16 (GPIO23)",
        )
    return HEADER_GPIO[number]


def active_high(text: str) -> bool:
    """Read a relay's polarity: whether a high level energises it."""
    if text not in {"active high", "active low"}:
        raise Wrong(
            "not a polarity",
            "write `active high` if a high level on its input energises the relay, else `active low`",
        )
    return text == "active high"


def probe(text: str) -> str:
    """Read the kernel's name of a 1-wire probe, `28-0123456789ab`."""
    found = _PROBE.fullmatch(text)
    if found is None:
        lower = text.lower()
        if _PROBE.fullmatch(lower):
            raise Wrong("the kernel writes it in small letters", f"write {lower}")
        raise Wrong(
            "not a probe's name: two hex digits, a hyphen, twelve hex digits",
            "copy it from the list that `ls /sys/bus/w1/devices` prints",
        )
    family = found[1]
    if family == "10":
        raise Wrong(
            "family 10 (DS18S20) keeps its temperature in another format, which the cutoff does not read",
            "use a DS18B20 (its name begins with 28) for the cutoff",
        )
    if family not in PROBE_FAMILIES:
        raise Wrong(
            f"family {family} is no temperature chip that the cutoff can read",
            "use a DS18B20 (its name begins with 28) for the cutoff",
        )
    return text


def directory(text: str) -> str:
    """Read an absolute path."""
    if not text.startswith("/") or "\0" in text:
        raise Wrong(
            "not an absolute path, so what it means depends on where the cutoff is started",
            "write the path from the root: /var/lib/reefguard-cutoff",
        )
    return text
