"""Each bound of a drill is held, and its breach is told in words."""

from dataclasses import replace

import pytest
from rehearsed import SETTINGS, drill

from reefguard.rehearsal.drills.drill import Bounds, CutoffMust, Event, Expected, Part, Turn
from reefguard.rehearsal.drills.judgement import Outcome, judge, judge_refused, most_in
from reefguard.rehearsal.drills.record import Interval, Record

HOUR_S = 3_600.0
KEPT = Record(
    lasted_s=8 * HOUR_S,
    hottest_c=27.5,
    coldest_c=26.0,
    hottest_s=0.0,
    coldest_s=0.0,
    out_of_band_s=0.0,
    degree_hours=0.0,
    starts_s=(0.0, 1_000.0, 2_000.0),
    shortest_rest_s=300.0,
    compressor_s=900.0,
    energy_kwh=0.5,
    evaporated_kg=1.0,
    ticks=100,
    trace=(),
    runs={},
    modes={},
    told={"no water": (Interval(3 * HOUR_S, 4 * HOUR_S),)},
    cutoff_held={},
)
BLIND = Event("blind", Part.PROBE, Turn.EMPTY, 2 * HOUR_S, which="display")

CASES = [
    (Bounds(above_band_c=0.5), {"hottest_c": 28.3}, {"hottest_c": 28.31}, "0.51 °C above the safe band"),
    (Bounds(below_band_c=0.5), {"coldest_c": 23.5}, {"coldest_c": 23.49}, "0.51 °C below the safe band"),
    (Bounds(out_of_band_s=60.0), {"out_of_band_s": 60.0}, {"out_of_band_s": 65.0}, "1 min 5 s outside"),
    (Bounds(degree_hours=2.0), {"degree_hours": 2.0}, {"degree_hours": 2.1}, "2.1 °C·h outside"),
    (Bounds(starts=3), {}, {"starts_s": (1.0, 2.0, 3.0, 4.0)}, "4 compressor starts; 3"),
    (Bounds(starts_in_an_hour=3), {}, {"starts_s": (1.0, 2.0, 3.0, 4.0)}, "4 compressor starts in an hour"),
    (Bounds(chiller_rests=True), {"starts_s": ()}, {}, "the chiller ran"),
    (Bounds(), {}, {"shortest_rest_s": 299.0}, "rested 4 min 59 s only"),
    (Bounds(told=("no water",)), {}, {"told": {}}, "never told: no water"),
    (
        Bounds(told=("no water",), told_within_s=HOUR_S),
        {},
        {"told": {"no water": (Interval(3 * HOUR_S + 5.0, 4 * HOUR_S),)}},
        "told 1 h after the event",
    ),
    (Bounds(quiet=True), {"told": {"x": (Interval(0.0, 600.0),)}}, {}, "told without need: no water"),
    (Bounds(cutoff=CutoffMust.TRIP), {"cutoff_held": {"tripped": (Interval(1.0, 2.0),)}}, {}, "did not trip"),
    (Bounds(cutoff=CutoffMust.STAY), {}, {"cutoff_held": {"tripped": (Interval(1.0, 2.0),)}}, "tripped"),
    (
        Bounds(cutoff=CutoffMust.HOLD),
        {"cutoff_held": {"held off": (Interval(0.0, 601.0),)}},
        {"cutoff_held": {"held off": (Interval(0.0, 600.0),)}},
        "never held",
    ),
]


@pytest.mark.parametrize(("bounds", "good", "bad", "words"), CASES)
def test_a_bound_is_kept_or_broken(
    bounds: Bounds, good: dict[str, object], bad: dict[str, object], words: str
) -> None:
    of = replace(drill(BLIND), bounds=bounds)
    kept = judge(of, replace(KEPT, **good), SETTINGS, said=None)  # type: ignore[arg-type]  # a case names what it changes
    assert kept.outcome is Outcome.PASSED, kept.broken
    broken = judge(of, replace(KEPT, **bad), SETTINGS, said=None)  # type: ignore[arg-type]  # the same
    assert broken.outcome is Outcome.FAILED
    assert any(words in one for one in broken.broken), broken.broken


def test_what_is_told_names_the_probe_it_is_about() -> None:
    bounds = Bounds(told=("probe WHICH not used",))
    told = {"probe display not used": (Interval(2 * HOUR_S, 3 * HOUR_S),)}
    assert (
        judge(replace(drill(BLIND), bounds=bounds), replace(KEPT, told=told), SETTINGS, said=None).broken
        == ()
    )


def test_what_was_told_before_the_event_and_ended_does_not_count() -> None:
    bounds = Bounds(told=("no water",))
    early = {"no water": (Interval(0.0, HOUR_S),)}
    broken = judge(
        replace(drill(BLIND), bounds=bounds), replace(KEPT, told=early), SETTINGS, said=None
    ).broken
    assert broken == ("never told: no water",)


@pytest.mark.parametrize(
    ("wanted", "said", "passes"),
    [
        (Expected.REFUSED, Expected.REFUSED, True),
        (Expected.WARNED, Expected.REFUSED, False),
        (None, Expected.REFUSED, False),
    ],
)
def test_refused_settings_are_judged_by_what_was_expected(
    wanted: Expected | None, said: Expected, passes: bool
) -> None:
    judgement = judge_refused(replace(drill(), bounds=Bounds(check=wanted)), said)
    assert (judgement.outcome is Outcome.PASSED) is passes


def test_a_warning_that_did_not_come_is_a_breach() -> None:
    of = replace(drill(), bounds=Bounds(check=Expected.WARNED))
    assert judge(of, KEPT, SETTINGS, said=Expected.WARNED).outcome is Outcome.PASSED
    assert judge(of, KEPT, SETTINGS, said=None).outcome is Outcome.FAILED


def test_starts_are_counted_in_any_hour_not_by_the_clock() -> None:
    assert most_in((1_800.0, 3_500.0, 3_700.0, 5_399.0), HOUR_S) == 4
    assert most_in((1_800.0, 3_500.0, 3_700.0, 5_400.0), HOUR_S) == 3
    assert most_in((), HOUR_S) == 0
