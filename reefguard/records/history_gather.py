"""Gathers ticks into minutes.  Pure: the caller brings both clocks' times.

What a tick saw holds until the next one; where none came for too long,
nothing is known of the time between, and there is a gap.

**Time.**  Lengths are the boot clock's.  The wall clock says only where on the
line of Unix time they lie, and only while it is known to be right:

- never known since the start: minutes are held in memory, the newest day of
  them, and placed by the boot clock once it is known.  Their spans move to the
  nearest whole minute, at most 30 s; runs and totals stay exact.  If it is
  never known, they are lost at the end: a wrong time is worse than none.
- no longer known: the boot clock goes on from where it was.
- set, by more than a second, and seen so at two ticks: the minute under way
  ends, and one begins at the new time.  After a step back the store refuses
  what it has already.
- a local day may have 23 or 25 hours; a minute belongs to the day of its
  beginning in the given zone.
"""

import math
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import Final, NamedTuple

from reefguard.records.history import MINUTE_S, Minute, Run, Series, Span
from reefguard.vocabulary import Wall

# A clock that is steered, not set, stays within this from one tick to the next.
_STEERED_S: Final = 1.0

# Minutes of a day, some megabytes: a clock that takes longer to be known is a trouble of its own.
MOST_HELD: Final = 1_440


class Water(NamedTuple):
    """The water at a tick, and the band that held then (degrees Celsius)."""

    coldest_c: float
    warmest_c: float
    band_low_c: float
    band_high_c: float


class Look(NamedTuple):
    """What one tick saw.

    Attributes:
        now_s: the boot clock.
        wall: the wall clock.
        values: of each series that could be used; humidity as a share.
        on: the outputs that are on from now on.
        water: the estimate, or `None` when no probe is trusted.
    """

    now_s: float
    wall: Wall
    values: Mapping[Series, float]
    on: frozenset[str]
    water: Water | None


@dataclass(slots=True)
class _Seen:
    """A series within the minute under way."""

    total: float = 0.0
    low: float = math.inf
    high: float = -math.inf
    good_s: float = 0.0


@dataclass(slots=True)
class _Piece:
    """The minute under way, as far as it was seen."""

    from_s: float
    until_s: float
    seen: dict[Series, _Seen] = field(default_factory=dict)
    runs: list[Run] = field(default_factory=list)
    under_way: dict[str, int] = field(default_factory=dict)
    known_s: float = 0.0
    low_c: float = math.inf
    high_c: float = -math.inf
    warmest_c_s: float = 0.0
    above_s: float = 0.0
    below_s: float = 0.0
    above_k_s: float = 0.0
    below_k_s: float = 0.0


class Gatherer:
    """Takes one tick after the other, and gives each minute once it is over."""

    def __init__(self, zone: tzinfo, *, longest_hold_s: float, on: frozenset[str] = frozenset()) -> None:
        """Start with nothing seen.

        Args:
            zone: of the local day.
            longest_hold_s: when the next tick comes later than this, nothing is known of the time between.
            on: the outputs that are on before the first tick.
        """
        self._zone = zone
        self._longest_hold_s = longest_hold_s
        self._last: Look | None = None
        self._on = on
        self._started: frozenset[str] = frozenset()
        # Unix time less boot time; 0 for minutes that are held until it is known.
        self._offset_s = 0.0
        self._placed = False
        # What one tick saw of a clock that seems to have been set.
        self._doubted_s: float | None = None
        self._at_s = 0.0
        self._piece: _Piece | None = None
        self._held: deque[Minute] = deque(maxlen=MOST_HELD)

    @property
    def held(self) -> int:
        """How many minutes wait for the wall clock to be known."""
        return len(self._held)

    def take(self, look: Look) -> list[Minute]:
        """Take a tick; return the minutes that are over by now, in order."""
        minutes = self._until(look.now_s, look.wall)
        self._started = look.on - self._on
        self._on = look.on
        self._last = look._replace(now_s=round(look.now_s, 3))
        return minutes

    def finish(self, now_s: float, wall: Wall) -> list[Minute]:
        """Return what is left at the end, in order; every output is at rest by then."""
        minutes = self._until(now_s, wall)
        self._on = frozenset()
        self._close(minutes)
        self._last = None
        if minutes:
            # It may have ended on the minute, before anything was known of the end.
            minutes[-1] = minutes[-1]._replace(running=frozenset())
        return minutes

    def _until(self, now_s: float, wall: Wall) -> list[Minute]:
        """Let what the last tick saw hold until now; end with `_at_s` where now is placed."""
        minutes: list[Minute] = []
        # Whole milliseconds throughout: where one minute ends the next begins, not a rounding later.
        now_s = round(now_s, 3)
        offset_s = self._seen_offset_s(now_s, wall)
        now_placed = self._placed or wall.trusted
        steered = now_placed == self._placed and abs(offset_s - self._offset_s) <= _STEERED_S
        placed_s = round(now_s + offset_s, 3)
        last = self._last
        if last is None:
            self._at_s = placed_s
        elif now_s - last.now_s > self._longest_hold_s:
            self._close(minutes)
            self._at_s = placed_s
        elif steered:
            # A clock that is slowed down never runs backwards.
            self._at_s = self._hold(max(placed_s, self._at_s), last, minutes)
        else:
            self._hold(round(self._at_s + now_s - last.now_s, 3), last, minutes)
            self._close(minutes)
            self._at_s = placed_s
        if now_placed and not self._placed:
            minutes = self._place(offset_s)
        self._offset_s = offset_s
        self._placed = now_placed
        return minutes

    def _seen_offset_s(self, now_s: float, wall: Wall) -> float:
        """Return what makes Unix time of boot time; what one tick alone saw is no proof of a clock set."""
        if not wall.trusted:
            return self._offset_s
        seen_s = round(wall.local.timestamp() - now_s, 3)
        doubted_s, self._doubted_s = self._doubted_s, None
        if not self._placed or abs(seen_s - self._offset_s) <= _STEERED_S:
            return seen_s
        if doubted_s is not None and abs(seen_s - doubted_s) <= _STEERED_S:
            return seen_s
        # The guard may have been stopped between its looks at the two clocks.
        self._doubted_s = seen_s
        return self._offset_s

    def _hold(self, until_s: float, look: Look, minutes: list[Minute]) -> float:
        """Add what the look saw to the minutes from `_at_s` until then."""
        begin_s = self._at_s
        while begin_s < until_s:
            over_s = (begin_s // MINUTE_S + 1) * MINUTE_S
            end_s = min(over_s, until_s)
            if self._piece is None:
                self._piece = _Piece(begin_s, begin_s)
            _add(self._piece, look, self._started, begin_s, end_s)
            self._started = frozenset()
            if end_s == over_s:
                self._close(minutes)
            begin_s = end_s
        return until_s

    def _close(self, minutes: list[Minute]) -> None:
        """End the minute under way and put it where it belongs."""
        if self._piece is None:
            return
        minute = _minute(self._piece, self._on, self._date)
        self._piece = None
        if self._placed:
            minutes.append(minute)
        else:
            self._held.append(minute)

    def _place(self, offset_s: float) -> list[Minute]:
        """Return the minutes that were held, on the wall clock's time."""
        placed = [_moved(minute, offset_s, self._date) for minute in self._held]
        self._held.clear()
        return placed

    def _date(self, at_s: float) -> str:
        return datetime.fromtimestamp(at_s, self._zone).date().isoformat()


def _add(piece: _Piece, look: Look, started: frozenset[str], begin_s: float, end_s: float) -> None:
    lasts_s = end_s - begin_s
    piece.until_s = end_s
    for series, value in look.values.items():
        seen = piece.seen.setdefault(series, _Seen())
        seen.total += value * lasts_s
        seen.low = min(seen.low, value)
        seen.high = max(seen.high, value)
        seen.good_s += lasts_s
    for output in sorted(look.on):
        place = piece.under_way.get(output)
        if place is not None and piece.runs[place].until_s == begin_s and output not in started:
            piece.runs[place] = piece.runs[place]._replace(until_s=end_s)
        else:
            piece.under_way[output] = len(piece.runs)
            piece.runs.append(Run(output, begin_s, end_s, output in started))
    water = look.water
    if water is None:
        return
    piece.known_s += lasts_s
    piece.low_c = min(piece.low_c, water.coldest_c)
    piece.high_c = max(piece.high_c, water.warmest_c)
    piece.warmest_c_s += water.warmest_c * lasts_s
    if water.warmest_c > water.band_high_c:
        piece.above_s += lasts_s
        piece.above_k_s += (water.warmest_c - water.band_high_c) * lasts_s
    if water.coldest_c < water.band_low_c:
        piece.below_s += lasts_s
        piece.below_k_s += (water.band_low_c - water.coldest_c) * lasts_s


def _minute(piece: _Piece, on: frozenset[str], date: Callable[[float], str]) -> Minute:
    from_s = piece.from_s // MINUTE_S * MINUTE_S
    known = piece.known_s > 0.0
    return Minute(
        from_s=piece.from_s,
        until_s=piece.until_s,
        date=date(piece.from_s),
        spans={
            series: Span(
                from_s,
                MINUTE_S,
                # The mean of equal numbers is that number, also in floating point.
                min(max(seen.total / seen.good_s, seen.low), seen.high),
                seen.low,
                seen.high,
                min(seen.good_s / MINUTE_S, 1.0),
            )
            for series, seen in piece.seen.items()
        },
        runs=tuple(piece.runs),
        running=frozenset(run.output for run in piece.runs if run.until_s == piece.until_s) & on,
        known_s=piece.known_s,
        low_c=piece.low_c if known else None,
        high_c=piece.high_c if known else None,
        warmest_c_s=piece.warmest_c_s,
        above_s=piece.above_s,
        below_s=piece.below_s,
        above_k_s=piece.above_k_s,
        below_k_s=piece.below_k_s,
    )


def _moved(minute: Minute, offset_s: float, date: Callable[[float], str]) -> Minute:
    """Return a held minute on the wall clock's time, its spans on the nearest whole minute."""
    slot_s = minute.from_s // MINUTE_S * MINUTE_S + MINUTE_S / 2 + offset_s
    from_s = round(minute.from_s + offset_s, 3)
    return minute._replace(
        from_s=from_s,
        until_s=round(minute.until_s + offset_s, 3),
        date=date(from_s),
        spans={
            series: span._replace(from_s=slot_s // MINUTE_S * MINUTE_S)
            for series, span in minute.spans.items()
        },
        runs=tuple(
            run._replace(from_s=round(run.from_s + offset_s, 3), until_s=round(run.until_s + offset_s, 3))
            for run in minute.runs
        ),
    )
