"""What there is to look back on: the history's spans, intervals and totals, events, commissioning."""

from bisect import bisect_left
from collections.abc import Iterator
from datetime import date, datetime, tzinfo
from typing import NamedTuple

from reefguard.commissioning.record import Record
from reefguard.lookback.stretch import Stretch, day_of, rest, whole_days
from reefguard.records.events import Event
from reefguard.records.history import HOUR_S, DayTotals, Interval, Past, Span, Watch


class Evidence(NamedTuple):
    """What is known of a stretch of time.

    Attributes:
        stretch: that is looked back on.
        zone: the keeper's.
        past: of the stretch, or of more.
        totals: of its whole days, as far as there are any.
        events: of the stretch or of more, in order; a moment each, Unix seconds.
        watches: when in the stretch, or in a little more, the guard recorded; empty where nobody knows.
        records: of commissioning, all that were ever written, in order.
    """

    stretch: Stretch
    zone: tzinfo
    past: Past
    totals: dict[date, DayTotals]
    events: tuple[tuple[float, Event], ...]
    watches: tuple[Watch, ...] = ()
    records: tuple[Record, ...] = ()

    @property
    def rest(self) -> tuple[Stretch, ...]:
        """What no day's totals tell."""
        return rest(self.stretch, self.totals, self.zone)

    @property
    def spans_gone(self) -> tuple[date, ...]:
        """The days of which only the totals are left."""
        starts = sorted(span.from_s for span in water_spans(self.past))
        return tuple(
            day
            for day, totals in self.totals.items()
            if totals.known_s > 0.0 and not _any_in(starts, day_of(day, self.zone))
        )

    @property
    def nothing(self) -> bool:
        """Whether nothing at all is known."""
        spans = any(
            self.stretch.overlap_s(span.from_s, span.from_s + span.lasts_s) > 0.0
            for spans in self.past.series.values()
            for span in spans
        )
        told = any(self.stretch.holds(at_s) for at_s, _ in self.events)
        return not (spans or told or intervals_in(self.past.intervals, self.stretch) or self.totals)


def evidence(
    stretch: Stretch,
    zone: tzinfo,
    past: Past,
    totals: tuple[DayTotals, ...],
    events: tuple[Event, ...],
    *,
    watches: tuple[Watch, ...] = (),
    records: tuple[Record, ...] = (),
) -> Evidence:
    """Sort what was read.

    Args:
        stretch: to be looked back on.
        zone: the keeper's.
        past: of the stretch, or of more.
        totals: of any days; those of whole days of the stretch are kept.
        events: in any order, of any time.
        watches: of the stretch, or of more.
        records: of commissioning, in the order they were written.
    """
    days = frozenset(whole_days(stretch, zone))
    by_date = {date.fromisoformat(one.date): one for one in totals}
    at = sorted(
        ((datetime.fromisoformat(event.at_wall).timestamp(), event) for event in events),
        key=lambda pair: pair[0],
    )
    known = {day: one for day, one in sorted(by_date.items()) if day in days}
    return Evidence(stretch, zone, past, known, tuple(at), watches=watches, records=records)


def intervals_in(intervals: tuple[Interval, ...], stretch: Stretch) -> tuple[Interval, ...]:
    """Cut intervals to a stretch; one that began before it has no start in it."""
    return tuple(
        Interval(
            one.output,
            max(one.from_s, stretch.from_s),
            min(one.until_s, stretch.until_s),
            one.running or one.until_s > stretch.until_s,
            one.start and one.from_s >= stretch.from_s,
        )
        for one in intervals
        if stretch.overlap_s(one.from_s, one.until_s) > 0.0
    )


def spans_near(spans: tuple[Span, ...], stretch: Stretch) -> tuple[Span, ...]:
    """Return the spans that touch a stretch, and at most an hour before it, without looking at all of them.

    Args:
        spans: in order of time.
        stretch: that is asked for.
    """
    first = bisect_left(spans, stretch.from_s - HOUR_S, key=_from_s)
    return spans[first : bisect_left(spans, stretch.until_s, key=_from_s)]


def _from_s(span: Span) -> float:
    return span.from_s


def _any_in(starts: list[float], day: Stretch) -> bool:
    place = bisect_left(starts, day.from_s)
    return place < len(starts) and starts[place] < day.until_s


class Water(NamedTuple):
    """The warmest and the coldest probe over one span, degrees Celsius."""

    from_s: float
    lasts_s: float
    warmest_c: float
    coldest_c: float


def water_of(past: Past) -> tuple[Water, ...]:
    """Return the water span by span, in order of time, by the means of its probes."""
    together: dict[tuple[float, float], list[float]] = {}
    for span in water_spans(past):
        together.setdefault((span.from_s, span.lasts_s), []).append(span.mean)
    return tuple(
        Water(from_s, lasts_s, max(means), min(means))
        for (from_s, lasts_s), means in sorted(together.items())
    )


def water_spans(past: Past) -> Iterator[Span]:
    """Yield the spans of all probes in the water."""
    for series, spans in past.series.items():
        if series.kind == "water":
            yield from spans
