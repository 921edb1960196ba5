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


def followed(wish: Wish | None, water: WaterEstimate | None, band: SafeBand) -> Wish | None:
    """Return the wish if it may be followed.

    One that stills an output is not while the water is too warm, or is not known.
    """
    if wish is not None and not wish.on and (water is None or water.warmest_c > band.high_c):
        return None
    return wish


def why(wish: Wish) -> Why:
    """Return the wish as the reason of a demand."""
    return Why(Reason.ASKED_ON if wish.on else Reason.ASKED_OFF, until_s=wish.until_s, detail=wish.who)
