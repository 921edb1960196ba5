"""What the history makes of ticks: nothing is counted twice, and nothing is made up."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reefguard.records.gathering import HOLD_S, Batch, Gathering, Tick, added
from reefguard.records.history import DayTotals, Interval, Series, Span

DISPLAY = Series("display", "water")
ZONE = ZoneInfo("Europe/Lisbon")
NOON = datetime(2027, 7, 12, 12, 0, tzinfo=ZONE)
NOON_S = NOON.timestamp()


def tick(boot_s: float, water_c: float | None = 26.0, **changes: object) -> Tick:
    """Return a tick of a boot that began at noon."""
    known = Tick(
        boot_s=boot_s,
        local=datetime.fromtimestamp(NOON_S + boot_s, ZONE),
        trusted=True,
        readings={DISPLAY: water_c},
        outputs={"fan": False},
        warmest_c=water_c,
        coldest_c=water_c,
        low_c=24.0,
        high_c=27.0,
    )
    return known._replace(**changes)  # type: ignore[arg-type]  # as the test writes them


def gathered(ticks: Iterable[Tick]) -> Batch:
    gathering = Gathering()
    for one in ticks:
        gathering.tick(one)
    return gathering.take(final=True)


def test_a_minute_has_mean_extremes_and_the_share_that_could_be_used() -> None:
    values = [26.0, 26.5, None, 27.0]
    batch = gathered(tick(15.0 * count, value) for count, value in enumerate(values))
    assert batch.spans == ((DISPLAY, Span(NOON_S, 60, 26.5, 26.0, 27.0, 0.75)),)


def test_a_minute_without_a_usable_sample_is_a_gap() -> None:
    batch = gathered(tick(10.0 * count, None if 6 <= count < 12 else 26.0) for count in range(18))
    assert [span.from_s - NOON_S for _, span in batch.spans] == [0.0, 120.0]


def test_an_output_that_runs_is_told_as_far_as_it_has_come_and_then_to_its_end() -> None:
    gathering = Gathering()
    for boot_s in (0.0, 10.0, 20.0):
        gathering.tick(tick(boot_s, outputs={"fan": boot_s >= 10.0}))
    assert gathering.take().intervals == (Interval("fan", NOON_S + 10.0, NOON_S + 20.0, True, True),)
    gathering.tick(tick(30.0))
    assert gathering.take().intervals == (Interval("fan", NOON_S + 10.0, NOON_S + 30.0, False, True),)
    assert gathering.take().intervals == ()


def test_one_that_ran_when_the_guard_began_to_look_has_no_start() -> None:
    batch = gathered([tick(0.0, outputs={"fan": True}), tick(10.0)])
    assert batch.intervals == (Interval("fan", NOON_S, NOON_S + 10.0, False, False),)
    assert batch.days[0].starts == {"fan": 0}


def test_a_day_in_totals() -> None:
    ticks = [
        tick(0.0, 26.0),
        tick(60.0, 28.0, outputs={"fan": True}),
        tick(120.0, 23.0, outputs={"fan": True}),
        tick(180.0, None),
    ]
    (day,) = gathered(ticks).days
    assert day.date == "2027-07-12"
    assert (day.low_c, day.high_c) == (23.0, 28.0)
    assert day.known_s == 120.0
    assert day.guarded_s == 180.0
    assert day.mean_c == pytest.approx((28.0 + 23.0) / 2.0)
    assert (day.above_s, day.below_s) == (60.0, 60.0)
    assert day.above_k_h == pytest.approx(1.0 / 60.0)
    assert day.below_k_h == pytest.approx(1.0 / 60.0)
    assert (day.ran_s, day.starts) == ({"fan": 120.0}, {"fan": 1})


def test_between_ticks_far_apart_nobody_guarded() -> None:
    (day,) = gathered([tick(0.0), tick(3_000.0)]).days
    assert day.guarded_s == 0.0


def test_while_the_clock_is_not_right_minutes_wait_and_are_placed_once_it_is() -> None:
    gathering = Gathering()
    wrong = datetime(2026, 1, 1, tzinfo=ZONE)
    for count in range(6):
        at_s = 60.0 * count
        gathering.tick(
            tick(at_s, local=wrong + timedelta(seconds=at_s), trusted=False, outputs={"fan": True})
        )
    held = gathering.take()
    assert (held.spans, held.intervals) == ((), ())
    gathering.tick(tick(360.0, outputs={"fan": True}))
    batch = gathering.take(final=True)
    assert [span.from_s - NOON_S for _, span in batch.spans] == [60.0 * count for count in range(7)]
    assert batch.intervals == (Interval("fan", NOON_S, NOON_S + 360.0, True, False),)


def test_a_clock_that_stays_unknown_is_followed_after_an_hour_all_the_same() -> None:
    gathering = Gathering()
    for count in range(int(HOLD_S / 60.0) + 1):
        assert gathering.take().spans == ()
        gathering.tick(tick(60.0 * count, trusted=False))
    assert len(gathering.take().spans) == HOLD_S / 60.0


def test_a_clock_set_back_an_hour_counts_no_run_twice() -> None:
    back = timedelta(hours=1)
    ticks = [tick(60.0 * count, outputs={"fan": True}) for count in range(120)]
    ticks += [
        tick(at.boot_s + 7_200.0, local=at.local + timedelta(hours=2) - back, outputs={"fan": True})
        for at in ticks
    ]
    batch = gathered(ticks)
    assert sum(one.until_s - one.from_s for one in batch.intervals) == pytest.approx(239 * 60.0 - 3_600.0)
    for before, after in zip(batch.intervals, batch.intervals[1:], strict=False):
        assert before.until_s <= after.from_s


@pytest.mark.parametrize(("day", "hours"), [("2027-03-28", 23.0), ("2027-10-31", 25.0), ("2027-07-12", 24.0)])
def test_a_local_day_has_the_hours_the_clocks_give_it(day: str, hours: float) -> None:
    # Dates of the European Union's summer time: directive 2000/84/EC.
    begins_s = datetime.fromisoformat(day).replace(tzinfo=ZONE).timestamp()
    ticks = [
        tick(60.0 * count, local=datetime.fromtimestamp(begins_s - 600.0 + 60.0 * count, ZONE))
        for count in range(26 * 60)
    ]
    batch = gathered(ticks)
    (totals,) = (one for one in batch.days if one.date == day)
    assert totals.guarded_s == pytest.approx(hours * 3_600.0, abs=60.0)
    starts = [span.from_s for _, span in batch.spans]
    assert starts == sorted(set(starts))


STEPS = st.lists(
    st.tuples(
        st.sampled_from([1.0, 7.0, 30.0, 60.0, 61.0, 500.0]),
        st.sampled_from([0.0, 0.0, 0.0, 0.0, 3_600.0, -3_600.0, -40.0, 90_000.0]),  # the clock is set by this
        st.booleans(),  # whether it is known to be right
        st.one_of(st.none(), st.floats(20.0, 35.0)),
        st.booleans(),  # the fan
        st.booleans(),  # whether a batch is taken now
    ),
    min_size=1,
    max_size=60,
)


@given(STEPS)
def test_whatever_the_clock_does_spans_are_whole_minutes_once_and_days_add_up(
    steps: list[tuple[float, float, bool, float | None, bool, bool]],
) -> None:
    gathering, batches = Gathering(), []
    boot_s, off_s, ran_s, guarded_s, on_before, last_s = 0.0, 0.0, 0.0, 0.0, False, None
    for span_s, set_by_s, trusted, water_c, on, take in steps:
        boot_s, off_s = boot_s + span_s, off_s + set_by_s
        local = datetime.fromtimestamp(NOON_S + boot_s + off_s, ZONE)
        gathering.tick(tick(boot_s, water_c, local=local, trusted=trusted, outputs={"fan": on}))
        if last_s is not None and boot_s - last_s <= 120.0:
            guarded_s += boot_s - last_s
            ran_s += (boot_s - last_s) if on_before else 0.0
        on_before, last_s = on, boot_s
        if take:
            batches.append(gathering.take())
    batches.append(gathering.take(final=True))
    for batch in batches:
        keys = [(series, span.from_s) for series, span in batch.spans]
        assert len(keys) == len(set(keys))
        for _, span in batch.spans:
            assert span.from_s % 60.0 == 0.0
            assert span.low <= span.mean <= span.high
            assert 0.0 < span.good <= 1.0
        for interval in batch.intervals:
            assert interval.until_s >= interval.from_s
    days = [day for batch in batches for day in batch.days]
    assert sum(day.guarded_s for day in days) == pytest.approx(guarded_s)
    assert sum(day.ran_s["fan"] for day in days) == pytest.approx(ran_s)


PARTS = st.builds(
    DayTotals,
    st.just("2027-07-12"),
    st.floats(20.0, 25.0),
    st.floats(25.0, 30.0),
    st.floats(20.0, 30.0),
    *[st.floats(1.0, 1e4)] * 6,
    st.dictionaries(st.sampled_from(["fan", "chiller"]), st.floats(0.0, 1e4)),
    st.dictionaries(st.sampled_from(["fan", "chiller"]), st.integers(0, 20)),
)


@given(PARTS, PARTS, PARTS)
def test_the_parts_of_a_day_may_be_added_in_any_order(
    one: DayTotals, two: DayTotals, three: DayTotals
) -> None:
    left, right = added(added(one, two), three), added(one, added(two, three))
    assert left.mean_c == pytest.approx(right.mean_c)
    assert (left.low_c, left.high_c, left.starts) == (right.low_c, right.high_c, right.starts)
    assert left.known_s == pytest.approx(right.known_s)
