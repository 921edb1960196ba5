"""When the guard was at work, by its own events and by what it wrote; and how the probes did meanwhile."""

import pytest
from invented_past import ZONE, at, event

from reefguard.lookback.evidence import Evidence, evidence
from reefguard.lookback.guarded import Away, guard_found, observed
from reefguard.lookback.probes import apart, probes_found
from reefguard.lookback.stretch import Stretch
from reefguard.records.events import Event
from reefguard.records.history import DayTotals, Past, Series, Span, Watch

MORNING = Stretch(at("2026-07-20 06:00"), at("2026-07-20 12:00"))
DISPLAY, SUMP = Series("display", "water"), Series("sump", "water")


def minutes(begins: str, ends: str, mean: float = 26.0, good: float = 1.0) -> tuple[Span, ...]:
    from_s, until_s = at(f"2026-07-20 {begins}"), at(f"2026-07-20 {ends}")
    count = round((until_s - from_s) / 60.0)
    return tuple(Span(from_s + 60.0 * n, 60.0, mean, mean, mean, good) for n in range(count))


def seen(*spans: tuple[Span, ...], events: tuple[Event, ...] = (), sump: tuple[Span, ...] = ()) -> Evidence:
    series = {DISPLAY: tuple(span for part in spans for span in part)} | ({SUMP: sump} if sump else {})
    return evidence(MORNING, ZONE, Past(*MORNING, 60.0, series, ()), (), events)


def started(when: str, ended: str | None) -> Event:
    return event(at(f"2026-07-20 {when}"), "guard", "guard", "started", details={"last_run_ended": ended})


def stopped(when: str) -> Event:
    return event(at(f"2026-07-20 {when}"), "guard", "guard", "stopped")


def away(begins: str, ends: str, *, asked: bool) -> Away:
    return Away(at(f"2026-07-20 {begins}"), at(f"2026-07-20 {ends}"), asked)


def test_a_guard_that_wrote_all_along_was_there_all_along() -> None:
    found = guard_found(seen(minutes("06:00", "12:00")))
    assert (found.starts, found.away, found.guarded_s) == ((), (), 6 * 3_600.0)


def test_from_a_stop_to_the_next_start_it_was_away_as_it_was_asked_to() -> None:
    there = seen(
        minutes("06:00", "08:01"),
        minutes("09:00", "12:00"),
        events=(stopped("08:00"), started("09:00", "cleanly")),
    )
    found = guard_found(there)
    assert found.away == (away("08:00", "09:00", asked=True),)
    assert found.unexpected == ()
    assert found.guarded_s == 5 * 3_600.0


def test_after_a_power_cut_it_was_away_since_its_last_sign() -> None:
    there = seen(
        minutes("06:00", "08:00"), minutes("09:30", "12:00"), events=(started("09:30", "unexpectedly"),)
    )
    found = guard_found(there)
    assert found.away == (away("08:00", "09:30", asked=False),)
    assert len(found.unexpected) == 1


def test_what_it_told_as_it_started_is_no_sign_of_it_before() -> None:
    mode = event(at("2026-07-20 09:30"), "mode", "guard", "schedule")
    first = guard_found(seen(minutes("09:30", "12:00"), events=(started("09:30", None), mode)))
    assert first.away == (away("06:00", "09:30", asked=False),)
    cut = seen(
        minutes("06:00", "08:00"),
        minutes("09:30", "12:00"),
        events=(started("09:30", "unexpectedly"), mode),
    )
    assert guard_found(cut).away == (away("08:00", "09:30", asked=False),)


def watch(begins: str, ends: str) -> Watch:
    return Watch(at(f"2026-07-20 {begins}"), at(f"2026-07-20 {ends}"))


def test_where_it_is_known_when_it_recorded_hours_do_not_blur_its_absence() -> None:
    hours = tuple(
        Span(at(f"2026-07-20 {hour:02}:00"), 3_600.0, 26.0, 26.0, 26.0, 1.0) for hour in range(6, 12)
    )
    there = seen(hours, events=(started("10:25", "unexpectedly"),))
    there = there._replace(past=there.past._replace(span_s=3_600.0))
    assert guard_found(there).away == (away("10:00", "10:25", asked=False),), "as far as hours tell"
    known = there._replace(watches=(watch("06:00", "10:20"), watch("10:25", "12:00")))
    assert guard_found(known).away == (away("10:20", "10:25", asked=False),)
    silent = there._replace(watches=(watch("06:00", "11:30"),), events=())
    assert guard_found(silent).away == (away("11:30", "12:00", asked=False),)
    still = there._replace(watches=(watch("06:00", "12:00"),), events=())
    assert guard_found(still).away == ()


def test_an_absence_over_midnight_begins_in_the_evening() -> None:
    stretch = Stretch(at("2026-07-20 00:00"), at("2026-07-22 00:00"))
    totals = tuple(totals_for(f"2026-07-{day}") for day in (20, 21))
    born = event(at("2026-07-21 08:00"), "guard", "guard", "started", details={"last_run_ended": None})
    there = evidence(stretch, ZONE, Past(*stretch, 3_600.0, {}, ()), totals, (born,))
    watches = (Watch(stretch.from_s, at("2026-07-20 18:00")), Watch(at("2026-07-21 08:00"), stretch.until_s))
    (found,) = guard_found(there._replace(watches=watches)).away
    assert (found.from_s, found.until_s) == (at("2026-07-20 18:00"), at("2026-07-21 08:00"))


def totals_for(date: str) -> DayTotals:
    return DayTotals(date, 25.0, 26.0, 25.5, 3_600.0, 3_600.0, 0.0, 0.0, 0.0, 0.0, {}, {})


def test_probes_that_die_do_not_make_the_guard_absent() -> None:
    alive = event(at("2026-07-20 11:55"), "output", "fan1", "on")
    found = guard_found(seen(minutes("06:00", "07:00"), events=(alive,)))
    assert found.away == ()


def test_silence_at_the_end_is_an_absence_once_a_batch_should_have_been_written() -> None:
    assert guard_found(seen(minutes("06:00", "11:45"))).away == ()
    assert guard_found(seen(minutes("06:00", "11:00"))).away == (away("11:00", "12:00", asked=False),)
    stop = seen(minutes("06:00", "11:58"), events=(stopped("11:58"),))
    assert guard_found(stop).away == (away("11:58", "12:00", asked=True),)


def test_nothing_at_all_is_an_absence_from_beginning_to_end() -> None:
    found = guard_found(seen())
    assert found.away == (away("06:00", "12:00", asked=False),)
    assert found.guarded_s == 0.0


def test_a_probe_is_judged_by_the_time_the_guard_was_there() -> None:
    there = seen(
        minutes("06:00", "08:00"),
        minutes("10:00", "12:00"),
        events=(stopped("08:00"), started("10:00", "cleanly")),
        sump=(*minutes("06:00", "07:00", good=0.5), *minutes("11:00", "12:00")),
    )
    watched = observed(there, guard_found(there))
    display, sump, absent = probes_found(there, ("display", "sump", "third"), watched)
    assert (display.good, display.gaps, display.longest_gap_s) == (1.0, 0, None)
    assert sump.good == pytest.approx(1.5 / 4.0)
    assert (sump.gaps, sump.longest_gap_s) == (2, 3_600.0)
    assert (absent.good, absent.gaps) == (0.0, 2)


def test_without_spans_a_probe_is_not_called_bad() -> None:
    there = seen()
    (display,) = probes_found(there, ("display",), observed(there, guard_found(there)))
    assert (display.good, display.gaps) == (None, 0)


def test_two_probes_are_compared_where_both_are_known() -> None:
    there = seen(
        minutes("06:00", "09:00", 26.0),
        sump=(
            *minutes("07:00", "08:00", 26.5),
            *minutes("08:00", "09:00", 25.0),
            *minutes("10:00", "11:00", 20.0),
        ),
    )
    (pair,) = apart(there)
    assert (pair.one, pair.other, pair.known_s) == ("display", "sump", 7_200.0)
    assert pair.mean_k == pytest.approx(0.25)
    assert (pair.most_k, pair.most_at_s) == (1.0, at("2026-07-20 08:00"))
