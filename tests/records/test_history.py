"""The history on disk: written in batches, rolled up, let go, and read by others while it is written."""

import random
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from reefguard.records.databases import Broken
from reefguard.records.gathering import Batch
from reefguard.records.history import DayTotals, Interval, Series, Span
from reefguard.records.history_reader import HistoryReader, NoHistory
from reefguard.records.history_store import KEPT_S, HistoryStore
from reefguard.records.history_writer import MOST_WAITING, HistoryWriter

DISPLAY, HUMIDITY = Series("display", "water"), Series("room", "humidity")
DAY_S, HOUR_S = 86_400, 3_600
# A midnight in UTC, in whole hours.
FIRST_S = 1_800_000_000 // DAY_S * DAY_S


def minute(at_s: float, value: float = 26.0, good: float = 1.0) -> Span:
    return Span(float(at_s), 60.0, value, value - 0.1, value + 0.1, good)


def minutes(from_s: float, count: int, value: Callable[[int], float] = lambda _: 26.0) -> Batch:
    spans = tuple((DISPLAY, minute(from_s + 60 * one, value(one))) for one in range(count))
    return Batch(spans, at_s=from_s + 60.0 * count)


def filled(directory: Path, days: int) -> HistoryStore:
    """Keep so many days of hours, tidied each hour, as the guard does."""
    store = HistoryStore(directory)
    for hour in range(24 * days):
        from_s = FIRST_S + HOUR_S * hour
        store.append(minutes(from_s, 60, lambda one: 26.0 + one / 100.0))
        store.tidy(from_s + HOUR_S)
    return store


def day(date: str = "2027-01-15", **changes: object) -> DayTotals:
    plain = DayTotals(date, 25.0, 27.0, 26.0, 600.0, 600.0, 60.0, 0.0, 0.5, 0.0, {"fan": 300.0}, {"fan": 1})
    return plain._replace(**changes)  # type: ignore[arg-type]  # as the test writes them


def test_a_stretch_is_read_back_as_it_was_kept(tmp_path: Path) -> None:
    store = HistoryStore(tmp_path)
    damp = (HUMIDITY, Span(float(FIRST_S), 60.0, 0.4512, 0.45, 0.46, 0.5))
    fan = Interval("fan", FIRST_S + 10.0, FIRST_S + 70.0, False, True)
    store.append(Batch((*minutes(FIRST_S, 3).spans, damp), (fan,), at_s=FIRST_S + 180.0))
    past = HistoryReader(tmp_path).past(FIRST_S, FIRST_S + 180.0, 1_000)
    assert past.span_s == 60.0
    assert past.series[DISPLAY] == tuple(minute(FIRST_S + 60 * one) for one in range(3))
    assert past.series[HUMIDITY] == (damp[1],)
    assert past.intervals == (fan,)
    store.close()


def test_the_edges_cut_intervals_and_a_cut_one_has_no_start(tmp_path: Path) -> None:
    store = HistoryStore(tmp_path)
    store.append(
        Batch(intervals=(Interval("fan", FIRST_S, FIRST_S + 600.0, True, True),), at_s=FIRST_S + 600.0)
    )
    reader = HistoryReader(tmp_path)
    assert reader.past(FIRST_S + 100.0, FIRST_S + 200.0, 10).intervals == (
        Interval("fan", FIRST_S + 100.0, FIRST_S + 200.0, False, False),
    )
    assert reader.past(FIRST_S - 50.0, FIRST_S + 900.0, 100).intervals == (
        Interval("fan", FIRST_S, FIRST_S + 600.0, True, True),
    )
    store.close()


def test_a_run_that_goes_on_is_one_row_and_ends_with_its_writer(tmp_path: Path) -> None:
    store = HistoryStore(tmp_path)
    for until_s, running in ((600.0, True), (1_200.0, True)):
        store.append(Batch(intervals=(Interval("fan", FIRST_S, FIRST_S + until_s, running, True),)))
    store.close()
    again = HistoryStore(tmp_path)
    (one,) = HistoryReader(tmp_path).past(FIRST_S, FIRST_S + DAY_S, 2_000).intervals
    assert one == Interval("fan", FIRST_S, FIRST_S + 1_200.0, False, True)
    again.close()


def test_of_two_readings_of_a_minute_the_first_stays(tmp_path: Path) -> None:
    store = HistoryStore(tmp_path)
    store.append(minutes(FIRST_S, 1, lambda _: 26.0))
    store.append(minutes(FIRST_S, 1, lambda _: 30.0))
    assert HistoryReader(tmp_path).past(FIRST_S, FIRST_S + 60.0, 10).series[DISPLAY][0].mean == 26.0
    store.close()


def test_the_parts_of_a_day_add_up_over_restarts(tmp_path: Path) -> None:
    for low_c in (25.0, 24.5):
        store = HistoryStore(tmp_path)
        store.append(Batch(days=(day(low_c=low_c),)))
        store.close()
    (totals,) = HistoryReader(tmp_path).days("2027-01-15", "2027-01-15")
    assert totals == day(
        low_c=24.5, known_s=1_200.0, guarded_s=1_200.0, above_s=120.0, above_k_h=1.0,
        ran_s={"fan": 600.0}, starts={"fan": 2},
    )  # fmt: skip
    assert HistoryReader(tmp_path).days("2027-01-16", "2027-12-31") == ()


def test_five_minutes_and_hours_are_made_of_minutes(tmp_path: Path) -> None:
    store = filled(tmp_path, 2)
    reader = HistoryReader(tmp_path)
    coarse = reader.past(FIRST_S, FIRST_S + DAY_S, 300)
    assert coarse.span_s == 300.0
    assert len(coarse.series[DISPLAY]) == 288
    first = coarse.series[DISPLAY][0]
    assert (first.mean, first.low, first.high, first.good) == (26.02, 25.9, 26.14, 1.0)
    hours = reader.past(FIRST_S, FIRST_S + DAY_S, 30)
    assert [span.from_s for span in hours.series[DISPLAY]] == [FIRST_S + HOUR_S * hour for hour in range(24)]
    assert hours.series[DISPLAY][5].mean == pytest.approx(26.295, abs=0.001)
    # More than there may be: the coarsest all the same.
    assert reader.past(FIRST_S, FIRST_S + DAY_S, 1).span_s == 3_600.0
    store.close()


def test_means_weigh_by_what_could_be_used_and_gaps_show_in_its_share(tmp_path: Path) -> None:
    store = HistoryStore(tmp_path)
    spans = ((DISPLAY, minute(FIRST_S, 26.0, 1.0)), (DISPLAY, minute(FIRST_S + 60, 28.0, 0.5)))
    store.append(Batch(spans))
    store.append(Batch(((DISPLAY, minute(FIRST_S + HOUR_S)),)))
    store.tidy(FIRST_S + 3 * HOUR_S)
    past = HistoryReader(tmp_path).past(FIRST_S, FIRST_S + HOUR_S, 12)
    (five,) = past.series[DISPLAY]
    assert five.mean == pytest.approx((26.0 + 14.0) / 1.5, abs=0.001)
    assert five.good == pytest.approx(0.3)
    store.close()


def test_what_is_not_rolled_up_yet_is_read_at_every_grain(tmp_path: Path) -> None:
    store = filled(tmp_path, 1)
    store.append(minutes(FIRST_S + DAY_S, 30))
    reader = HistoryReader(tmp_path)
    for most in (5_000, 400, 30):
        spans = reader.past(FIRST_S, FIRST_S + DAY_S + HOUR_S, most).series[DISPLAY]
        assert spans[-1].from_s + spans[-1].lasts_s >= FIRST_S + DAY_S + 1_800.0
        # The hour that goes on is whole as far as it has come.
        assert spans[-1].good == 1.0
        starts = [span.from_s for span in spans]
        assert starts == sorted(set(starts))
    store.close()


def test_a_clock_set_back_brings_minutes_into_hours_that_were_done(tmp_path: Path) -> None:
    store = HistoryStore(tmp_path)
    store.append(minutes(FIRST_S + HOUR_S, 60))
    store.tidy(FIRST_S + 3 * HOUR_S)
    store.append(minutes(FIRST_S, 60))
    store.tidy(FIRST_S + 3 * HOUR_S)
    hours = HistoryReader(tmp_path).past(FIRST_S, FIRST_S + 2 * HOUR_S, 2)
    assert [span.from_s for span in hours.series[DISPLAY]] == [FIRST_S, FIRST_S + HOUR_S]
    store.close()


def test_what_is_too_old_goes_and_coarser_spans_take_its_place(tmp_path: Path) -> None:
    days = KEPT_S["minutes"] // DAY_S + 3
    store = filled(tmp_path, days)
    now_s = FIRST_S + DAY_S * days
    with closing(sqlite3.connect(tmp_path / "history.db")) as database:
        oldest = database.execute("SELECT min(from_s) FROM minutes").fetchone()[0]
    assert now_s - KEPT_S["minutes"] <= oldest <= now_s - KEPT_S["minutes"] + HOUR_S
    # Asked for more than minutes reach back to, five minutes answer.
    whole = HistoryReader(tmp_path).past(FIRST_S, now_s, 1_000_000)
    assert whole.span_s == 300.0
    assert whole.series[DISPLAY][0].from_s == FIRST_S
    store.close()


def test_a_clock_that_is_wrong_by_years_costs_little(tmp_path: Path) -> None:
    store = filled(tmp_path, 2)
    for hour in range(3):
        store.append(minutes(FIRST_S + 20 * 366 * DAY_S + HOUR_S * hour, 60))
        store.tidy(FIRST_S + 20 * 366 * DAY_S + HOUR_S * (hour + 1))
    with closing(sqlite3.connect(tmp_path / "history.db")) as database:
        left = database.execute("SELECT count(*) FROM minutes WHERE from_s < ?", (FIRST_S + 2 * DAY_S,))
        assert left.fetchone()[0] >= 2 * 1_440 - 3 * 2 * 60
    store.append(minutes(FIRST_S + 2 * DAY_S, 60))
    store.tidy(FIRST_S + 3 * DAY_S)
    hours = HistoryReader(tmp_path).past(FIRST_S + DAY_S, FIRST_S + 3 * DAY_S, 50)
    assert len(hours.series[DISPLAY]) == 25
    store.close()


def test_read_while_written_after_a_clean_end_and_after_a_kill(tmp_path: Path) -> None:
    program = (
        "import sys, time; sys.path.insert(0, sys.argv[2]); from pathlib import Path\n"
        "from test_history import FIRST_S, minutes\n"
        "from reefguard.records.history_store import HistoryStore\n"
        "store = HistoryStore(Path(sys.argv[1])); store.append(minutes(FIRST_S, 10))\n"
        "print('kept', flush=True); time.sleep(600)\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, str(tmp_path), str(Path(__file__).parent)], stdout=subprocess.PIPE
    ) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == b"kept\n"
        reader = HistoryReader(tmp_path)
        assert len(reader.past(FIRST_S, FIRST_S + HOUR_S, 100).series[DISPLAY]) == 10
        writer.kill()
    assert len(reader.past(FIRST_S, FIRST_S + HOUR_S, 100).series[DISPLAY]) == 10
    HistoryStore(tmp_path).close()
    assert reader.reach() == (FIRST_S, FIRST_S + 600.0)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["history.db"]


def test_without_a_history_it_says_so(tmp_path: Path) -> None:
    with pytest.raises(NoHistory, match="is not there: no guard has run"):
        HistoryReader(tmp_path).past(0.0, 1.0, 10)
    (tmp_path / "history.db").write_bytes(b"no database, whatever its name says" * 100)
    with pytest.raises(NoHistory, match="cannot be read"):
        HistoryReader(tmp_path).days("2027-01-01", "2027-01-02")


def test_an_empty_history_reaches_nowhere(tmp_path: Path) -> None:
    HistoryStore(tmp_path).close()
    reader = HistoryReader(tmp_path)
    assert reader.reach() is None
    assert reader.past(FIRST_S, FIRST_S + DAY_S, 2_000).series == {}
    assert reader.past(FIRST_S, FIRST_S + DAY_S, 20).series == {}


def test_anothers_database_is_left_alone(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "history.db")) as database:
        database.execute("CREATE TABLE theirs(x)")
    with pytest.raises(Broken, match="no history database"):
        HistoryStore(tmp_path)


# --- the thread that writes ---


def until(holds: Callable[[], object]) -> None:
    """Poll until it holds."""
    until_s = time.monotonic() + 60.0
    while not holds():
        assert time.monotonic() < until_s, "waited in vain"
        time.sleep(0.01)


def count(directory: Path) -> int:
    try:
        past = HistoryReader(directory).past(FIRST_S, FIRST_S + 10 * DAY_S, 1_000_000)
    except NoHistory:
        return 0
    return len(past.series.get(DISPLAY, ()))


def test_a_batch_is_kept_soon_and_the_end_waits_for_what_is_left(tmp_path: Path) -> None:
    writer = HistoryWriter(tmp_path, retry_after_s=0.01)
    writer.add(minutes(FIRST_S, 10))
    until(lambda: count(tmp_path) == 10)
    for one in range(1, 20):
        writer.add(minutes(FIRST_S + 600 * one, 10))
    writer.finish(patience_s=60.0)
    assert count(tmp_path) == 200


def test_a_damaged_history_is_set_aside_and_a_new_one_begun(tmp_path: Path) -> None:
    filled(tmp_path, 2).close()
    content = bytearray((tmp_path / "history.db").read_bytes())
    dice = random.Random(1)  # noqa: S311  to be the same each time
    for place in range(4_096, len(content)):
        content[place] = dice.randrange(256)
    (tmp_path / "history.db").write_bytes(content)
    writer = HistoryWriter(tmp_path, retry_after_s=0.01)
    writer.add(minutes(FIRST_S, 10))
    until(lambda: count(tmp_path) == 10)
    assert writer.take_damage() == tmp_path / "history.db.broken-1"
    assert writer.take_damage() is None
    assert (tmp_path / "history.db.broken-1").read_bytes() == bytes(content)
    assert writer.trouble is None
    writer.finish(patience_s=60.0)


def test_while_it_cannot_be_written_batches_wait_and_then_all_are_kept(tmp_path: Path) -> None:
    place = tmp_path / "state"
    writer = HistoryWriter(place, retry_after_s=0.01)
    for one in range(MOST_WAITING):
        writer.add(minutes(FIRST_S + 600 * one, 10))
    until(lambda: writer.trouble is not None)
    place.mkdir()
    until(lambda: count(place) == 10 * MOST_WAITING)
    until(lambda: writer.trouble is None)
    writer.finish(patience_s=60.0)


def test_a_directory_taken_away_is_noticed(tmp_path: Path) -> None:
    writer = HistoryWriter(tmp_path, retry_after_s=0.01)
    writer.add(minutes(FIRST_S, 10))
    until(lambda: count(tmp_path) == 10)
    for belongs in ("", "-wal", "-shm"):
        (tmp_path / f"history.db{belongs}").unlink()
    writer.add(minutes(FIRST_S + 600, 10))
    until(lambda: count(tmp_path) == 10)
    writer.finish(patience_s=60.0)
