"""The history database: real files, real processes, and disks that fail."""

import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from ticks import DISPLAY, HUMIDITY, NOON_S, SUMP, Ticks

from reefguard.records import history_aging
from reefguard.records.database import Broken, Database
from reefguard.records.history import APPLICATION_ID, FILE_NAME, Interval, Minute, Run, Series, Span
from reefguard.records.history_gather import Water
from reefguard.records.history_queue import MOST_WAITING, HistoryQueue
from reefguard.records.history_reader import Extent, HistoryReader, NoHistory
from reefguard.records.history_store import KIND, HistoryStore

DEADLINE_S = 60.0
HOUR, DAY = 3_600, 86_400


def minute(from_s: float, water_c: float = 26.0, *, on: tuple[str, ...] = (), **changes: Any) -> Minute:
    """Return a minute seen in full."""
    at_s = from_s // 60 * 60
    one = Minute(
        from_s=from_s,
        until_s=from_s + 60,
        date=datetime.fromtimestamp(from_s, UTC).date().isoformat(),
        spans={DISPLAY: Span(at_s, 60, water_c, water_c - 0.1, water_c + 0.1, 1.0)},
        runs=tuple(Run(name, from_s, from_s + 60, start=False) for name in on),
        running=frozenset(on),
        known_s=60.0,
        low_c=water_c,
        high_c=water_c,
        warmest_c_s=water_c * 60,
    )
    return one._replace(**changes)


def hours(from_s: float, count: int) -> list[Minute]:
    return [minute(from_s + 60 * number) for number in range(count * 60)]


def write(directory: Path, minutes: list[Minute]) -> int:
    store = HistoryStore(directory)
    refused = sum(store.write(minutes[place : place + 60]) for place in range(0, len(minutes), 60))
    store.close()
    return refused


def until(holds: Callable[[], object]) -> None:
    until_s = time.monotonic() + DEADLINE_S
    while not holds():
        assert time.monotonic() < until_s, "waited in vain"
        time.sleep(0.01)


def recorded(directory: Path) -> int:
    """Return how many minutes are on the disk, 0 while there is no database."""
    try:
        past = HistoryReader(directory).stretch(0, 4e9, 60)
    except NoHistory:
        return 0
    return sum(len(spans) for spans in past.series.values())


def test_what_was_written_is_read_back(tmp_path: Path) -> None:
    spans = {
        DISPLAY: Span(NOON_S, 60, 26.062, 26.0, 26.125, 0.75),
        HUMIDITY: Span(NOON_S, 60, 0.4567, 0.45, 0.46, 1.0),
    }
    write(tmp_path, [minute(NOON_S, spans=spans)])
    past = HistoryReader(tmp_path).past(NOON_S, NOON_S + HOUR, 1_000)
    assert (past.from_s, past.until_s, past.span_s) == (NOON_S, NOON_S + HOUR, 60)
    assert past.series == {series: (span,) for series, span in spans.items()}


def test_the_database_is_what_the_contract_says(tmp_path: Path) -> None:
    write(tmp_path, [minute(NOON_S, on=("fan1",))])
    there = sqlite3.connect(tmp_path / FILE_NAME)
    assert there.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
    assert there.execute("PRAGMA user_version").fetchone()[0] == 1
    assert there.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    tables = {name: strict for _, name, kind, _, _, strict in there.execute("PRAGMA table_list")}
    assert {name for name, strict in tables.items() if strict} == {
        "series",
        "minutes",
        "five_minutes",
        "hours",
        "runs",
        "watches",
        "days",
        "day_outputs",
        "marks",
    }
    assert there.execute("SELECT * FROM readings").fetchall() == [
        (60, int(NOON_S), "display", "water", 26_000, 25_900, 26_100, 60_000)
    ]
    there.close()
    store = HistoryStore(tmp_path)
    assert store._database.sql.execute("PRAGMA synchronous").fetchone()[0] == 1  # NORMAL
    store.close()


def test_without_a_database_the_reader_says_so(tmp_path: Path) -> None:
    reader = HistoryReader(tmp_path)
    with pytest.raises(NoHistory, match=r"history\.db is not there: no guard has run"):
        reader.past(0, 1, 1)
    (tmp_path / FILE_NAME).write_bytes(b"no database at all" * 100)
    with pytest.raises(NoHistory, match=r"history\.db cannot be read: file is not a database"):
        reader.days("2031-07-14", "2031-07-14")


def test_an_empty_history_is_no_error(tmp_path: Path) -> None:
    write(tmp_path, [])
    reader = HistoryReader(tmp_path)
    assert reader.extent() is None
    assert reader.past(0, DAY, 100).series == {}
    assert reader.days("2031-01-01", "2031-12-31") == ()


def test_no_moment_is_recorded_twice(tmp_path: Path) -> None:
    store = HistoryStore(tmp_path)
    assert store.write([minute(NOON_S + 60 * number, 26.0) for number in range(10)]) == 0
    set_back = [minute(NOON_S - 90 + 60 * number, 30.0, on=("fan1",)) for number in range(14)]
    # -90 and -30 (which reaches into what is there) to 510; 570 reaches beyond it.
    assert store.write(set_back) == 11
    store.close()
    reader = HistoryReader(tmp_path)
    (day,) = reader.days("2031-07-14", "2031-07-14")
    assert day.guarded_s == 13 * 60
    assert day.ran_s == {"fan1": 3 * 60.0}
    spans = reader.stretch(NOON_S, NOON_S + 600, 60).series[DISPLAY]
    assert [span.mean for span in spans] == [26.0] * 10
    assert reader.extent() == Extent(NOON_S - 90, NOON_S + 750)


def test_two_parts_of_a_minute_make_one_span(tmp_path: Path) -> None:
    first = Span(NOON_S, 60, 26.0, 25.9, 26.0, 0.25)
    second = Span(NOON_S, 60, 27.0, 27.0, 27.3, 0.5)
    write(tmp_path, [minute(NOON_S, until_s=NOON_S + 15, spans={DISPLAY: first})])
    write(tmp_path, [minute(NOON_S + 30, until_s=NOON_S + 60, spans={DISPLAY: second})])
    (span,) = HistoryReader(tmp_path).stretch(NOON_S, NOON_S + 60, 60).series[DISPLAY]
    assert tuple(span) == pytest.approx((NOON_S, 60, 26.667, 25.9, 27.3, 0.75))


def test_a_minute_without_length_is_refused(tmp_path: Path) -> None:
    assert write(tmp_path, [minute(NOON_S, until_s=NOON_S)]) == 1


def test_coarser_spans_weigh_each_minute_by_what_was_good_before_and_after_they_are_made(
    tmp_path: Path,
) -> None:
    begin_s = NOON_S // DAY * DAY
    chance = random.Random(7)  # noqa: S311  a test's numbers, the same each time
    minutes = []
    for number in range(8 * 60):
        at_s = begin_s + 60 * number
        mean_c, good = round(chance.uniform(24, 28), 3), chance.choice([0.0, 0.5, 1.0])
        spans = {DISPLAY: Span(at_s, 60, mean_c, mean_c - 0.1, mean_c + 0.1, good)} if good else {}
        minutes.append(minute(at_s, spans=spans))
    write(tmp_path, minutes)
    there = sqlite3.connect(tmp_path / FILE_NAME)
    assert there.execute("SELECT count(*) FROM hours").fetchone()[0] == 6, "two hours still to be made"
    there.close()
    for span_s in (300, 3_600):
        past = HistoryReader(tmp_path).stretch(begin_s, begin_s + 8 * HOUR, span_s)
        made = {span.from_s: span for span in past.series[DISPLAY]}
        for place in range(0, 8 * HOUR, span_s):
            of_span = [
                one.spans[DISPLAY]
                for one in minutes
                if begin_s + place <= one.from_s < begin_s + place + span_s and one.spans
            ]
            weight = sum(one.good for one in of_span)
            if not of_span:
                assert begin_s + place not in made
                continue
            span = made[begin_s + place]
            assert span.lasts_s == span_s
            assert span.mean == pytest.approx(sum(one.mean * one.good for one in of_span) / weight, abs=0.001)
            assert span.low == pytest.approx(min(one.low for one in of_span))
            assert span.high == pytest.approx(max(one.high for one in of_span))
            assert span.good == pytest.approx(weight * 60 / span_s)


def test_minutes_that_come_late_are_added_to_the_hours_made_already(tmp_path: Path) -> None:
    begin_s = NOON_S // DAY * DAY
    late = [minute(begin_s + HOUR + 60 * number, 28.0) for number in range(30)]
    missing = {one.from_s for one in late}
    on_time = [one for one in hours(begin_s, 7) if one.from_s not in missing]
    write(tmp_path, on_time)
    write(tmp_path, late)
    (hour,) = HistoryReader(tmp_path).stretch(begin_s + HOUR, begin_s + 2 * HOUR, 3_600).series[DISPLAY]
    assert hour.mean == pytest.approx(27.0, abs=0.01)
    assert hour.high == pytest.approx(28.1)
    assert hour.good == 1.0


def test_the_past_is_as_fine_as_asked_and_as_still_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(history_aging, "KEPT_S", {60: 2 * DAY, 300: 6 * DAY, 3_600: 4_000 * DAY})
    begin_s = NOON_S // DAY * DAY
    store = HistoryStore(tmp_path)
    for hour in range(24 * 14):
        store.tidy()
        store.write(hours(begin_s + hour * HOUR, 1))
    store.close()
    end_s = begin_s + 14 * DAY
    reader = HistoryReader(tmp_path)
    assert end_s - 4 * DAY <= reader.kept_from(60) <= end_s - 2 * DAY
    assert reader.past(end_s - DAY, end_s, 1_440).span_s == 60
    assert reader.past(end_s - DAY, end_s, 1_439).span_s == 300
    assert reader.past(end_s - DAY, end_s, 10).span_s == 3_600
    assert reader.past(end_s - 4 * DAY, end_s, 1_000_000).span_s == 300, "minutes are gone"
    whole = reader.past(begin_s, end_s, 1_000_000)
    assert whole.span_s == 3_600, "five minutes are gone"
    assert [span.from_s for span in whole.series[DISPLAY]] == [begin_s + HOUR * n for n in range(14 * 24)]
    assert all(span.good == 1.0 for span in whole.series[DISPLAY])
    for span_s in (60, 300):
        kept = reader.stretch(begin_s, end_s, span_s).series[DISPLAY]
        assert kept[0].from_s == reader.kept_from(span_s)
        assert kept[-1].from_s == end_s - span_s


def test_what_is_too_old_goes_with_its_runs_and_watches_and_days_stay(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(history_aging, "KEPT_S", {60: HOUR, 300: HOUR, 3_600: 30 * DAY})
    begin_s = 60 * DAY * 400
    store = HistoryStore(tmp_path)
    for hour in range(24 * 100):
        at_s = begin_s + hour * HOUR
        store.tidy()
        store.write([minute(at_s, until_s=at_s + HOUR - 1, runs=(Run("fan1", at_s, at_s + 60, start=True),))])
    store.close()
    reader = HistoryReader(tmp_path)
    assert reader.kept_from(3_600) == begin_s + 60 * DAY
    past = reader.past(begin_s, begin_s + 100 * DAY, 1)
    assert past.series[DISPLAY][0].from_s == begin_s + 60 * DAY
    assert past.intervals[0].from_s == begin_s + 60 * DAY
    assert reader.extent() == Extent(begin_s + 60 * DAY, begin_s + 100 * DAY - 1)
    assert len(reader.days("0000-01-01", "9999-12-31")) == 100


def test_a_day_of_a_clock_far_ahead_deletes_nothing(tmp_path: Path) -> None:
    begin_s = NOON_S // DAY * DAY
    far_s = begin_s + 20 * 365 * DAY
    store = HistoryStore(tmp_path)
    for from_s in (begin_s, *(far_s + HOUR * number for number in range(24)), begin_s + HOUR):
        store.write(hours(from_s, 1))
        store.tidy()
    store.close()
    reader = HistoryReader(tmp_path)
    for span_s in (60, 300, 3_600):
        past = reader.stretch(begin_s, begin_s + 2 * HOUR, span_s)
        assert sum(span.lasts_s for span in past.series[DISPLAY]) == 2 * HOUR


def test_intervals_are_cut_joined_and_go_on(tmp_path: Path) -> None:
    begin_s = NOON_S // DAY * DAY
    minutes = []
    for number in range(60 * 50):
        at_s = begin_s + 60 * number
        one = minute(at_s, on=("fan1",), spans={})
        if number == 0:
            one = one._replace(runs=(Run("fan1", at_s, at_s + 60, start=True),))
        minutes.append(one)
    write(tmp_path, minutes)
    end_s = begin_s + 50 * HOUR
    reader = HistoryReader(tmp_path)
    there = sqlite3.connect(tmp_path / FILE_NAME)
    assert there.execute("SELECT count(*), sum(running) FROM runs").fetchone() == (3, 1)
    there.close()
    whole = Interval("fan1", begin_s, end_s, running=True, start=True)
    assert reader.past(begin_s - DAY, end_s + DAY, 100).intervals == (whole,)
    assert reader.past(end_s - HOUR, end_s, 100).intervals == (
        whole._replace(from_s=end_s - HOUR, start=False),
    )
    assert reader.past(begin_s, begin_s + HOUR, 100).intervals == (
        whole._replace(until_s=begin_s + HOUR, running=False),
    )
    assert reader.past(end_s, end_s + HOUR, 100).intervals == ()

    # It stopped at the very beginning of the next minute; then it starts twice within one.
    again = (
        Run("fan1", end_s + 70, end_s + 80, start=True),
        Run("fan1", end_s + 90, end_s + 100, start=True),
    )
    write(tmp_path, [minute(end_s), minute(end_s + 60, runs=again)])
    assert reader.past(end_s - HOUR, end_s + HOUR, 100).intervals == (
        Interval("fan1", end_s - HOUR, end_s, running=False, start=False),
        Interval("fan1", end_s + 70, end_s + 80, running=False, start=True),
        Interval("fan1", end_s + 90, end_s + 100, running=False, start=True),
    )


def test_a_start_begins_an_interval_also_where_the_last_one_ended(tmp_path: Path) -> None:
    again = minute(NOON_S + 60, on=("fan1",), runs=(Run("fan1", NOON_S + 60, NOON_S + 120, start=True),))
    write(tmp_path, [minute(NOON_S, on=("fan1",)), again])
    assert HistoryReader(tmp_path).past(NOON_S, NOON_S + HOUR, 100).intervals == (
        Interval("fan1", NOON_S, NOON_S + 60, running=False, start=False),
        Interval("fan1", NOON_S + 60, NOON_S + 120, running=True, start=True),
    )


def test_a_restarted_guard_ends_what_a_killed_one_left_running(tmp_path: Path) -> None:
    write(tmp_path, [minute(NOON_S, on=("chiller",))])
    write(tmp_path, [minute(NOON_S + 300)])
    (one,) = HistoryReader(tmp_path).past(NOON_S, NOON_S + HOUR, 100).intervals
    assert one == Interval("chiller", NOON_S, NOON_S + 60, running=False, start=False)


def test_days_in_totals_over_restarts(tmp_path: Path) -> None:
    for begin_s in (NOON_S, NOON_S + 7_200):
        ticks = Ticks(begin_s)
        for number in range(361):
            ticks.tick(10.0 if number else 0.0, on=["fan1"], water=Water(23.0, 28.8, 24.0, 27.8))
        ticks.finish(0.0)
        write(tmp_path, ticks.minutes)
    write(tmp_path, [minute(NOON_S + DAY, known_s=0.0, low_c=None, high_c=None, warmest_c_s=0.0)])
    first, second = HistoryReader(tmp_path).days("2031-07-14", "2031-07-15")
    assert first._asdict() == {
        "date": "2031-07-14",
        "low_c": 23.0,
        "high_c": 28.8,
        "mean_c": pytest.approx(28.8),
        "known_s": 7_200.0,
        "guarded_s": 7_200.0,
        "above_s": 7_200.0,
        "below_s": 7_200.0,
        "above_k_h": pytest.approx(2.0),
        "below_k_h": pytest.approx(2.0),
        "ran_s": {"fan1": 7_200.0},
        "starts": {"fan1": 2},
    }
    assert (second.low_c, second.high_c, second.mean_c, second.ran_s) == (None, None, None, {})


def test_a_batch_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    store = HistoryStore(tmp_path)
    store.write([minute(NOON_S, on=("fan1",))])
    broken = minute(NOON_S + 120, spans={SUMP: Span(NOON_S, 60, float("inf"), 0.0, 0.0, 1.0)})
    with pytest.raises(OverflowError):
        store.write([minute(NOON_S + 60, on=("fan1",)), broken])
    assert store.write([minute(NOON_S + 60, on=("fan1",)), minute(NOON_S + 120)]) == 0
    store.close()
    past = HistoryReader(tmp_path).past(NOON_S, NOON_S + HOUR, 100)
    assert set(past.series) == {DISPLAY}
    assert past.intervals == (Interval("fan1", NOON_S, NOON_S + 120, running=False, start=False),)


def test_a_full_disk_fails_the_batch_and_keeps_what_was_there(tmp_path: Path) -> None:
    store = HistoryStore(tmp_path)
    store.write(hours(NOON_S, 1))
    pages = store._database.sql.execute("PRAGMA page_count").fetchone()[0]
    store._database.sql.execute(f"PRAGMA max_page_count={pages + 2}")
    with pytest.raises(sqlite3.OperationalError, match="full"):
        store.write(hours(NOON_S + HOUR, 5))
    store._database.sql.execute("PRAGMA max_page_count=100000")
    assert store.write(hours(NOON_S + HOUR, 5)) == 0
    store.close()
    assert recorded(tmp_path) == 360


def test_a_name_that_is_no_text_does_not_end_the_writing(tmp_path: Path) -> None:
    odd = Series("\udcff", "water")
    one = minute(NOON_S, spans={odd: Span(NOON_S, 60, 26.0, 26.0, 26.0, 1.0)}, on=("fan\udcff",))
    write(tmp_path, [one])
    assert write(tmp_path, [one._replace(from_s=NOON_S + 60, until_s=NOON_S + 120, runs=())]) == 0
    past = HistoryReader(tmp_path).past(NOON_S, NOON_S + 60, 100)
    assert list(past.series) == [Series("\\udcff", "water")]
    assert past.intervals[0].output == "fan\\udcff"


def test_watches_tell_when_the_guard_recorded(tmp_path: Path) -> None:
    write(tmp_path, [minute(NOON_S + 60 * number) for number in (0, 1, 2, 7, 8, 20)])
    found = HistoryReader(tmp_path).watches(NOON_S + 60, NOON_S + 500)
    assert [(one.from_s - NOON_S, one.until_s - NOON_S) for one in found] == [(60, 180), (420, 500)]
    assert HistoryReader(tmp_path).watches(NOON_S + 180, NOON_S + 420) == ()


def test_series_come_in_the_order_in_which_they_were_first_given(tmp_path: Path) -> None:
    given = [Series(name, "water") for name in ("sump", "display", "frag", "annex", "refugium")]
    spans = {one: Span(NOON_S, 60, 26.0, 26.0, 26.0, 1.0) for one in given}
    write(tmp_path, [minute(NOON_S, spans=spans)])
    assert list(HistoryReader(tmp_path).past(NOON_S, NOON_S + 60, 10).series) == given


def test_more_series_than_there_are_numbers_begin_a_new_database(tmp_path: Path) -> None:
    many = {Series(f"probe {n}", "water"): Span(NOON_S, 60, 26.0, 26.0, 26.0, 1.0) for n in range(256)}
    store = HistoryStore(tmp_path)
    with pytest.raises(Broken, match="255 probes"):
        store.write([minute(NOON_S, spans=many)])
    store.close()


def test_an_older_version_is_brought_up_to_date_and_a_later_one_is_left_alone(tmp_path: Path) -> None:
    write(tmp_path, [minute(NOON_S)])
    second = KIND._replace(steps=(*KIND.steps, ("ALTER TABLE series ADD COLUMN colour TEXT",)))
    database = Database(tmp_path, second)
    assert database.sql.execute("SELECT name, colour FROM series").fetchall() == [("display", None)]
    assert database.sql.execute("PRAGMA user_version").fetchone()[0] == 2
    database.close()
    with pytest.raises(Broken, match="no history database of version 1"):
        HistoryStore(tmp_path)


def test_a_step_to_the_next_version_that_fails_changes_nothing(tmp_path: Path) -> None:
    write(tmp_path, [minute(NOON_S)])
    wrong = KIND._replace(steps=(*KIND.steps, ("ALTER TABLE series ADD COLUMN colour TEXT", "NONSENSE")))
    with pytest.raises(sqlite3.OperationalError, match="NONSENSE"):
        Database(tmp_path, wrong)
    assert write(tmp_path, [minute(NOON_S + 60)]) == 0


def test_a_damaged_database_is_set_aside_and_a_new_one_begun(tmp_path: Path) -> None:
    write(tmp_path, hours(NOON_S, 2))
    content = bytearray((tmp_path / FILE_NAME).read_bytes())
    content[len(content) // 2 :] = b"\xff" * (len(content) - len(content) // 2)
    (tmp_path / FILE_NAME).write_bytes(content)
    queue = HistoryQueue(tmp_path, retry_after_s=0.02)
    queue.add(minute(NOON_S + DAY))
    queue.finish(DEADLINE_S)
    found = queue.take_damage()
    assert found is not None
    assert found[0].read_bytes() == content
    assert recorded(tmp_path) == 1


@pytest.mark.parametrize(
    "changed",
    [
        "DROP TABLE runs",
        "DROP TABLE series",
        "ALTER TABLE days RENAME COLUMN low TO lowest",
        # As a history of ours once had them, which was never handed out.
        "DROP VIEW readings; DROP TABLE minutes; DROP TABLE runs; CREATE TABLE minutes(from_s, series, mean)",
    ],
)
def test_a_history_with_strange_tables_is_set_aside_and_a_new_one_begun(tmp_path: Path, changed: str) -> None:
    write(tmp_path, [minute(NOON_S)])
    there = sqlite3.connect(tmp_path / FILE_NAME)
    there.executescript(changed)
    there.close()
    with pytest.raises(NoHistory, match=r"history\.db cannot be read: no such"):
        HistoryReader(tmp_path).past(NOON_S, NOON_S + 60, 100), HistoryReader(tmp_path).days("2031", "2032")
    queue = HistoryQueue(tmp_path, retry_after_s=0.02)
    queue.add(minute(NOON_S + 60))
    queue.finish(DEADLINE_S)
    assert queue.take_damage() == (
        tmp_path / f"{FILE_NAME}.broken-1",
        "its tables are not those of history of version 1",
    )
    assert recorded(tmp_path) == 1


def test_somebody_elses_database_is_set_aside_not_written_to(tmp_path: Path) -> None:
    there = sqlite3.connect(tmp_path / FILE_NAME)
    there.executescript("CREATE TABLE guests(name)")
    there.close()
    content = (tmp_path / FILE_NAME).read_bytes()
    queue = HistoryQueue(tmp_path, retry_after_s=0.02)
    queue.add(minute(NOON_S))
    queue.finish(DEADLINE_S)
    assert (tmp_path / f"{FILE_NAME}.broken-1").read_bytes() == content
    assert recorded(tmp_path) == 1


def test_what_waits_is_written_once_the_disk_is_back_and_the_trouble_goes(tmp_path: Path) -> None:
    state = tmp_path / "state"
    state.write_text("a file where the directory belongs", encoding="utf-8")
    queue = HistoryQueue(state, retry_after_s=0.02)
    queue.add(*hours(NOON_S, 3))
    until(lambda: queue.trouble)
    state.unlink()
    state.mkdir()
    until(lambda: queue.trouble is None and recorded(state) == 180)
    queue.finish(DEADLINE_S)
    assert queue.dropped == 0


def test_more_than_memory_holds_drops_the_oldest_and_counts_them(tmp_path: Path) -> None:
    state = tmp_path / "state"
    queue = HistoryQueue(state, retry_after_s=0.02)
    until(lambda: queue.trouble)
    queue.add(*(minute(NOON_S + 60 * number) for number in range(MOST_WAITING + 5)))
    assert queue.dropped == 5
    state.mkdir()
    queue.finish(DEADLINE_S)
    extent = HistoryReader(state).extent()
    assert extent == Extent(NOON_S + 5 * 60, NOON_S + (MOST_WAITING + 5) * 60)


def test_a_reader_leaves_nothing_behind_also_where_it_might(tmp_path: Path) -> None:
    """A log made by a person with more rights than the guard would keep the guard from opening its own."""
    write(tmp_path, [minute(NOON_S)])
    for _ in range(2):
        assert recorded(tmp_path) == 1
        assert [one.name for one in tmp_path.iterdir()] == [FILE_NAME]


# A writer as another process: it says each batch that is written, and goes on until it is killed.
WRITER = """
import sys
sys.path[:0] = {paths!r}
from pathlib import Path
from test_history_store import NOON_S, HistoryStore, minute
store = HistoryStore(Path({directory!r}))
begin = int(sys.argv[1])
for batch in range(begin, begin + 1_000_000):
    store.tidy()
    store.write([minute(NOON_S + 60 * (10 * batch + number), on=("fan1",)) for number in range(10)])
    print(batch + 1, flush=True)
    if len(sys.argv) > 2 and sys.stdin.readline() == "end\\n":
        store.close()
        break
"""


def writer(directory: Path, begin: int, *more: str) -> subprocess.Popen[str]:
    here = Path(__file__).parent
    code = WRITER.format(paths=[str(here), str(here.parent)], directory=str(directory))
    return subprocess.Popen(
        [sys.executable, "-c", code, str(begin), *more],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": ":".join(sys.path)},
    )


def test_a_kill_at_any_moment_leaves_whole_batches(tmp_path: Path) -> None:
    chance = random.Random(20_310_714)  # noqa: S311  a test's numbers, the same each time
    done = 0
    for _ in range(5):
        with writer(tmp_path, done) as program:
            assert program.stdout is not None
            for _ in range(chance.randrange(1, 80)):
                said = int(program.stdout.readline())
            time.sleep(chance.random() * 0.02)
            program.send_signal(signal.SIGKILL)
            said = max([said, *(int(line) for line in program.stdout.read().splitlines() if line)])
        extent = HistoryReader(tmp_path).extent()
        assert extent is not None
        done = round((extent.until_s - NOON_S) / 600)
        # What was said is there; the batch under way came whole, or not.
        assert said <= done <= said + 1
        assert extent == Extent(NOON_S, NOON_S + done * 600)
        past = HistoryReader(tmp_path).stretch(NOON_S, extent.until_s, 60)
        assert len(past.series[DISPLAY]) == done * 10
    days = HistoryReader(tmp_path).days("2031-01-01", "2031-12-31")
    assert sum(day.guarded_s for day in days) == done * 600
    assert sum(day.ran_s["fan1"] for day in days) == done * 600


# A reader as a user who may read the directory and write nothing in it.
READER = """
import os
from pathlib import Path
from reefguard.records.history_reader import HistoryReader
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
past = HistoryReader(Path({directory!r})).past(0, 4e9, 10**9)
print(sum(len(spans) for spans in past.series.values()))
"""


def read_by_somebody_else(directory: Path) -> str:
    read = subprocess.run(
        [sys.executable, "-c", READER.format(directory=str(directory))],
        env={"PYTHONPATH": ":".join(sys.path)},
        capture_output=True,
        text=True,
        timeout=DEADLINE_S,
        check=False,
    )
    return read.stdout.strip() or read.stderr


def test_somebody_who_may_only_read_reads_it_running_ended_and_killed() -> None:
    with tempfile.TemporaryDirectory() as name:
        directory = Path(name)
        directory.chmod(0o755)
        with writer(directory, 0, "asked") as program:
            assert program.stdout is not None
            program.stdout.readline()
            directory.chmod(0o555)
            assert read_by_somebody_else(directory) == "10", "while it runs"
            program.kill()
        assert read_by_somebody_else(directory) == "10", "after a kill"
        directory.chmod(0o755)
        HistoryStore(directory).close()
        directory.chmod(0o555)
        assert [one.name for one in directory.iterdir()] == [FILE_NAME]
        assert read_by_somebody_else(directory) == "10", "after a clean end"
        directory.chmod(0o755)
