"""The alarms of a stretch: each from its raising to its return, how soon somebody knew, and the nights."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from statistics import median
from typing import Final, NamedTuple

from reefguard.lookback.evidence import Evidence
from reefguard.lookback.stretch import Stretch, local

# A night, for the people: common practice, and the usual quiet hours.
NIGHT_FROM: Final = time(22)
NIGHT_UNTIL: Final = time(7)
_LATER: Final = -1


class Episode(NamedTuple):
    """An alarm, from its raising to its return; what was not seen is `None`.

    Attributes:
        name: of the alarm.
        priority: 1 to 4, the higher the sooner.
        raised_s: Unix seconds, like all here.
        acknowledged_s: when somebody said that they knew.
        who: said so.
        returned_s: when it was back to normal.
        what: the sentence it was raised with.
        peak_c: the worst the water got meanwhile.
    """

    name: str
    priority: int
    raised_s: float
    acknowledged_s: float | None = None
    who: str | None = None
    returned_s: float | None = None
    what: str = ""
    peak_c: float | None = None


@dataclass(frozen=True, slots=True)
class AlarmFound:
    """One alarm over a stretch.

    Attributes:
        name: of it.
        priority: the highest it had.
        raised: how often in the stretch.
        total_s: how long it stood in the stretch.
        longest_s: the longest it stood in one piece, in the stretch.
        stands: whether it stood at the end.
        acknowledged: how many of its episodes somebody acknowledged.
        to_know_s: from raised to acknowledged, the median; `None` where nobody did.
        slowest_s: the longest of them.
        to_return_s: from raised to back to normal, the median; `None` where none returned.
    """

    name: str
    priority: int
    raised: int
    total_s: float
    longest_s: float
    stands: bool
    acknowledged: int
    to_know_s: float | None
    slowest_s: float | None
    to_return_s: float | None


class Night(NamedTuple):
    """A night, and how long an alarm stood in it that somebody has to act on within the hour or now."""

    evening: date
    alarm_s: float
    names: tuple[str, ...]


def episodes(seen: Evidence) -> tuple[Episode, ...]:
    """Return the episodes that touch the stretch, in order of their raising.

    When one was acknowledged, or was over, may lie after the stretch.
    """
    found: list[Episode] = []
    open_at: dict[str, int] = {}
    for at_s, event in seen.events:
        if event.kind != "alarm":
            continue
        name, details = event.subject, event.details or {}
        if event.change == "raised" and at_s >= seen.stretch.until_s:
            # What follows belongs to a later alarm.
            open_at[name] = _LATER
        place = open_at.get(name)
        if place == _LATER:
            continue
        if event.change == "raised":
            open_at[name] = len(found)
            found.append(Episode(name, event.priority or 0, at_s, what=event.what))
        elif event.change == "returned":
            if place is None or found[place].returned_s is not None:
                # It was raised before what was read.
                if at_s >= seen.stretch.until_s and "lasted_s" not in details:
                    continue
                place = open_at[name] = len(found)
                began_s = at_s - _number(details.get("lasted_s"), at_s - seen.stretch.from_s)
                found.append(Episode(name, event.priority or 0, began_s, what=event.what))
            found[place] = found[place]._replace(returned_s=at_s, peak_c=_known(details.get("peak_c")))
        elif event.change == "acknowledged" and place is not None and found[place].acknowledged_s is None:
            found[place] = found[place]._replace(acknowledged_s=at_s, who=event.who)
    inside = [
        one for one in found if _stood(one, seen.stretch).lasts_s > 0.0 or seen.stretch.holds(one.raised_s)
    ]
    return tuple(sorted(inside, key=lambda one: one.raised_s))


def alarms_found(all_episodes: Iterable[Episode], stretch: Stretch) -> tuple[AlarmFound, ...]:
    """Sum episodes up by alarm, the most urgent first, then the longest."""
    by_name: dict[str, list[Episode]] = {}
    for one in all_episodes:
        by_name.setdefault(one.name, []).append(one)
    found = [_summed(name, own, stretch) for name, own in by_name.items()]
    return tuple(sorted(found, key=lambda one: (-one.priority, -one.total_s, one.name)))


def _summed(name: str, own: list[Episode], stretch: Stretch) -> AlarmFound:
    stood_s = [_stood(one, stretch).lasts_s for one in own]
    known_s = [one.acknowledged_s - one.raised_s for one in own if one.acknowledged_s is not None]
    back_s = [one.returned_s - one.raised_s for one in own if one.returned_s is not None]
    return AlarmFound(
        name,
        max(one.priority for one in own),
        sum(stretch.holds(one.raised_s) for one in own),
        sum(stood_s),
        max(stood_s),
        any(one.returned_s is None or one.returned_s > stretch.until_s for one in own),
        len(known_s),
        median(known_s) if known_s else None,
        max(known_s, default=None),
        median(back_s) if back_s else None,
    )


def nights(all_episodes: Iterable[Episode], seen: Evidence, least_priority: int) -> tuple[Night, ...]:
    """Return the nights in which an alarm stood, the longest first.

    Args:
        all_episodes: of the stretch.
        seen: what there is.
        least_priority: less urgent alarms let people sleep.
    """
    urgent = [one for one in all_episodes if one.priority >= least_priority]
    evening = local(seen.stretch.from_s, seen.zone).date() - timedelta(days=1)
    found = []
    while (night := _night(evening, seen)).from_s < seen.stretch.until_s:
        stood = {one.name: _stood(one, night) for one in urgent if _stood(one, night).lasts_s > 0.0}
        if night.lasts_s > 0.0 and stood:
            pieces = [_stood(one, night) for one in urgent]
            found.append(Night(evening, _joined_s(pieces), tuple(sorted(stood))))
        evening += timedelta(days=1)
    return tuple(sorted(found, key=lambda one: (-one.alarm_s, one.evening)))


def _night(evening: date, seen: Evidence) -> Stretch:
    begins_s = datetime.combine(evening, NIGHT_FROM, seen.zone).timestamp()
    ends_s = datetime.combine(evening + timedelta(days=1), NIGHT_UNTIL, seen.zone).timestamp()
    begins_s = max(begins_s, seen.stretch.from_s)
    return Stretch(begins_s, max(begins_s, min(ends_s, seen.stretch.until_s)))


def _stood(one: Episode, stretch: Stretch) -> Stretch:
    until_s = stretch.until_s if one.returned_s is None else min(one.returned_s, stretch.until_s)
    from_s = max(one.raised_s, stretch.from_s)
    return Stretch(from_s, max(from_s, until_s))


def _joined_s(pieces: Iterable[Stretch]) -> float:
    """Return how long at least one of some stretches lasted."""
    joined_s, reached_s = 0.0, -1e18
    for from_s, until_s in sorted(pieces):
        joined_s += max(0.0, until_s - max(from_s, reached_s))
        reached_s = max(reached_s, until_s)
    return joined_s


def _known(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None


def _number(value: object, otherwise: float) -> float:
    known = _known(value)
    return otherwise if known is None else known
