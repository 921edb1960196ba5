"""A year of a made-up tank in real databases, written as the guard writes them, only faster.

Three probes in the water, the room's air and humidity, two fans and a chiller; once a month the guard is
stopped for five minutes.  It ends on 14 July 2026.
"""

import math
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from reefguard.records.event_store import EventStore
from reefguard.records.events import Event
from reefguard.records.history import Minute, Run, Series, Span
from reefguard.records.history_store import HistoryStore

DAYS = 365
DAY_S = 86_400
ENDS_S = int(datetime(2026, 7, 14, 13, 5, tzinfo=UTC).timestamp())
BEGINS_S = ENDS_S - DAYS * DAY_S
WATER = (Series("display", "water"), Series("sump", "water"), Series("frag", "water"))
ROOM, HUMIDITY = Series("room", "room"), Series("room", "humidity")
BAND_C = (24.0, 27.0)

# As long as the guard gathers, and for the months that nobody measures.
BATCH, LARGE_BATCH = 10, 60


def water_c(at_s: float, place: int) -> float:
    """Return what a probe reads, as a mean over a minute: seasons, warm afternoons, ripples, some noise."""
    day = math.sin(2.0 * math.pi * (at_s / DAY_S - 0.4))
    season = math.sin(2.0 * math.pi * (at_s / (365.25 * DAY_S) - 0.3))
    ripple = 0.05 * math.sin(at_s / 613.0 + place) + 0.003 * (at_s // 60 * 7_919 % 13 - 6)
    return 25.9 + 0.5 * day + 0.75 * season + ripple - 0.15 * place


def steps_c(mean_c: float) -> tuple[float, float]:
    """Return the lowest and the highest reading around a mean: a probe's steps are sixteenths of a degree."""
    return math.floor(mean_c * 16.0) / 16.0, math.ceil(mean_c * 16.0) / 16.0


def on_at(minute_of_day: int) -> frozenset[str]:
    """Return what runs in a minute of the day: 27 starts in all."""
    on = set()
    if 600 <= minute_of_day < 1_320 and minute_of_day % 120 < 50:
        on |= {"fan1", "fan2"}
    if 720 <= minute_of_day < 1_320 and minute_of_day % 40 < 12:
        on.add("chiller")
    return frozenset(on)


def stopped(number: int) -> bool:
    """Whether the guard does not run in a minute of the year."""
    return number % (30 * 1_440) in range(600, 605)


def minutes(first_day: int, last_day: int) -> Iterator[Minute]:
    """Yield every minute of some days of it."""
    before: frozenset[str] = frozenset()
    for number in range(first_day * 1_440, last_day * 1_440):
        if stopped(number):
            before = frozenset()
            continue
        from_s = float(BEGINS_S + number * 60)
        spans = {}
        for place, series in enumerate(WATER):
            mean = water_c(from_s, place)
            spans[series] = Span(from_s, 60.0, mean, *steps_c(mean), 1.0)
        warmest_c, coldest_c = spans[WATER[0]].mean, spans[WATER[2]].mean
        room_c, damp = 22.0 + 3.0 * (warmest_c - 25.6), 0.55 - 0.1 * (warmest_c - 25.9)
        spans[ROOM] = Span(from_s, 60.0, room_c, room_c - 0.1, room_c + 0.1, 1.0)
        spans[HUMIDITY] = Span(from_s, 60.0, damp, damp - 0.01, damp + 0.01, 1.0)
        on = on_at(int(from_s) % DAY_S // 60)
        over_k = max(0.0, warmest_c - BAND_C[1])
        yield Minute(
            from_s=from_s,
            until_s=from_s + 60.0,
            date=datetime.fromtimestamp(from_s, UTC).date().isoformat(),
            spans=spans,
            runs=tuple(Run(name, from_s, from_s + 60.0, name not in before) for name in sorted(on)),
            running=on,
            known_s=60.0,
            low_c=coldest_c,
            high_c=warmest_c,
            warmest_c_s=warmest_c * 60.0,
            above_s=60.0 if over_k else 0.0,
            above_k_s=over_k * 60.0,
        )
        before = on


def fill(store: HistoryStore, first_day: int, last_day: int, batch: int) -> None:
    """Write some days as the guard's queue does."""
    waiting: list[Minute] = []
    for minute in minutes(first_day, last_day):
        waiting.append(minute)
        if len(waiting) == batch:
            store.tidy()
            store.write(waiting)
            waiting.clear()
    store.write(waiting)


def events() -> Iterator[Event]:
    """Yield what happened in the year: 54 changes of outputs a day, an alarm each hot day, the stops."""
    yield _event(0, "guard", "guard", "started", last_run_ended=None)
    on: frozenset[str] = frozenset()
    high_since = -1
    for number in range(DAYS * 1_440):
        if stopped(number) != stopped(number - 1) and number:
            change = "stopped" if stopped(number) else "started"
            yield _event(number, "guard", "guard", change, last_run_ended="cleanly")
        of_minute = frozenset() if stopped(number) else on_at(_of_day(number))
        for name in sorted(on ^ of_minute):
            yield _event(number, "output", name, "on" if name in of_minute else "off", level=1.0)
        on = of_minute
        high = number % 10 == 0 and water_c(BEGINS_S + number * 60, 0) > BAND_C[1]
        if high and high_since < 0:
            high_since = number
            yield _event(number, "alarm", "water high", "raised")
        if high_since >= 0 and number == high_since + 25:
            yield _event(number, "alarm", "water high", "acknowledged")
        if high_since >= 0 and number == high_since + 360:
            yield _event(number, "alarm", "water high", "returned")
            high_since = -1


def _of_day(number: int) -> int:
    return (BEGINS_S // 60 + number) % 1_440


def _event(number: int, kind: str, subject: str, change: str, **details: object) -> Event:
    at_wall = datetime.fromtimestamp(BEGINS_S + number * 60, UTC).isoformat()
    priority, who = (3, "anna" if change == "acknowledged" else None) if kind == "alarm" else (None, None)
    what = f"{subject} {change}"
    return Event("b", number * 60.0, at_wall, True, kind, subject, change, what, priority, who, details)


def kept_year(directory: Path) -> Path:
    """Return a directory that holds the year, made there unless it is there already."""
    if not (directory / "history.db").exists():
        directory.mkdir(parents=True, exist_ok=True)
        history = HistoryStore(directory)
        fill(history, 0, DAYS, LARGE_BATCH)
        history.close()
    if not (directory / "events.db").exists():
        store = EventStore(directory)
        store.append(list(events()))
        store.close()
    return directory
