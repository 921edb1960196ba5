"""Quantities with their unit, read exactly and shown again.

A number without a unit is refused: 26 could be a tank in Celsius, and 78 the
same tank in Fahrenheit.  Conversions are done in fractions and rounded once,
to the nearest float.  Temperatures follow NIST SP 811 (2008), appendix B.8:
t/°C = (t/°F - 32)/1.8; a temperature *difference* has no 32 in it.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

# No leading zeros (to some, octal), no exponent, no underscore, no infinity.
NUMBER = r"[+-]?(?:0|[1-9][0-9]{0,8})(?:\.[0-9]{1,9})?"
_QUANTITY = re.compile(rf"({NUMBER})[ \u00a0]*((?:[^\W\d_]|[°%/])\S*)")
_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")


class MisreadError(Exception):
    """What was written cannot be taken: why, and how to mend it."""

    def __init__(self, why: str, mend: str) -> None:
        super().__init__(why, mend)
        self.why = why
        self.mend = mend


@dataclass(frozen=True, slots=True)
class Scale:
    """One unit: its zero (in itself) and its size (in the base unit)."""

    size: Fraction = Fraction(1)
    zero: Fraction = Fraction(0)

    def to_base(self, number: Fraction) -> Fraction:
        """Return `number` of this unit in the base unit."""
        return (number - self.zero) * self.size

    def from_base(self, value: Fraction) -> Fraction:
        """Return a value of the base unit in this unit."""
        return value / self.size + self.zero


@dataclass(frozen=True, slots=True)
class Measure:
    """A kind of quantity: its units, the base unit first.

    Attributes:
        noun: what it is called in a sentence.
        example: how one is written.
        units: by the word they are written with; the first is what values are shown in.
        below: how to say that one value is less than another.
        above: how to say that one value is more than another.
    """

    noun: str
    example: str
    units: Mapping[str, Scale]
    below: str = "below"
    above: str = "above"

    def read(self, text: str) -> float:
        """Return the quantity in the base unit.

        Raises:
            MisreadError: it is no plain number with one of the units.
        """
        parts = _QUANTITY.fullmatch(text)
        if parts is None:
            raise self._misread(text)
        number, unit = parts.groups()
        if unit not in self.units:
            units = " or ".join(f"`{number} {known}`" for known in self.units)
            raise MisreadError(f"`{unit}` is no unit of {self.noun}", f"write {units}")
        return float(self.units[unit].to_base(Fraction(number)))

    def _misread(self, text: str) -> MisreadError:
        if re.fullmatch(NUMBER, text):
            return MisreadError("a bare number; its unit is missing", f"write `{text} {self._first_unit}`")
        if comma := _COMMA.match(text):
            rest = text[comma.end() :] or f" {self._first_unit}"
            pointed = comma.group().replace(",", ".") + rest
            return MisreadError("a decimal comma; numbers have a decimal point", f"write `{pointed}`")
        return MisreadError(f"not {self.noun}: a plain number and a unit", f"write it like `{self.example}`")

    @property
    def _first_unit(self) -> str:
        return next(iter(self.units))

    def show(self, value: float) -> str:
        """Return the value as it would be written, in the largest unit that gives a whole number.

        >>> DURATION.show(5400.0), DURATION.show(86400.0), DIFFERENCE.show(0.5)
        ('90 min', '24 h', '0.5 °C')
        """
        exact = Fraction(value)
        for unit in reversed(list(self.units)):
            counted = self.units[unit].from_base(exact)
            if self.units[unit].size > 1 and counted >= 1 and counted.denominator == 1:
                return f"{counted} {unit}"
        number = float(self.units[self._first_unit].from_base(exact))
        return f"{number:.4f}".rstrip("0").rstrip(".") + f" {self._first_unit}"

    def pattern(self) -> str:
        """Return the regular expression (ECMA 262) of all this measure reads, for editors."""
        return rf"^{NUMBER}[ \u00a0]*(?:{'|'.join(self.units)})$"


_CELSIUS = Scale()
_FAHRENHEIT = Scale(size=Fraction(5, 9), zero=Fraction(32))
_FAHRENHEIT_STEP = Scale(size=Fraction(5, 9))
_MINUTE = Scale(size=Fraction(60))

TEMPERATURE = Measure(
    "a temperature",
    "26.5 °C",
    {"°C": _CELSIUS, "°F": _FAHRENHEIT, "C": _CELSIUS, "F": _FAHRENHEIT},
)
DIFFERENCE = Measure(
    "a temperature difference",
    "0.5 °C",
    {"°C": _CELSIUS, "°F": _FAHRENHEIT_STEP, "C": _CELSIUS, "F": _FAHRENHEIT_STEP},
)
RATE = Measure(
    "a rate of change",
    "1 °C/min",
    {"°C/min": _CELSIUS, "°F/min": _FAHRENHEIT_STEP, "C/min": _CELSIUS, "F/min": _FAHRENHEIT_STEP},
)
DURATION = Measure(
    "a length of time",
    "5 min",
    {"s": Scale(), "min": _MINUTE, "h": Scale(size=Fraction(3600))},
    below="shorter than",
    above="longer than",
)
DAYS = Measure("a number of days", "90 days", {"days": Scale()}, below="shorter than", above="longer than")
CURRENT = Measure("a current", "3.8 A", {"A": Scale()})
FREQUENCY = Measure("a frequency", "100 Hz", {"Hz": Scale(), "kHz": Scale(size=Fraction(1000))})
SHARE = Measure("a share", "30 %", {"%": Scale(size=Fraction(1, 100))})


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a quantity may be, in its base unit, and why not less or more.

    Attributes:
        too_low: what is wrong with less than `low`.
        too_high: what is wrong with more than `high`.
        advice: what to do about it.
    """

    low: float
    high: float
    too_low: str
    too_high: str
    advice: str = "write a value in range"

    def admit(self, value: float, measure: Measure) -> float:
        """Return `value`.

        Raises:
            MisreadError: it is out of bounds.
        """
        mend = f"{self.advice} ({self.words(measure)})"
        if value < self.low:
            raise MisreadError(f"{measure.below} {measure.show(self.low)}: {self.too_low}", mend)
        if value > self.high:
            raise MisreadError(f"{measure.above} {measure.show(self.high)}: {self.too_high}", mend)
        return value

    def words(self, measure: Measure) -> str:
        """Return the bounds as a phrase: `3 min to 60 min`."""
        return f"{measure.show(self.low)} to {measure.show(self.high)}"


# Wider than any tropical marine tank is kept, narrower than a mistaken unit can reach.
# NOAA NOS, "In what types of water do corals live?": 23-29 °C for many, not below 18 °C.
WATER = Bounds(
    15.0,
    35.0,
    too_low="no tropical marine tank is kept so cool",
    too_high="no tropical marine tank is kept so warm",
)


def water_temperature(text: str) -> float:
    """Return a temperature of a tropical marine tank, °C.

    Raises:
        MisreadError: it is no temperature, or none that such a tank can have; where the other
            scale would make sense of the number, the mend says so.
    """
    bare = re.fullmatch(NUMBER, text)
    number = text if bare else _number_of(text)
    sense = _sensible(number) if number else ""
    try:
        return WATER.admit(TEMPERATURE.read(text), TEMPERATURE)
    except MisreadError as misread:
        if bare:
            mend = f"write {sense}" if sense else f"write `{text} °C` or `{text} °F`"
            raise MisreadError("a bare number; is it °C or °F?", mend) from None
        if sense:
            raise MisreadError(misread.why, f"did you mean {sense}?") from None
        raise


def _number_of(text: str) -> str | None:
    parts = _QUANTITY.fullmatch(text)
    return None if parts is None else parts.group(1)


def _sensible(number: str) -> str:
    """Return the number with the scale that makes it a tank's temperature, or nothing."""
    for unit in ("°C", "°F"):
        celsius = float(TEMPERATURE.units[unit].to_base(Fraction(number)))
        if WATER.low <= celsius <= WATER.high:
            return f"`{number} {unit}`" + (f" ({celsius:.1f} °C)" if unit == "°F" else "")
    return ""
