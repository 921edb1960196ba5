"""One offset for a probe, found beside a reference thermometer where it matters.

A DS18B20 is within 0.5 °C between -10 and 85 °C (data sheet 19-7487 Rev 6);
one that is off by more than 1 °C is not worn in but broken, or no DS18B20.
The error is not the same everywhere, so an offset is found between 25 and
27 °C, where the tank is held, and the ice point only tells whether the probe
is a thermometer at all.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple

COOLEST_C: Final = 25.0
WARMEST_C: Final = 27.0
LARGEST_OFFSET_C: Final = 1.0
IN_SPEC_C: Final = 0.5

# How long the water must have been steady, and how steady: two steps of the probe (common practice).
STEADY_FOR_S: Final = 120.0
STEADY_WITHIN_C: Final = 0.125
_FEWEST: Final = 8

# A probe that is off by an offset of up to 1 °C, and half a degree beside: farther from 0 °C than this it
# is no DS18B20 in order.  Cheap copies were found off by up to 3.5 °C there (C. Petrich,
# counterfeit_DS18B20, CC BY).
_ICE_WITHIN_C: Final = 1.0


class Sampled(NamedTuple):
    """One raw reading: when, boot clock, and what."""

    at_s: float
    raw_c: float


class Steady(NamedTuple):
    """What a probe read while the water was steady: the mean, how far apart, how many."""

    mean_c: float
    spread_c: float
    readings: int


class NotYet(NamedTuple):
    """The water is not steady, or has not been watched for long enough, and why."""

    why: str


class Refused(NamedTuple):
    """No offset comes of it: why, what to do, and whether that is the probe's fault."""

    why: str
    mend: str
    broken: bool = False


class Found(NamedTuple):
    """An offset, to hundredths, and a word of caution where one is due."""

    offset_c: float
    caution: str = ""


def steadiness(samples: Sequence[Sampled], now_s: float) -> Steady | NotYet:
    """Return whether the water has been steady until now.

    Args:
        samples: in the order of their times.
        now_s: boot clock.
    """
    lately = [one for one in samples if now_s - one.at_s <= STEADY_FOR_S]
    if not samples or samples[0].at_s > now_s - STEADY_FOR_S or len(lately) < _FEWEST:
        return NotYet("watched for too short a time")
    values_c = [one.raw_c for one in lately]
    spread_c = max(values_c) - min(values_c)
    if spread_c > STEADY_WITHIN_C:
        return NotYet(f"it moved by {spread_c:.2f} °C in 2 min")
    return Steady(sum(values_c) / len(values_c), spread_c, len(values_c))


def offset(raw: Steady, reference_c: float) -> Found | Refused:
    """Return the offset that makes the probe read as the reference does."""
    if not COOLEST_C <= reference_c <= WARMEST_C:
        return Refused(
            f"the reference reads {reference_c:.2f} °C, and an offset holds near where it was found",
            "bring the water to 25 to 27 °C, where the tank is held, and calibrate then",
        )
    found_c = round(reference_c - raw.mean_c, 2)
    if abs(found_c) > LARGEST_OFFSET_C:
        return Refused(
            f"the probe is off by {-found_c:+.2f} °C: the data sheet allows 0.5 °C, and no offset mends that",
            "see that both hang in the same moving water; if they do, replace the probe",
            broken=True,
        )
    if abs(found_c) > IN_SPEC_C:
        return Found(
            found_c, "more than the 0.5 °C of the data sheet: compare once more, and think of replacing it"
        )
    return Found(found_c)


def ice_point(raw_c: float, offset_c: float) -> str:
    """Return what is wrong with a probe by what it reads in melting ice, "" if nothing is.

    Args:
        raw_c: in crushed ice and water, stirred; pure, for salt melts colder.
        offset_c: as found at 25 to 27 °C.
    """
    corrected_c = raw_c + offset_c
    if abs(corrected_c) <= _ICE_WITHIN_C:
        return ""
    return f"in melting ice it reads {corrected_c:+.2f} °C with its offset, where 0 °C is right"
