"""Step 3 of the tick: what do the trusted probes say together?

Two probes in order may differ by 1 degree C (DS18B20 data sheet: each within
0.5 degrees C); further apart, one of them is wrong, and with two nobody can
say which.  Then both are used, each against its own danger: the warmest for
the fans, the coldest for the chiller.  With three or more, one that stands
alone against all others is left out.
"""

from collections.abc import Sequence

from reefguard.vocabulary import Cause, Distrusted, Quality, Reading, Trusted, WaterEstimate


def cross_check(readings: Sequence[Reading], disagreement_c: float) -> tuple[Reading, ...]:
    """Mark trusted readings that disagree; leave out the one that stands alone."""
    trusted = [reading for reading in readings if isinstance(reading, Trusted)]
    if len(trusted) < 2 or _spread_c(trusted) <= disagreement_c:
        return tuple(readings)
    odd = _odd_one_out(trusted, disagreement_c)
    if odd is None:
        return tuple(_disagreeing(r) if isinstance(r, Trusted) else r for r in readings)
    left_out = Distrusted(odd.probe, odd.water_c, Quality.FAIL, Cause.ODD_ONE_OUT)
    return tuple(left_out if reading is odd else reading for reading in readings)


def estimate(readings: Sequence[Reading]) -> WaterEstimate | None:
    """Return the warmest and the coldest of the trusted readings, or `None` without any."""
    warmest: Trusted | None = None
    coldest: Trusted | None = None
    oldest_s = 0.0
    for reading in readings:
        if not isinstance(reading, Trusted):
            continue
        if warmest is None or coldest is None:
            warmest = coldest = reading
            oldest_s = reading.at_s
            continue
        if reading.water_c > warmest.water_c:
            warmest = reading
        if reading.water_c < coldest.water_c:
            coldest = reading
        oldest_s = min(oldest_s, reading.at_s)
    if warmest is None or coldest is None:
        return None
    return WaterEstimate(warmest.water_c, warmest.probe, coldest.water_c, coldest.probe, oldest_s)


def _spread_c(trusted: Sequence[Trusted]) -> float:
    values_c = [reading.water_c for reading in trusted]
    return max(values_c) - min(values_c)


def _odd_one_out(trusted: Sequence[Trusted], disagreement_c: float) -> Trusted | None:
    """Return the one reading without which all others agree, if it is the only such."""
    if len(trusted) < 3:
        return None
    candidates = [
        one
        for one in trusted
        if _spread_c([other for other in trusted if other is not one]) <= disagreement_c
    ]
    return candidates[0] if len(candidates) == 1 else None


def _disagreeing(reading: Trusted) -> Trusted:
    return Trusted(reading.probe, reading.water_c, reading.at_s, Quality.SUSPECT, Cause.DISAGREES)
