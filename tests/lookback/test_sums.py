"""Hours add up: of intervals, of spans, of totals; however a stretch is cut."""

from collections.abc import Mapping
from datetime import UTC, date
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.lookback.evidence import Evidence, evidence
from reefguard.lookback.running import OutputFound, outputs_found, rests_of
from reefguard.lookback.stretch import Stretch, day_of
from reefguard.lookback.water import water_found
from reefguard.records.history import DayTotals, Interval, Past, Series, Span
from reefguard.settings.model import SafeBand

BAND = SafeBand(24.0, 27.0)
DISPLAY, SUMP = Series("display", "water"), Series("sump", "water")
# A short day, to be counted second by second.
DAY = 2_000
ROME = ZoneInfo("Europe/Rome")


def seen_in(
    stretch: Stretch,
    spans: Mapping[Series, tuple[Span, ...]] | None = None,
    intervals: tuple[Interval, ...] = (),
    totals: tuple[DayTotals, ...] = (),
) -> Evidence:
    past = Past(stretch.from_s, stretch.until_s, 60.0, dict(spans or {}), intervals)
    return evidence(stretch, ROME, past, totals, ())


def day(name: str, **changes: object) -> DayTotals:
    plain = DayTotals(
        name, 25.0, 26.0, 25.5, 86_400.0, 86_400.0, 0.0, 0.0, 0.0, 0.0, {"chiller": 7_200.0}, {"chiller": 3}
    )
    return plain._replace(**changes)  # type: ignore[arg-type]  # each test names fields of the tuple


@st.composite
def lives(draw: st.DrawFn) -> tuple[Interval, ...]:
    """Draw an output's runs over a day: in order, apart, some not seen from their start."""
    edges = sorted(draw(st.sets(st.integers(0, DAY), min_size=2, max_size=20)))
    pairs = list(zip(edges[::2], edges[1::2], strict=False))
    return tuple(
        Interval("chiller", float(a), float(b), draw(st.booleans()), draw(st.booleans())) for a, b in pairs
    )


def chiller(stretch: Stretch, intervals: tuple[Interval, ...]) -> OutputFound:
    (found,) = outputs_found(seen_in(stretch, intervals=intervals), ("chiller",), stretch.lasts_s)
    return found


@settings(deadline=None)
@given(lives(), st.integers(0, DAY), st.integers(1, DAY))
def test_run_hours_are_the_intervals_cut_to_the_stretch(
    intervals: tuple[Interval, ...], begins: int, lasts: int
) -> None:
    stretch = Stretch(float(begins), float(begins + lasts))
    # The other way round: second by second.
    ran_s = sum(
        1 for at_s in range(begins, begins + lasts) if any(a <= at_s < b for _, a, b, *_ in intervals)
    )
    assert chiller(stretch, intervals).ran_s == ran_s


@settings(deadline=None)
@given(lives(), st.floats(1.0, DAY - 1.0))
def test_run_hours_and_starts_add_up_when_the_stretch_is_split(
    intervals: tuple[Interval, ...], cut_s: float
) -> None:
    whole = chiller(Stretch(0.0, float(DAY)), intervals)
    parts = [chiller(one, intervals) for one in (Stretch(0.0, cut_s), Stretch(cut_s, float(DAY)))]
    assert sum(part.ran_s for part in parts) == pytest.approx(whole.ran_s)
    assert sum(part.starts for part in parts) == whole.starts


@settings(deadline=None)
@given(lives())
def test_a_rest_is_only_told_where_its_end_and_its_beginning_were_seen(
    intervals: tuple[Interval, ...],
) -> None:
    rests = rests_of(intervals)
    assert len(rests) <= max(0, len(intervals) - 1)
    assert all(rest_s > 0.0 for rest_s in rests)
    unseen = tuple(one._replace(running=True) for one in intervals)
    assert rests_of(unseen) == []
    late = tuple(one._replace(start=False) for one in intervals)
    assert rests_of(late) == []


def spans_of(means: list[float | None]) -> tuple[Span, ...]:
    return tuple(
        Span(60.0 * place, 60.0, mean, mean - 0.1, mean + 0.1, 1.0)
        for place, mean in enumerate(means)
        if mean is not None
    )


MEANS = st.lists(st.one_of(st.none(), st.floats(20.0, 32.0)), min_size=1, max_size=60)


@settings(deadline=None)
@given(MEANS, MEANS, st.floats(0.01, 0.99))
def test_hours_out_of_the_band_add_up_when_the_stretch_is_split(
    one: list[float | None], other: list[float | None], share: float
) -> None:
    spans = {DISPLAY: spans_of(one), SUMP: spans_of(other)}
    ends_s = 60.0 * max(len(one), len(other))
    cut_s = share * ends_s
    stretches = (Stretch(0.0, ends_s), Stretch(0.0, cut_s), Stretch(cut_s, ends_s))
    whole, first, second = (water_found(seen_in(stretch, spans), BAND) for stretch in stretches)
    for name in ("known_s", "above_s", "below_s", "above_k_h", "below_k_h"):
        assert getattr(first, name) + getattr(second, name) == pytest.approx(getattr(whole, name), abs=1e-6)
    assert whole.above_s <= whole.known_s <= ends_s
    highs = [part.hottest.water_c for part in (first, second) if part.hottest is not None]
    assert (whole.hottest is None) == (not highs)
    assert whole.hottest is None or whole.hottest.water_c == max(highs)


@settings(deadline=None)
@given(MEANS)
def test_gaps_and_what_is_known_are_the_whole_stretch(means: list[float | None]) -> None:
    stretch = Stretch(0.0, 60.0 * len(means))
    found = water_found(seen_in(stretch, {DISPLAY: spans_of(means)}), BAND)
    missing_s = stretch.lasts_s - found.known_s
    in_gaps_s = sum(gap.lasts_s for gap in found.gaps)
    assert all(gap.lasts_s > 600.0 for gap in found.gaps)
    assert in_gaps_s <= missing_s + 1e-6


def test_a_whole_day_is_told_by_its_totals_and_not_by_its_spans_too() -> None:
    whole = day_of(date(2026, 7, 20), ROME)
    spans = {DISPLAY: (Span(whole.from_s + 3_600.0, 3_600.0, 28.0, 27.0, 29.0, 1.0),)}
    runs = (Interval("chiller", whole.from_s + 60.0, whole.from_s + 4_000.0, False, True),)
    stretch = Stretch(whole.from_s, whole.until_s + 3_600.0)
    seen = seen_in(stretch, spans, runs, (day("2026-07-20", above_s=600.0, above_k_h=0.1, high_c=29.0),))
    water = water_found(seen, BAND)
    assert (water.known_s, water.above_s, water.above_k_h) == (86_400.0, 600.0, 0.1)
    assert water.hottest is not None
    assert (water.hottest.water_c, water.hottest.probe) == (29.0, "display")
    (chiller,) = outputs_found(seen, ("chiller",), 86_400.0)
    assert (chiller.ran_s, chiller.starts) == (7_200.0, 3)


def test_where_the_spans_are_gone_the_day_is_what_is_known_of_the_hottest() -> None:
    whole = day_of(date(2026, 7, 20), ROME)
    seen = seen_in(whole, totals=(day("2026-07-20", high_c=29.5),))
    hottest = water_found(seen, BAND).hottest
    assert hottest is not None
    assert (hottest.water_c, hottest.lasts_s, hottest.probe) == (29.5, 86_400.0, None)
    assert water_found(seen, BAND).gaps == ()
    assert seen.spans_gone == (date(2026, 7, 20),)


@pytest.mark.parametrize(("name", "hours"), [("2026-03-29", 23), ("2026-10-25", 25)])
def test_a_day_with_a_change_of_clocks_is_told_whole(name: str, hours: int) -> None:
    whole = day_of(date.fromisoformat(name), ROME)
    spans = {
        DISPLAY: tuple(Span(whole.from_s + 3_600.0 * n, 3_600.0, 28.0, 28.0, 28.0, 1.0) for n in range(hours))
    }
    assert water_found(seen_in(whole, spans), BAND).above_s == hours * 3_600.0
    totals = (day(name, known_s=hours * 3_600.0, above_s=hours * 3_600.0),)
    assert water_found(seen_in(whole, spans, totals=totals), BAND).above_s == hours * 3_600.0


def test_nothing_known_is_not_nought() -> None:
    found = water_found(evidence(Stretch(0.0, 3_600.0), UTC, Past(0.0, 3_600.0, 60.0, {}, ()), (), ()), BAND)
    assert (found.hottest, found.coldest, found.known_s) == (None, None, 0.0)
    assert found.gaps == (Stretch(0.0, 3_600.0),)
    (idle,) = outputs_found(seen_in(Stretch(0.0, 60.0)), ("chiller",), 0.0)
    assert (idle.duty, idle.longest_run_s, idle.shortest_run_s, idle.shortest_rest_s) == (None,) * 4
