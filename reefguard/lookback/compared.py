"""What changed against the stretch before: in words, for two summers are no experiment."""

from typing import Final, NamedTuple

from reefguard.control.chiller import NAME as CHILLER
from reefguard.lookback.found import Found
from reefguard.lookback.words import NOT_KNOWN, run_hours
from reefguard.planning.shown import Shown

# With less known of either, a difference says more about the gaps than about the tank.
_ENOUGH: Final = 0.8
# Differences below these are no news (common practice).
_SAME_K: Final = 0.3
_SAME_S: Final = 1_800.0
_SAME_STARTS: Final = 3.0
_SAME_ALARMS: Final = 0.0


class Change(NamedTuple):
    """One thing, now and before, and what that comes to in words."""

    what: str
    now: str
    before: str
    said: str


def comparable(found: Found) -> bool:
    """Whether enough of a stretch is known to be held against another."""
    return found.water.known_s >= _ENOUGH * found.seen.stretch.lasts_s


def changes(now: Found, before: Found, shown: Shown) -> tuple[Change, ...]:
    """Compare two stretches of equal length, both `comparable`.

    Args:
        now: the one that is looked back on.
        before: the one before.
        shown: the keeper's unit.
    """
    found = [_hottest(now, before, shown), _above(now, before)]
    for output in now.outputs:
        earlier = before.output(output.name)
        earlier_s = 0.0 if earlier is None else earlier.ran_s
        said = in_words(output.ran_s, earlier_s, _SAME_S)
        found.append(Change(f"{output.name} ran", run_hours(output.ran_s), run_hours(earlier_s), said))
        if output.name == CHILLER:
            starts = 0 if earlier is None else earlier.starts
            said = in_words(output.starts, starts, _SAME_STARTS)
            found.append(Change(f"{output.name} starts", str(output.starts), str(starts), said))
    raised, earlier_raised = _raised(now), _raised(before)
    said = in_words(raised, earlier_raised, _SAME_ALARMS)
    found.append(Change("alarms", str(raised), str(earlier_raised), said))
    return tuple(found)


def in_words(now: float, before: float, same: float) -> str:
    """Say how an amount changed.

    Args:
        now: the amount, not negative.
        before: what it was.
        same: a difference no larger than this is no news, nor is one of a seventh.

    >>> [in_words(now, 60.0, 5.0) for now in (0.0, 20.0, 30.0, 50.0, 64.0, 80.0, 120.0, 300.0)]
    ['no more', 'far less', 'about half', 'less', 'about the same', 'more', 'about twice', 'far more']
    >>> in_words(0.0, 0.0, 5.0), in_words(60.0, 0.0, 5.0)
    ('neither', 'new')
    """
    if now == 0.0 and before == 0.0:
        return "neither"
    if abs(now - before) <= max(same, max(now, before) / 7.0):
        return "about the same"
    if before == 0.0:
        return "new"
    return "no more" if now == 0.0 else _by_ratio(now / before)


def _by_ratio(ratio: float) -> str:
    steps = ((0.4, "far less"), (0.6, "about half"), (1.0, "less"), (1.7, "more"), (2.4, "about twice"))
    return next((said for most, said in steps if ratio < most), "far more")


def _hottest(now: Found, before: Found, shown: Shown) -> Change:
    hottest, earlier = now.water.hottest, before.water.hottest
    if hottest is None or earlier is None:
        return Change("hottest", NOT_KNOWN, NOT_KNOWN, "")
    warmer_k = hottest.water_c - earlier.water_c
    said = "about the same" if abs(warmer_k) < _SAME_K else "warmer" if warmer_k > 0.0 else "cooler"
    return Change("hottest", shown.temperature(hottest.water_c), shown.temperature(earlier.water_c), said)


def _above(now: Found, before: Found) -> Change:
    above_s, earlier_s = now.water.above_s, before.water.above_s
    said = in_words(above_s, earlier_s, _SAME_S)
    return Change("above the band", run_hours(above_s), run_hours(earlier_s), said)


def _raised(found: Found) -> int:
    return sum(alarm.raised for alarm in found.alarms)
