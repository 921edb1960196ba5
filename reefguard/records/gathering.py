"""From ticks to what the history keeps: minutes, intervals, totals of days.  Pure.

A tick is placed by the boot clock, and the boot clock by the wall clock while
that can be trusted; a wall clock that jumps makes a gap, or is answered by the
rows that are there already, never by a length below zero.  While it cannot be
trusted the ticks of the last hour wait; after that they are placed by the wall
clock as it stands, for a history with doubtful times is better than none.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final, NamedTuple

from reefguard.records.history import MINUTE_S, DayTotals, Interval, Series, Span

HOLD_S: Final = 3_600.0
# A wall clock that is off by more than this from where it was has been set; less is its steady correction.
_SET_S: Final = 1.5
# The guard was not at work between ticks that lie further apart.
_LONGEST_TICK_S: Final = 120.0
# So far back a clock may be set without a run being counted twice.
_BACK_S: Final = 86_400.0


class Tick(NamedTuple):
    """What is gathered of one tick.

    Attributes:
        boot_s: when, by the boot clock.
        local: the same by the wall clock, with its offset.
        trusted: whether the wall clock is known to be right.
        readings: degrees Celsius, of humidity a share; `None` where a probe gave nothing that can be used.
        outputs: which are on.
        warmest_c: of the trusted probes, `None` where there is none.
        coldest_c: of the trusted probes, `None` where there is none.
        low_c: lower end of the safe band.
        high_c: upper end of the safe band.
    """

    boot_s: float
    local: datetime
    trusted: bool
    readings: Mapping[Series, float | None]
    outputs: Mapping[str, bool]
    warmest_c: float | None
    coldest_c: float | None
    low_c: float
    high_c: float


class Batch(NamedTuple):
    """What is to be kept.

    Attributes:
        spans: minutes, in order of time.
        intervals: those that ended, and those that go on as far as they have come.
        days: what came to each local day's totals.
        at_s: the present, Unix seconds.
    """

    spans: tuple[tuple[Series, Span], ...] = ()
    intervals: tuple[Interval, ...] = ()
    days: tuple[DayTotals, ...] = ()
    at_s: float = 0.0


@dataclass(slots=True)
class _Readings:
    """The readings of one series in one minute."""

    total: float = 0.0
    low: float = float("inf")
    high: float = float("-inf")
    good: int = 0
    samples: int = 0

    def take(self, value: float | None) -> None:
        self.samples += 1
        if value is not None:
            self.good += 1
            self.total += value
            self.low = min(self.low, value)
            self.high = max(self.high, value)

    def join(self, other: "_Readings") -> None:
        self.total += other.total
        self.low, self.high = min(self.low, other.low), max(self.high, other.high)
        self.good += other.good
        self.samples += other.samples

    def span(self, from_s: float) -> Span:
        mean = min(self.high, max(self.low, self.total / self.good))
        return Span(from_s, MINUTE_S, mean, self.low, self.high, self.good / self.samples)


@dataclass(slots=True)
class _Minute:
    """A minute; its start is by the wall clock where that is known (`placed`), else by the boot clock."""

    from_s: float
    placed: bool
    readings: dict[Series, _Readings] = field(default_factory=dict)


@dataclass(slots=True)
class _Run:
    """An output's run.

    Attributes:
        boot_s: when it began, by the boot clock.
        start: whether the output started then.
        from_s: the same by the wall clock, once it has been told: it is not told differently later.
        until_s: its end by the boot clock; `None` while it goes on.
        offset_s: what makes wall time of its end; `None` for what holds when it is told.
    """

    boot_s: float
    start: bool
    from_s: float | None = None
    until_s: float | None = None
    offset_s: float | None = None


class Gathering:
    """Collects ticks; `take` hands over what they came to."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self._begun_s: float | None = None
        self._last: Tick | None = None
        self._offset_s: float | None = None
        self._doubted_s: float | None = None
        self._open: _Minute | None = None
        self._minutes: list[_Minute] = []
        self._running: dict[str, _Run] = {}
        self._ended: list[tuple[str, _Run]] = []
        self._until_s: dict[str, float] = {}
        self._days: dict[str, DayTotals] = {}

    def tick(self, tick: Tick) -> None:
        """Take a tick into account."""
        if self._begun_s is None:
            self._begun_s = tick.boot_s
        self._place(tick)
        self._measure(tick)
        self._run(tick)
        self._count(tick)
        self._last = tick

    def take(self, *, final: bool = False) -> Batch:
        """Hand over what has been gathered since it was asked last.

        Args:
            final: no tick will follow: the minute that has begun, and what waits to be placed, is in it.
        """
        last = self._last
        if last is None:
            return Batch()
        if final:
            self._close()
            if self._offset_s is None:
                self._offset_s = last.local.timestamp() - last.boot_s
        days = tuple(self._days.values())
        self._days = {}
        if self._offset_s is None:
            return Batch(days=days, at_s=last.local.timestamp())
        spans = tuple(self._spans(self._offset_s))
        intervals = tuple(self._intervals(last.boot_s, self._offset_s))
        return Batch(spans, intervals, days, last.boot_s + self._offset_s)

    # --- when ---

    def _place(self, tick: Tick) -> None:
        """Settle which wall time this tick is of, as far as that is known."""
        offset_s = tick.local.timestamp() - tick.boot_s
        known_s = self._offset_s
        if known_s is None:
            waited_s = tick.boot_s - (self._begun_s or 0.0)
            if tick.trusted or waited_s >= HOLD_S:
                self._close()
                self._offset_s = offset_s
        elif tick.trusted and abs(offset_s - known_s) > _SET_S:
            # One tick is no proof: the guard may have been stopped between its looks at the two clocks.
            if self._doubted_s is not None and abs(offset_s - self._doubted_s) <= _SET_S:
                self._close()
                self._split(tick.boot_s, known_s)
                self._offset_s, self._doubted_s = offset_s, None
            else:
                self._doubted_s = offset_s
        else:
            self._doubted_s = None

    def _split(self, boot_s: float, before_s: float) -> None:
        """End every run by the old clock; it goes on by the new one."""
        for _, run in self._ended:
            run.offset_s = before_s if run.offset_s is None else run.offset_s
        for name, run in self._running.items():
            run.until_s, run.offset_s = boot_s, before_s
            self._ended.append((name, run))
            self._running[name] = _Run(boot_s, start=False)

    # --- minutes ---

    def _measure(self, tick: Tick) -> None:
        at_s = tick.boot_s + (self._offset_s or 0.0)
        from_s = at_s // MINUTE_S * MINUTE_S
        if self._open is None or self._open.from_s != from_s:
            self._close()
            if self._offset_s is not None and tick.trusted and self._doubted_s is None:
                # What the clock is steadily corrected by must not add up.
                self._offset_s = tick.local.timestamp() - tick.boot_s
            self._open = _Minute(from_s, placed=self._offset_s is not None)
        for series, value in tick.readings.items():
            self._open.readings.setdefault(series, _Readings()).take(value)

    def _close(self) -> None:
        if self._open is not None:
            self._minutes.append(self._open)
        self._open = None

    def _spans(self, offset_s: float) -> Iterator[tuple[Series, Span]]:
        joined: dict[tuple[float, Series], _Readings] = {}
        for minute in self._minutes:
            from_s = minute.from_s
            if not minute.placed:
                from_s = (from_s + offset_s) // MINUTE_S * MINUTE_S
            for series, readings in minute.readings.items():
                joined.setdefault((from_s, series), _Readings()).join(readings)
        self._minutes = []
        for (from_s, series), readings in sorted(joined.items()):
            if readings.good:
                yield series, readings.span(from_s)

    # --- runs ---

    def _run(self, tick: Tick) -> None:
        before = self._last
        for name, on in tick.outputs.items():
            run = self._running.get(name)
            if on and run is None:
                self._running[name] = _Run(tick.boot_s, start=before is not None and name in before.outputs)
            elif not on and run is not None:
                run.until_s = tick.boot_s
                self._ended.append((name, run))
                del self._running[name]

    def _intervals(self, boot_s: float, offset_s: float) -> Iterator[Interval]:
        ended, self._ended = self._ended, []
        for name, run in (*ended, *self._running.items()):
            by_s = offset_s if run.offset_s is None else run.offset_s
            until_s = (boot_s if run.until_s is None else run.until_s) + by_s
            if run.from_s is None:
                run.from_s = self._begins(name, run.boot_s + by_s)
            goes_on = run.until_s is None
            if not goes_on:
                self._until_s[name] = until_s
            if until_s > run.from_s or goes_on:
                yield Interval(name, run.from_s, max(run.from_s, until_s), goes_on, run.start)

    def _begins(self, name: str, from_s: float) -> float:
        """Return when a run begins, but not while the one before it still went on by an older clock."""
        before_s = self._until_s.get(name, from_s)
        return before_s if from_s < before_s <= from_s + _BACK_S else from_s

    # --- days ---

    def _count(self, tick: Tick) -> None:
        before = self._last
        span_s = 0.0 if before is None else tick.boot_s - before.boot_s
        if not 0.0 <= span_s <= _LONGEST_TICK_S:
            span_s = 0.0
        date = tick.local.date().isoformat()
        self._days[date] = added(self._days.get(date), _of(tick, before, span_s, date))


def _of(tick: Tick, before: Tick | None, span_s: float, date: str) -> DayTotals:
    """Return what the time up to a tick comes to, as the tick found the water."""
    warmest_c, coldest_c = tick.warmest_c, tick.coldest_c
    known = warmest_c is not None and coldest_c is not None
    above_k = max(0.0, warmest_c - tick.high_c) if warmest_c is not None else 0.0
    below_k = max(0.0, tick.low_c - coldest_c) if coldest_c is not None else 0.0
    was_on = {} if before is None else before.outputs
    return DayTotals(
        date=date,
        low_c=coldest_c,
        high_c=warmest_c,
        mean_c=warmest_c,
        known_s=span_s if known else 0.0,
        guarded_s=span_s,
        above_s=span_s if above_k else 0.0,
        below_s=span_s if below_k else 0.0,
        above_k_h=above_k * span_s / 3_600.0,
        below_k_h=below_k * span_s / 3_600.0,
        ran_s={name: span_s if was_on.get(name) else 0.0 for name in tick.outputs},
        starts={name: int(on and was_on.get(name) is False) for name, on in tick.outputs.items()},
    )


def added(one: DayTotals | None, other: DayTotals) -> DayTotals:
    """Return the totals of a day from two parts of it."""
    if one is None:
        return other
    known_s = one.known_s + other.known_s
    return DayTotals(
        date=one.date,
        low_c=_least(one.low_c, other.low_c),
        high_c=_most(one.high_c, other.high_c),
        mean_c=_mean(one, other, known_s),
        known_s=known_s,
        guarded_s=one.guarded_s + other.guarded_s,
        above_s=one.above_s + other.above_s,
        below_s=one.below_s + other.below_s,
        above_k_h=one.above_k_h + other.above_k_h,
        below_k_h=one.below_k_h + other.below_k_h,
        ran_s=_sums(one.ran_s, other.ran_s),
        starts={
            name: one.starts.get(name, 0) + other.starts.get(name, 0) for name in (one.starts | other.starts)
        },
    )


def _mean(one: DayTotals, other: DayTotals, known_s: float) -> float | None:
    if one.mean_c is None or other.mean_c is None:
        return one.mean_c if other.mean_c is None else other.mean_c
    if not known_s:
        return other.mean_c
    return one.mean_c + (other.mean_c - one.mean_c) * other.known_s / known_s


def _sums(one: Mapping[str, float], other: Mapping[str, float]) -> dict[str, float]:
    return {name: one.get(name, 0.0) + other.get(name, 0.0) for name in {**one, **other}}


def _least(one: float | None, other: float | None) -> float | None:
    known = [value for value in (one, other) if value is not None]
    return min(known) if known else None


def _most(one: float | None, other: float | None) -> float | None:
    known = [value for value in (one, other) if value is not None]
    return max(known) if known else None
