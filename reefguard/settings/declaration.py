"""How a key of the settings file is declared."""

from dataclasses import dataclass
from enum import Enum
from typing import TypeAlias

from reefguard.settings.kinds import PIN, Kind, choice, quantity
from reefguard.settings.quantities import DIFFERENCE, DURATION, Bounds, Measure


class Presence(Enum):
    """What it means when a key is not there."""

    REQUIRED = "it must be given"
    OPTIONAL = "there is no such thing"
    IMPLIED = "its defaults hold"


@dataclass(frozen=True, slots=True)
class Field:
    """A key with one value (or, with `many`, a list of such values).

    Attributes:
        says: what it is, for the schema.
        default: what holds when the key is not there, as it would be written.
    """

    key: str
    kind: Kind
    says: str
    default: str | None = None
    required: bool = False
    many: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """A key with keys of its own."""

    key: str
    says: str
    parts: tuple["Part", ...]
    presence: Presence = Presence.OPTIONAL


@dataclass(frozen=True, slots=True)
class Named:
    """A key whose keys are names the keeper gives; each name has the same parts."""

    key: str
    says: str
    parts: tuple["Part", ...]
    noun: str
    reserved: tuple[str, ...] = ()
    presence: Presence = Presence.REQUIRED


Part: TypeAlias = Field | Section | Named


def time_kind(low_s: float, high_s: float, too_short: str, too_long: str, advice: str = "") -> Kind:
    """Return the kind of a length of time, with what is wrong with less and with more."""
    bounds = Bounds(low_s, high_s, too_short, too_long, advice or "write a time in range")
    return quantity(DURATION, bounds)


def step_kind(
    low_c: float, high_c: float, too_small: str, too_large: str, measure: Measure = DIFFERENCE
) -> Kind:
    """Return the kind of a temperature step (or rate), with what is wrong with less and with more."""
    return quantity(measure, Bounds(low_c, high_c, too_small, too_large))


def sensed(key: str, says: str) -> Section:
    """Return the section of an input that senses a contact."""
    pin = Field("pin", PIN, "Pulled to 3.3 V or to ground, never higher.", required=True)
    active = Field(
        "active", choice({"high": True, "low": False}), "The level that means yes.", default="high"
    )
    return Section(key, says, (pin, active))
