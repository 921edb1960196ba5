"""What the page is given in tests: a present, a made-up past, and the application over both."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from flask import Flask
from guard_said import WRITTEN, alarm, status

from reefguard.link.notes import Now
from reefguard.link.page.charts import Limits
from reefguard.link.page.web import Sources, Tank, application
from reefguard.records.events import Event, Recorded
from reefguard.records.history import Interval, Past, Series, Span
from reefguard.records.history_reader import NoHistory
from reefguard.records.status_file import NoStatus
from reefguard.settings.model import SafeBand, Unit

ZONE = timezone(timedelta(hours=2))
NOW_S = WRITTEN.timestamp()
LIMITS = Limits(SafeBand(24.0, 27.8), ((26.6, "fans cut in"), (27.2, "chiller cuts in")))


def span_for(lasts_s: float, most: int) -> int:
    """Return how fine a stretch can be told in at most so many spans, as the history does it."""
    return next((one for one in (60, 300, 3_600) if lasts_s / one <= most), 3_600)


def made_up_past(from_s: float, until_s: float, most: int) -> Past:
    """Make up a past: days, a warm week, two probes, an hour without readings, fans by day."""
    span_s = span_for(until_s - from_s, most)
    first = math.ceil(from_s / span_s)
    starts = [index * span_s for index in range(first, math.floor(until_s / span_s))]
    gap_s = from_s + 0.55 * (until_s - from_s)
    gap_until_s = gap_s + max(3_600.0, 0.04 * (until_s - from_s))

    def water(at_s: float, probe: float) -> float:
        day = math.sin(2.0 * math.pi * (at_s / 86_400.0 - 0.35))
        season = math.sin(2.0 * math.pi * (at_s / 31_557_600.0 - 0.28))
        ripple = 0.05 * math.sin(at_s / 613.0 + probe) + 0.03 * math.sin(at_s / 171.0)
        return 25.9 + 0.55 * day + 0.75 * season + ripple - 0.15 * probe

    def spans(probe: float) -> tuple[Span, ...]:
        return tuple(
            Span(at, span_s, value := round(water(at, probe), 3), value - 0.06, value + 0.06, 1.0)
            for at in starts
            if not gap_s < at < gap_until_s
        )

    def room() -> tuple[Span, ...]:
        return tuple(
            Span(at, span_s, value := 24.0 + 4.0 * (water(at, 0.0) - 25.6), value - 0.3, value + 0.3, 1.0)
            for at in starts
        )

    intervals: list[Interval] = []
    for day in range(math.floor(from_s / 86_400.0) - 1, math.ceil(until_s / 86_400.0)):
        noon_s = day * 86_400.0 + 36_000.0
        for name, offset_s, lasts_s in (
            ("fan1", 0.0, 32_000.0),
            ("fan2", 7_200.0, 14_000.0),
            *(("chiller", 12_000.0 + 2_400.0 * round_, 900.0) for round_ in range(6)),
        ):
            begin, end = noon_s + offset_s, noon_s + offset_s + lasts_s
            if end > from_s and begin < until_s:
                intervals.append(
                    Interval(name, max(begin, from_s), min(end, until_s), end > until_s, begin >= from_s)
                )
    series = {
        Series("display", "water"): spans(0.0),
        Series("sump", "water"): spans(1.0),
        Series("room", "room"): room(),
    }
    return Past(from_s, until_s, span_s, series, tuple(sorted(intervals, key=lambda one: one.from_s)))


def no_past(from_s: float, until_s: float, most: int) -> Past:
    """Have no history."""
    del from_s, until_s, most
    raise NoHistory("/var/lib/reefguard/history.db is not there: no guard has run with these settings")


def event(seq: int, change: str, name: str, at_s: float) -> Recorded:
    """Return an event about an alarm."""
    at_wall = datetime.fromtimestamp(at_s, UTC).isoformat()
    return Recorded(seq, Event("b", 0.0, at_wall, True, "alarm", name, change, f"{name} it is", 3))


@dataclass
class World:
    """What the page sees; a test changes it while the page is served."""

    read: Any = field(default_factory=status)
    boot_s: float = 1_001.5
    past: Callable[[float, float, int], Past] = made_up_past
    events: Sequence[Recorded] = ()

    def now(self) -> Now:
        """Return the present."""
        local = datetime.fromtimestamp(NOW_S + self.boot_s - 1_000.0, ZONE)
        return Now(self.boot_s, "b", local, trusted=True)

    def warns(self) -> None:
        """Let two alarms stand."""
        self.read = status(
            water={
                "warmest_c": 28.94,
                "warmest_probe": "display",
                "coldest_c": 28.75,
                "coldest_probe": "sump",
                "age_s": 2.0,
            },
            alarms=[
                alarm(
                    "water far too high",
                    "display reads 28.94 °C, 1.14 °C above the safe band",
                    priority=4,
                    means="the water is a degree or more above the safe band; animals die in hours",
                    first="lights off, doors and lids open, fans over the water; float closed bottles of ice",
                ),
                alarm("chiller does not start", "the chiller is commanded on and stands", priority=3),
                alarm("probe sump suspect", "the probes are 1.1 °C apart", priority=2, state="shelved"),
            ],
        )
        self.events = (
            event(1, "raised", "water far too high", NOW_S - 9_000.0),
            event(2, "raised", "chiller does not start", NOW_S - 30_000.0),
            event(3, "returned", "chiller does not start", NOW_S - 27_000.0),
        )

    def falls_silent(self) -> None:
        """Let the guard have written nothing for ten minutes."""
        self.boot_s = 1_600.0

    def loses_its_file(self) -> None:
        """Have no status."""
        self.read = NoStatus("/run/reefguard/status.json is not there: the program is not running")

    def application(self, **changes: Any) -> Flask:
        """Return the page over this world."""
        values: dict[str, Any] = {
            "name": "Lagoon",
            "unit": Unit.CELSIUS,
            "limits": LIMITS,
            "silent_after_s": 60.0,
            "version": "0.1.0",
            "zone": ZONE,
            "hosts": frozenset({"localhost", "127.0.0.1", "[::1]", "tankpi", "tankpi.local"}),
        }
        return application(self.sources(), Tank(**(values | changes)))

    def sources(self) -> Sources:
        """Return where the page has it from; each looks at this world anew."""

        def past(from_s: float, until_s: float, most: int) -> Past:
            return self.past(from_s, until_s, most)

        return Sources(self.now, lambda: self.read, past, lambda: self.events)
