"""Two-position control that cools, with a differential: the one definition of it."""

from reefguard.settings.model import CutPoints


def calls(water_c: float, cut: CutPoints, *, before: bool) -> bool:
    """Return whether cooling is called for.

    On at or above the cut-in, off at or below the cut-out; between the two it
    stays as it was.
    """
    if water_c >= cut.cut_in_c:
        return True
    if water_c <= cut.cut_out_c:
        return False
    return before
