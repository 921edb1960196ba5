"""Ticks become minutes: no moment twice, none that nobody saw, whatever the clocks do."""

from collections.abc import Iterable
from datetime import datetime
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ticks import DISPLAY, HUMIDITY, NOON_S, SUMP, Ticks

from reefguard.records.history import Minute, Run, Span
from reefguard.records.history_gather import MOST_HELD, Water

BAND = (24.0, 27.8)


def water(coldest_c: float, warmest_c: float) -> Water:
    return Water(coldest_c, warmest_c, *BAND)


def seen_s(minutes: Iterable[Minute]) -> float:
    return round(sum(minute.until_s - minute.from_s for minute in minutes), 3)


def test_a_minute_holds_the_mean_over_time_its_extremes_and_how_much_of_it_was_good() -> None:
    ticks = Ticks()
    ticks.tick(0.0, values={DISPLAY: 26.0, HUMIDITY: 0.5})
    ticks.tick(30.0, values={DISPLAY: 27.0})
    ticks.tick(15.0)
    (minute,) = ticks.tick(15.0)
    assert (minute.from_s, minute.until_s, minute.date) == (NOON_S, NOON_S + 60, "2031-07-14")
    mean_c = (26.0 * 30 + 27.0 * 15) / 45
    assert set(minute.spans) == {DISPLAY, HUMIDITY}
    assert tuple(minute.spans[DISPLAY]) == pytest.approx((NOON_S, 60, mean_c, 26.0, 27.0, 0.75))
    assert minute.spans[HUMIDITY] == Span(NOON_S, 60, 0.5, 0.5, 0.5, 0.5)


def test_what_could_not_be_used_makes_a_gap_not_a_number() -> None:
    ticks = Ticks()
    for _ in range(13):
        ticks.tick(values={SUMP: 26.0})
    for _ in range(12):
        ticks.tick()
    assert [set(minute.spans) for minute in ticks.minutes] == [{SUMP}, {SUMP}]
    assert ticks.minutes[0].spans[SUMP].good == pytest.approx(55 / 60)
    assert ticks.minutes[1].spans[SUMP].good == pytest.approx(10 / 60)


def test_the_water_is_held_against_the_band() -> None:
    ticks = Ticks()
    ticks.tick(0.0, water=water(25.0, 28.8))
    ticks.tick(20.0, water=water(23.5, 26.0))
    ticks.tick(20.0)
    (minute,) = ticks.tick(20.0)
    assert (minute.known_s, minute.low_c, minute.high_c) == (40.0, 23.5, 28.8)
    assert minute.warmest_c_s == pytest.approx(28.8 * 20 + 26.0 * 20)
    assert (minute.above_s, minute.below_s) == (20.0, 20.0)
    assert minute.above_k_s == pytest.approx(1.0 * 20)
    assert minute.below_k_s == pytest.approx(0.5 * 20)


def test_water_that_was_never_known_has_no_extremes() -> None:
    ticks = Ticks()
    ticks.tick(0.0)
    (minute,) = ticks.tick(60.0)
    assert (minute.known_s, minute.low_c, minute.high_c) == (0.0, None, None)


def test_outputs_are_runs_that_go_on_from_minute_to_minute() -> None:
    ticks = Ticks(on=["fan2"])
    ticks.tick(0.0, on=["fan2"])
    ticks.tick(30.0, on=["fan1", "fan2"])
    ticks.tick(40.0, on=["fan1"])
    ticks.tick(20.0)
    ticks.tick(10.0, on=["fan1"])
    ticks.tick(20.0)
    first, second = ticks.minutes
    assert first.runs == (
        Run("fan2", NOON_S, NOON_S + 60, start=False),
        Run("fan1", NOON_S + 30, NOON_S + 60, start=True),
    )
    assert first.running == {"fan1", "fan2"}
    assert second.runs == (
        Run("fan1", NOON_S + 60, NOON_S + 90, start=False),
        Run("fan2", NOON_S + 60, NOON_S + 70, start=False),
        Run("fan1", NOON_S + 100, NOON_S + 120, start=True),
    )
    assert second.running == {"fan1"}


def test_the_end_leaves_nothing_running_also_when_it_falls_on_the_minute() -> None:
    for after_s in (20.0, 60.0):
        ticks = Ticks()
        ticks.tick(0.0, on=["fan1"])
        (minute,) = ticks.finish(after_s)
        assert minute.runs == (Run("fan1", NOON_S, NOON_S + after_s, start=True),)
        assert minute.running == frozenset()
    assert Ticks().finish() == []


def test_between_ticks_that_lie_too_far_apart_nothing_is_known() -> None:
    ticks = Ticks()
    ticks.tick(0.0, values={DISPLAY: 26.0}, on=["fan1"])
    ticks.tick(10.0, values={DISPLAY: 26.0}, on=["fan1"])
    (before,) = ticks.tick(600.0, values={DISPLAY: 27.0}, on=["fan1"])
    (after,) = ticks.finish(10.0)
    assert (before.from_s, before.until_s) == (NOON_S, NOON_S + 10)
    assert (after.from_s, after.until_s) == (NOON_S + 610, NOON_S + 620)
    assert after.runs == (Run("fan1", NOON_S + 610, NOON_S + 620, start=False),)


def test_a_clock_set_forward_ends_the_minute_and_leaves_a_gap() -> None:
    ticks = Ticks()
    ticks.tick(0.0, on=["fan1"])
    ticks.tick(10.0, on=["fan1"])
    ticks.wall_s += 3_600
    assert ticks.tick(10.0, on=["fan1"]) == [], "one look is no proof"
    (before,) = ticks.tick(10.0, on=["fan1"])
    assert (before.from_s, before.until_s) == (NOON_S, NOON_S + 30), "by the boot clock"
    (after,) = ticks.finish(10.0)
    assert (after.from_s, after.until_s) == (NOON_S + 3_630, NOON_S + 3_640)
    assert [run.start for run in after.runs] == [False]


def test_a_clock_set_back_has_no_negative_length() -> None:
    ticks = Ticks()
    ticks.tick(0.0)
    ticks.wall_s -= 3_600
    ticks.tick(10.0)
    ticks.tick(10.0)
    ticks.finish(10.0)
    assert [(one.from_s - NOON_S, one.until_s - NOON_S) for one in ticks.minutes] == [
        (0, 20),
        (-3_580, -3_570),
    ]


def test_one_late_look_at_the_clock_cuts_no_run() -> None:
    # Stopped for two seconds between its looks at the two clocks.
    ticks = Ticks()
    ticks.tick(0.0, on=["fan1"])
    ticks.tick(10.0, on=["fan1"])
    ticks.wall_s += 2.0
    ticks.tick(10.0, on=["fan1"])
    ticks.wall_s -= 2.0
    for _ in range(2):
        ticks.tick(10.0, on=["fan1"])
    ticks.finish(10.0)
    (minute,) = ticks.minutes
    assert (minute.from_s, minute.until_s) == (NOON_S, NOON_S + 50)
    assert minute.runs == (Run("fan1", NOON_S, NOON_S + 50, start=True),)


def test_a_clock_that_is_steered_is_followed_without_a_break() -> None:
    ticks = Ticks()
    ticks.tick(0.0)
    for _ in range(40):
        ticks.wall_s -= 0.9
        ticks.tick(1.0)
    for _ in range(100):
        ticks.wall_s += 0.5
        ticks.tick(1.0)
    ticks.finish(0.0)
    assert [one.until_s for one in ticks.minutes[:-1]] == [one.from_s for one in ticks.minutes[1:]]
    assert ticks.minutes[-1].until_s == round(ticks.wall_s, 3)


def test_minutes_before_the_clock_is_known_are_held_and_placed_by_the_boot_clock() -> None:
    ticks = Ticks(wall_s=12_345.0, trusted=False)
    for _ in range(30):
        assert ticks.tick(values={DISPLAY: 26.0}, on=["fan1"]) == []
    assert ticks.gatherer.held == 3
    ticks.wall_s, ticks.trusted = NOON_S, True
    placed = ticks.tick(values={DISPLAY: 26.0}, on=["fan1"])
    assert ticks.gatherer.held == 0
    assert placed[0].from_s == NOON_S + 5 - 150
    assert [one.until_s for one in placed[:-1]] == [one.from_s for one in placed[1:]]
    assert placed[-1].until_s == NOON_S + 5
    spans = [one.spans[DISPLAY].from_s for one in placed]
    assert all(at_s % 60 == 0 for at_s in spans)
    assert {late - early for early, late in pairwise(spans)} == {60.0}
    assert all(abs(one.spans[DISPLAY].from_s + 30 - (one.from_s + one.until_s) / 2) <= 60 for one in placed)
    (rest,) = ticks.finish(10.0)
    assert rest.from_s == placed[-1].until_s
    assert rest.runs == (Run("fan1", NOON_S + 5, NOON_S + 15, start=False),)


def test_memory_holds_a_day_of_them_and_no_more() -> None:
    ticks = Ticks(trusted=False)
    for _ in range(MOST_HELD + 100):
        ticks.tick(60.0)
    assert ticks.gatherer.held == MOST_HELD
    ticks.trusted = True
    ticks.tick(60.0)
    # The minute that the knowing of the time cut short counts as one of them.
    assert len(ticks.minutes) == MOST_HELD
    assert ticks.minutes[-1].until_s == ticks.wall_s


def test_a_clock_that_is_never_known_leaves_nothing() -> None:
    ticks = Ticks(trusted=False)
    ticks.tick()
    assert ticks.finish() == []


def test_once_known_the_boot_clock_goes_on_where_the_wall_clock_no_longer_is() -> None:
    ticks = Ticks()
    ticks.tick(0.0)
    ticks.trusted = False
    ticks.wall_s -= 86_400
    ticks.tick(30.0)
    ticks.finish(10.0)
    (minute,) = ticks.minutes
    assert (minute.from_s, minute.until_s) == (NOON_S, NOON_S + 40)


def test_a_clock_that_is_steered_back_faster_than_time_passes_does_not_run_backwards() -> None:
    ticks = Ticks()
    ticks.tick(0.0, on=["fan1"])
    ticks.tick(10.0, on=["fan1"])
    for _ in range(5):
        ticks.wall_s -= 0.9
        ticks.tick(0.5, on=["fan1"])
    ticks.finish(10.0)
    (minute,) = ticks.minutes
    assert (minute.from_s, minute.until_s) == (NOON_S, NOON_S + 18)
    assert minute.runs == (Run("fan1", NOON_S, NOON_S + 18, start=True),)


@pytest.mark.parametrize(("date", "hours"), [("2031-03-30", 23), ("2031-06-15", 24), ("2031-10-26", 25)])
def test_a_local_day_has_the_hours_it_has(date: str, hours: int) -> None:
    """EU summer time: last Sundays of March and October (Directive 2000/84/EC)."""
    zone = ZoneInfo("Europe/Vienna")
    begin = datetime.fromisoformat(date).replace(tzinfo=zone)
    ticks = Ticks(begin.timestamp() - 7_200, zone=zone)
    for _ in range(30 * 60):
        ticks.tick(60.0)
    of_day = [minute for minute in ticks.minutes if minute.date == date]
    assert len(of_day) == hours * 60
    assert of_day[0].from_s == begin.timestamp()
    assert all(before.until_s == after.from_s for before, after in pairwise(ticks.minutes))


@st.composite
def steps(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Return some ticks: how long after the last one, and what each saw."""
    return draw(
        st.lists(
            st.fixed_dictionaries(
                {
                    "after_s": st.floats(0.0, 90.0).map(lambda s: round(s, 3)),
                    "values": st.dictionaries(st.sampled_from([DISPLAY, SUMP]), st.floats(15.0, 40.0)),
                    "on": st.sets(st.sampled_from(["fan1", "chiller"])),
                    "water": st.none() | st.floats(15.0, 40.0).map(lambda c: water(c, c)),
                }
            ),
            max_size=40,
        )
    )


@given(steps(), st.integers(0, 20), st.floats(0.0, 86_400.0).map(lambda s: round(s, 3)))
def test_whatever_is_seen_is_counted_once(made: list[dict[str, Any]], untrusted: int, phase_s: float) -> None:
    ticks = Ticks(NOON_S + phase_s)
    whole_s, good_s, on_s = 0.0, 0.0, 0.0
    last: dict[str, Any] | None = None
    for number, one in enumerate(made):
        ticks.trusted = number >= untrusted
        if last is not None and one["after_s"] <= 60.0:
            whole_s += one["after_s"]
            good_s += one["after_s"] * len(last["values"])
            on_s += one["after_s"] * len(last["on"])
        ticks.tick(**one)
        last = one
    ticks.finish(0.0)
    minutes = ticks.minutes
    if not ticks.trusted:
        assert minutes == []
        return
    assert seen_s(minutes) == pytest.approx(whole_s, abs=0.01)
    spans = [span for minute in minutes for span in minute.spans.values()]
    assert sum(span.good * span.lasts_s for span in spans) == pytest.approx(good_s, abs=0.01)
    runs = [run for minute in minutes for run in minute.runs]
    assert sum(run.until_s - run.from_s for run in runs) == pytest.approx(on_s, abs=0.01)
    _no_overlap(minutes)
    for minute in minutes:
        for span in minute.spans.values():
            assert span.low <= span.mean <= span.high
            assert 0.0 < span.good <= 1.0
            assert span.from_s % 60 == 0


def _no_overlap(minutes: list[Minute]) -> None:
    assert all(minute.from_s < minute.until_s <= minute.from_s + 60.001 for minute in minutes)
    assert all(before.until_s <= after.from_s for before, after in pairwise(minutes))
    for minute in minutes:
        assert all(minute.from_s <= run.from_s < run.until_s <= minute.until_s for run in minute.runs)
        for output in {run.output for run in minute.runs}:
            own = [run for run in minute.runs if run.output == output]
            assert all(before.until_s <= after.from_s for before, after in pairwise(own))


@given(st.lists(st.tuples(st.floats(0.5, 30.0), st.floats(-7_200.0, 7_200.0)), max_size=30))
def test_a_clock_that_is_set_again_and_again_never_makes_more_time_than_passed(
    sets: list[tuple[float, float]],
) -> None:
    ticks = Ticks()
    ticks.tick(0.0)
    steered_s = 0.0
    for after_s, set_by_s in sets:
        ticks.wall_s += set_by_s
        steered_s += 1.0 if abs(set_by_s) <= 1.01 else 0.0
        ticks.tick(after_s)
    ticks.finish(0.0)
    assert all(minute.from_s < minute.until_s for minute in ticks.minutes)
    assert seen_s(ticks.minutes) <= sum(after_s for after_s, _ in sets) + steered_s + 0.1
