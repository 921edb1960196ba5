"""How far, and for how long, the water was out of the safe band: for the words when it is back.

Degree-hours weigh both: an hour two degrees out counts as much as two hours
one degree out.  Biologists weigh a reef's heat stress in the same way, in
degree heating weeks (NOAA Coral Reef Watch).
"""

from collections.abc import Callable, Iterable, Mapping
from typing import Final, NamedTuple

from reefguard.settings.model import SafeBand
from reefguard.vocabulary import WaterEstimate

_TOO_HIGH: Final = frozenset({"water high", "water far too high"})
_TOO_LOW: Final = frozenset({"water low", "water far too low"})


class Excursion(NamedTuple):
    """One way out of the band, so far.

    Attributes:
        peak_c: the warmest of a high one, the coldest of a low one.
        degree_s: degrees outside the band, summed over seconds.
        beyond_c: how far outside at the last look, or `None` if the water was not known then.
        seen_s: when that was, boot clock.
    """

    peak_c: float
    degree_s: float
    beyond_c: float | None
    seen_s: float

    @property
    def degree_hours(self) -> float:
        """Degrees outside the band, summed over hours."""
        return self.degree_s / 3_600.0


def followed(
    excursions: Mapping[str, Excursion],
    names: Iterable[str],
    *,
    water: WaterEstimate | None,
    band: SafeBand,
    now_s: float,
) -> dict[str, Excursion]:
    """Take one tick's water into account.

    Args:
        excursions: up to now, by the alarm's name.
        names: of the findings that stand; those about water out of its band begin an excursion.
        water: as far as it is known.
        band: the safe one.
        now_s: boot clock.
    """
    after: dict[str, Excursion] = {}
    for name in {*excursions, *names} & (_TOO_HIGH | _TOO_LOW):
        before = excursions.get(name)
        if water is not None:
            if name in _TOO_HIGH:
                after[name] = _on(before, water.warmest_c, water.warmest_c - band.high_c, now_s, max)
            else:
                after[name] = _on(before, water.coldest_c, band.low_c - water.coldest_c, now_s, min)
        elif before is not None:
            after[name] = before._replace(beyond_c=None, seen_s=now_s)
    return after


def _on(
    before: Excursion | None,
    water_c: float,
    outside_c: float,
    now_s: float,
    worse: Callable[[float, float], float],
) -> Excursion:
    beyond_c = max(0.0, outside_c)
    if before is None:
        return Excursion(water_c, 0.0, beyond_c, now_s)
    # Between two looks the water went straight from the one to the other; not known, it counts for nothing.
    between_c = 0.0 if before.beyond_c is None else (before.beyond_c + beyond_c) / 2.0
    degree_s = before.degree_s + between_c * (now_s - before.seen_s)
    return Excursion(worse(before.peak_c, water_c), degree_s, beyond_c, now_s)
