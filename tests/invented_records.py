"""An invented past in real databases, minute by minute, as the guard would have written it."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from invented_past import ZONE, Invented

from reefguard.records.event_store import EventStore
from reefguard.records.history import Interval, Minute, Past, Run, Series, Span
from reefguard.records.history_store import HistoryStore
from reefguard.settings.model import SafeBand

_MINUTE_S = 60
_AT_ONCE = 60


def write_records(directory: Path, invented: Invented, band: SafeBand) -> None:
    """Write all of it into a directory."""
    events = EventStore(directory)
    events.append(invented.recorded)
    events.close()
    history = HistoryStore(directory)
    waiting: list[Minute] = []
    for minute in minutes_of(invented.whole, band):
        waiting.append(minute)
        if len(waiting) == _AT_ONCE:
            history.tidy()
            assert history.write(waiting) == 0
            waiting.clear()
    assert history.write(waiting) == 0
    history.close()


def minutes_of(past: Past, band: SafeBand) -> Iterator[Minute]:
    """Yield the minutes that a past of whole minutes, or of longer spans, consists of."""
    spans: dict[int, dict[Series, Span]] = defaultdict(dict)
    for series, found in past.series.items():
        for span in found:
            for from_s in range(int(span.from_s), int(span.from_s + span.lasts_s), _MINUTE_S):
                spans[from_s][series] = span._replace(from_s=float(from_s), lasts_s=float(_MINUTE_S))
    runs: dict[int, list[Run]] = defaultdict(list)
    for one in past.intervals:
        for run in _pieces(one):
            runs[int(run.from_s) // _MINUTE_S * _MINUTE_S].append(run)
    for from_s in sorted(spans.keys() | runs.keys()):
        yield _minute(from_s, spans[from_s], tuple(runs[from_s]), band)


def _pieces(one: Interval) -> Iterator[Run]:
    begins_s, start = one.from_s, one.start
    while begins_s < one.until_s:
        ends_s = min(one.until_s, (begins_s // _MINUTE_S + 1) * _MINUTE_S)
        yield Run(one.output, begins_s, ends_s, start)
        begins_s, start = ends_s, False


def _minute(from_s: int, spans: dict[Series, Span], runs: tuple[Run, ...], band: SafeBand) -> Minute:
    until_s = float(from_s + _MINUTE_S)
    water = [span for series, span in spans.items() if series.kind == "water"]
    whole = Minute(
        from_s=float(from_s),
        until_s=until_s,
        date=datetime.fromtimestamp(from_s, ZONE).date().isoformat(),
        spans=spans,
        runs=runs,
        running=frozenset(run.output for run in runs if run.until_s == until_s),
    )
    if not water:
        return whole
    warmest_c, coldest_c = max(span.mean for span in water), min(span.mean for span in water)
    over_k, under_k = max(0.0, warmest_c - band.high_c), max(0.0, band.low_c - coldest_c)
    return whole._replace(
        known_s=float(_MINUTE_S),
        low_c=min(span.low for span in water),
        high_c=max(span.high for span in water),
        warmest_c_s=warmest_c * _MINUTE_S,
        above_s=float(_MINUTE_S) if over_k else 0.0,
        below_s=float(_MINUTE_S) if under_k else 0.0,
        above_k_s=over_k * _MINUTE_S,
        below_k_s=under_k * _MINUTE_S,
    )
