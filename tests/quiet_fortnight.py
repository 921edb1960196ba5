"""Two weeks of an invented tank, simple enough to check by hand: 25 August to 7 September 2025, in Rome.

Water swings by a sine over each day around 26 °C, in the second week 1 K more widely; fans run from 10:00 to
20:00, the chiller twice a day; on 3 September the guard is stopped for an hour, on the 5th a probe hangs.
"""

from datetime import datetime
from functools import cache
from math import pi, sin

from invented_past import DISPLAY, SUMP, ZONE, Invented, at, event, settings_of, totals_of

from reefguard.commissioning.record import Record
from reefguard.lookback.evidence import evidence
from reefguard.lookback.found import Found, look_back
from reefguard.lookback.stretch import Stretch
from reefguard.records.events import Event
from reefguard.records.history import Interval, Past, Span
from reefguard.settings.model import Settings

BEGINS_S, WEEK_S, DAY_S = at("2025-08-25 00:00"), 7 * 86_400.0, 86_400.0
ENDS_S = BEGINS_S + 2 * WEEK_S
STOP_S = at("2025-09-03 10:00")
LOOSE_S = at("2025-09-05 03:00")
STEP_S = 300.0


def quiet_fortnight() -> tuple[Invented, Settings]:
    """Return it, and its settings."""
    settings = settings_of()
    past = Past(BEGINS_S, ENDS_S, STEP_S, {DISPLAY: _spans(0.0), SUMP: _spans(-0.25)}, _runs())
    events = sorted(_events(), key=lambda one: one.at_boot_s)
    return Invented(past, totals_of(past, settings.safe_band), tuple(events), (_spring(), _test())), settings


@cache
def invented() -> tuple[Invented, Settings]:
    """Return it, made once for all who only look."""
    return quiet_fortnight()


def found_in(stretch: Stretch, there: Invented | None = None, *, settings: Settings | None = None) -> Found:
    """Return what looking back finds of a stretch; where nothing else is given, of the fortnight."""
    usual, usual_settings = invented()
    there = there or usual
    past = there.past(stretch.from_s - 60.0, stretch.until_s, 1)
    days = there.days("2025-08-01", "2025-12-31")
    seen = evidence(stretch, ZONE, past, days, there.recorded, records=there.commissioned)
    return look_back(seen, settings or usual_settings)


def _spring() -> Record:
    when = datetime.fromtimestamp(at("2025-05-01 10:00"), ZONE)
    return Record("calibration", "sump", when, True, "jon", "the reef", "passed", "it reads 0.1 °C low")


def _test() -> Record:
    when = datetime.fromtimestamp(at("2025-09-06 11:00"), ZONE)
    what = "the chiller stopped in 2 s"
    return Record(
        "proof test", "cutoff", when, True, "jon", "the reef", "passed", what, {"moves": [{"on": False}]}
    )


def _away(at_s: float) -> bool:
    return STOP_S <= at_s < STOP_S + 3_600.0


def _spans(off_k: float) -> tuple[Span, ...]:
    found = []
    for step in range(round((ENDS_S - BEGINS_S) / STEP_S)):
        at_s = BEGINS_S + step * STEP_S
        if _away(at_s) or (off_k and LOOSE_S <= at_s < LOOSE_S + 7_200.0):
            continue
        swing_k = 0.6 if at_s < BEGINS_S + WEEK_S else 1.6
        # Warmest at 18:00.
        mean_c = (
            round((26.0 + off_k + swing_k * sin(2.0 * pi * ((at_s - BEGINS_S) / DAY_S - 0.5))) * 16.0) / 16.0
        )
        found.append(Span(at_s, STEP_S, mean_c, mean_c - 0.0625, mean_c + 0.0625, 1.0))
    return tuple(found)


def _runs() -> tuple[Interval, ...]:
    found = []
    for day in range(14):
        midnight_s = BEGINS_S + day * DAY_S
        longer_s = 0.0 if day < 7 else 7_200.0
        plan = [("fan1", 10.0, 36_000.0), ("fan2", 10.0, 36_000.0)]
        plan += [("chiller", 16.0, 3_600.0 + longer_s), ("chiller", 21.0, 1_800.0)]
        for name, hour, lasts_s in plan:
            from_s = midnight_s + 3_600.0 * hour
            until_s = from_s + lasts_s
            if _away(from_s):
                from_s = STOP_S + 3_600.0
            found.append(Interval(name, from_s, until_s, False, True))
    return tuple(sorted(found, key=lambda one: one.from_s))


def _events() -> list[Event]:
    told = [
        event(STOP_S, "guard", "guard", "stopped", "the guard has stopped, as it was asked to"),
        event(
            STOP_S + 3_600.0,
            "guard",
            "guard",
            "started",
            "it has started",
            details={"last_run_ended": "cleanly"},
        ),
        event(LOOSE_S + 300.0, "alarm", "probe sump not used", "raised", priority=2),
        event(LOOSE_S + 7_500.0, "alarm", "probe sump not used", "returned", priority=2),
        event(LOOSE_S + 9_000.0, "alarm", "probe sump not used", "acknowledged", priority=2, who="anna"),
        event(
            LOOSE_S + 9_000.0,
            "command",
            "acknowledge",
            "asked",
            "anna acknowledges: probe sump not used",
            who="anna",
        ),
    ]
    for day in range(7):
        raised_s = BEGINS_S + WEEK_S + day * DAY_S + 16.0 * 3_600.0
        told += [
            event(raised_s, "alarm", "water high", "raised", priority=3),
            event(raised_s + 1_200.0, "alarm", "water high", "acknowledged", priority=3, who="jon"),
            event(raised_s + 5.0 * 3_600.0, "alarm", "water high", "returned", priority=3),
        ]
    return told
