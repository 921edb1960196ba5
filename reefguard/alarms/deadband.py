"""The deadband of the water's alarms: a value must leave its limit behind before the alarm may return.

EEMUA 191 gives 1 % of the range as a starting value for temperatures: 0.15 K of the 20 to 35 degrees C a
reef's display spans, a little over two steps of a DS18B20; 0.2 K are taken here.
"""

from typing import Final

from reefguard.settings.model import FAR_OUTSIDE_C, SafeBand
from reefguard.vocabulary import WaterEstimate

DEADBAND_C: Final = 0.2


def held_by_deadband(water: WaterEstimate | None, band: SafeBand) -> frozenset[str]:
    """Return the alarms of the water whose value is still too near its limit for a return."""
    if water is None:
        return frozenset()
    held = []
    if water.warmest_c > band.high_c - DEADBAND_C:
        held.append("water high")
    if water.warmest_c > band.high_c + FAR_OUTSIDE_C - DEADBAND_C:
        held.append("water far too high")
    if water.coldest_c < band.low_c + DEADBAND_C:
        held.append("water low")
    if water.coldest_c < band.low_c - FAR_OUTSIDE_C + DEADBAND_C:
        held.append("water far too low")
    return frozenset(held)
