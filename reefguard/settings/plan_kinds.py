"""Kinds of values that only a tank plan has."""

import re
from dataclasses import dataclass
from fractions import Fraction

from reefguard.settings.kinds import Kind
from reefguard.settings.plan_model import Price
from reefguard.settings.plan_quantities import POWER, SALINITY
from reefguard.settings.quantities import NUMBER, Bounds, MisreadError
from reefguard.settings.yaml_nodes import Scalar

_SALTY = Bounds(
    30.0, 40.0, "no reef lives in water so thin, and the model was not checked", "the model was not checked"
)
# A specific gravity, as hydrometers show it.
_GRAVITY = (Fraction(1), Fraction("1.05"))

# What a bare "hp" label of a small chiller stands for; common practice, 30 % either way.
W_PER_LABEL_HP = 2_600
_HP = re.compile(r"([1-9][0-9]?)/([1-9][0-9]?) ?hp|((?:0|[1-9][0-9]?)(?:\.[0-9]{1,3})?) ?hp")
_HP_PATTERN = r"(?:[1-9][0-9]?/[1-9][0-9]?|(?:0|[1-9][0-9]?)(?:\.[0-9]{1,3})?) ?hp"
_COOLING = Bounds(20.0, 50_000.0, "no chiller is so small", "no chiller for a tank is so large")

_PRICE = re.compile(rf"({NUMBER}) ?([A-Z]{{3}})/kWh")
_COUNT = "^(?:0|[1-9][0-9]?)$"
_MOST_FANS = 20
_FILE = r"^[^\u0000-\u001f\u007f]{1,200}$"


@dataclass(frozen=True, slots=True)
class Cooling:
    """A chiller's capacity, and whether it was read off a bare horsepower label."""

    capacity_w: float
    from_label_hp: bool


def _read_salinity(scalar: Scalar) -> float:
    text = scalar.text
    if re.fullmatch(NUMBER, text):
        if _GRAVITY[0] <= Fraction(text) <= _GRAVITY[1]:
            raise MisreadError(
                "that looks like a specific gravity, which depends on the hydrometer",
                "write the salinity: `35` (a specific gravity of about 1.026)",
            )
        text = f"{text} ppt"
    return _SALTY.admit(SALINITY.read(text), SALINITY)


def _read_cooling(scalar: Scalar) -> Cooling:
    label = _HP.fullmatch(scalar.text)
    if label is None:
        return Cooling(_COOLING.admit(POWER.read(scalar.text), POWER), from_label_hp=False)
    over, under, decimal = label.groups()
    horsepower = Fraction(decimal) if decimal else Fraction(int(over), int(under))
    return Cooling(_COOLING.admit(float(horsepower * W_PER_LABEL_HP), POWER), from_label_hp=True)


def _read_price(scalar: Scalar) -> Price:
    parts = _PRICE.fullmatch(scalar.text)
    if parts is None or parts.group(1).startswith("-"):
        why = "not a price: a number, three letters for the currency, `/kWh`"
        raise MisreadError(why, "write it like `0.32 EUR/kWh`")
    return Price(float(parts.group(1)), parts.group(2))


def _read_count(scalar: Scalar) -> int:
    if not re.fullmatch(_COUNT, scalar.text) or int(scalar.text) > _MOST_FANS:
        raise MisreadError("not a count of fans", f"write a whole number from 0 to {_MOST_FANS}: `2`")
    return int(scalar.text)


def _read_file(scalar: Scalar) -> str:
    if not scalar.text.isprintable() or not re.fullmatch(_FILE, scalar.text):
        raise MisreadError("no name of a file", "write the file's name as it lies beside this one")
    return scalar.text


def _matching(*patterns: str) -> dict[str, object]:
    return {"type": "string", "pattern": "|".join(patterns)}


SALT = Kind(
    "35",
    _read_salinity,
    # Bare, an editor sees a number; in quotes, a text.
    {"anyOf": [{"type": "number"}, _matching(f"^{NUMBER}$", SALINITY.pattern())]},
    "30 to 40",
)
COOLING = Kind("500 W", _read_cooling, _matching(POWER.pattern(), f"^{_HP_PATTERN}$"), _COOLING.words(POWER))
PRICE = Kind("0.32 EUR/kWh", _read_price, _matching(rf"^{NUMBER} ?[A-Z]{{3}}/kWh$"))
FAN_COUNT = Kind(
    "2",
    _read_count,
    {"anyOf": [{"type": "integer", "minimum": 0, "maximum": _MOST_FANS}, _matching(_COUNT)]},
)
FILE_NAME = Kind("summer.csv", _read_file, {"type": "string", "pattern": _FILE})
