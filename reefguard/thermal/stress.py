"""Heat stress of corals, as the reef services of satellites count it.

Degree heating weeks say how far and how long the water was above the warmest
it usually gets.  Their thresholds (4: bleaching is likely; 8: severe bleaching
and death) are statistics of wild reefs under satellites: no promise for the
animals of a tank, and nothing about a single hot afternoon.
"""

from collections.abc import Sequence

_LEAST_K = 1.0
WINDOW_DAYS = 84


def degree_heating_weeks(daily_mean_c: Sequence[float], usual_highest_c: float) -> float:
    """Return the stress accumulated over the last 84 days, in degree-weeks.

    Args:
        daily_mean_c: mean of the water on each day, oldest first.
        usual_highest_c: the mean of the warmest month in ordinary years; for a tank, a summer's usual
            highest.

    Source:
        NOAA Coral Reef Watch, product version 3.1: one seventh of the sum of daily HotSpots of at
        least 1 degree C.  Worked example (Skirving et al., Remote Sensing 12, 2020, 3856; the citation
        from memory): HotSpots of 1.0, 2.0, 0.8 and 1.2 give 0.6.

    >>> round(degree_heating_weeks([30.0, 31.0, 29.8, 30.2], 29.0), 2)
    0.6
    """
    hot_spots_k = (mean_c - usual_highest_c for mean_c in daily_mean_c[-WINDOW_DAYS:])
    # A HotSpot of exactly 1 counts, and 30 - 29 may miss it by a rounding.
    return sum(spot_k for spot_k in hot_spots_k if spot_k >= _LEAST_K - 1e-9) / 7.0
