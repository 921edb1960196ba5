"""What looking back cannot see, said before all else."""

from collections.abc import Iterator
from typing import Final

from reefguard.lookback.found import Found
from reefguard.lookback.guarded import BATCH_S
from reefguard.lookback.stretch import day_of
from reefguard.lookback.words import counted, day_name, length, moment, share
from reefguard.records.history import HOUR_S

_MOST_GAPS: Final = 3
_ALL: Final = 0.9995


def what_is_unknown(found: Found, notes: tuple[str, ...]) -> tuple[str, ...]:
    """Say it, the gravest first.

    Args:
        found: of the stretch.
        notes: what could not be read at all, in whole sentences.
    """
    return (*notes, *_unknown(found))


def _unknown(found: Found) -> Iterator[str]:
    yield _water(found)
    seen = found.seen
    gone = seen.spans_gone
    if gone:
        first = day_name(day_of(gone[0], seen.zone).from_s, seen.zone)
        yield (
            f"Of {counted(len(gone), 'day', 'days')}, the first {first}, only totals are kept: when it was "
            "hottest in them, and how each probe did, is not known any more."
        )
    if seen.past.span_s >= HOUR_S and seen.rest:
        yield (
            "The history gives means over an hour here: outside whole days, time out of the band is known "
            "to the hour only, and short excursions show in the hottest and the coldest alone."
        )
    if found.clock_doubtful:
        yield (
            f"The clock was not known to be right at {counted(found.clock_doubtful, 'event', 'events')}: "
            "their times may be wrong."
        )
    yield from (f"Events are missing: {what}." for what in found.lost)


def _water(found: Found) -> str:
    seen, water = found.seen, found.water
    known = min(1.0, water.known_s / seen.stretch.lasts_s)
    if known >= _ALL:
        return "The water was known all the time."
    said = f"The water was known for {share(known)} of the time"
    unwritten = [gap for gap in water.gaps if gap.until_s == seen.stretch.until_s and gap.lasts_s <= BATCH_S]
    if unwritten and not any(one.until_s == seen.stretch.until_s for one in found.guard.away):
        said += f" (its last {length(unwritten[0].lasts_s)} are not written yet: readings are, in batches)"
    else:
        unwritten = []
    gaps = [gap for gap in water.gaps if gap not in unwritten]
    if not gaps:
        return f"{said}; no gap was longer than ten minutes."
    longest = sorted(gaps, key=lambda gap: -gap.lasts_s)[:_MOST_GAPS]
    more = len(gaps) - len(longest)
    names = "the longest gaps" if more else "the gap" if len(longest) == 1 else "the gaps"
    listed = "; ".join(
        f"{length(gap.lasts_s)} from {moment(gap.from_s, seen.zone)}"
        for gap in sorted(longest, key=lambda gap: gap.from_s)
    )
    return f"{said}; {names}: {listed}{f', and {more} shorter' if more else ''}."
