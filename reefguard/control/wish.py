"""What a person asks of an output, and when that is not followed.

A wish replaces a demand.  What holds an output off, what lets a compressor
rest and what makes it run on all stand behind it, so no wish can start a
chiller over cold water or stop one before its minimum on time.
"""

from reefguard.settings.model import SafeBand
from reefguard.vocabulary import Reason, WaterEstimate, Why, Wish


def asked_of(output: str, wish: Wish | None, now_s: float) -> Wish | None:
    """Return the wish if it is about this output and has not ended."""
    if wish is None or wish.output != output or not now_s < wish.until_s:
        return None
    return wish


def may_still(warmest_c: float | None, high_c: float) -> bool:
    """Return whether an output may rest for a person: not over water that is too warm, or is not known.

    Args:
        warmest_c: the water, or `None`.
        high_c: the upper end of the safe band.
    """
    return warmest_c is not None and warmest_c <= high_c


def followed(wish: Wish | None, water: WaterEstimate | None, band: SafeBand) -> Wish | None:
    """Return the wish if it may be followed."""
    if wish is None or wish.on or may_still(None if water is None else water.warmest_c, band.high_c):
        return wish
    return None


def why(wish: Wish) -> Why:
    """Return the wish as the reason of a demand."""
    return Why(Reason.ASKED_ON if wish.on else Reason.ASKED_OFF, until_s=wish.until_s, detail=wish.who)
