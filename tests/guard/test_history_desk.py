"""What the guard tells the history: only what was measured, in batches, and never at the tank's cost."""

import signal
from collections.abc import Iterator
from datetime import UTC
from pathlib import Path

import pytest
from bench_rig import Rig
from builders import NOON, Life
from ticks import DISPLAY, SUMP

from reefguard.guard.chronicle import Moment
from reefguard.guard.history_desk import HistoryDesk, look
from reefguard.records.history import FILE_NAME, Series
from reefguard.records.history_queue import HistoryQueue
from reefguard.records.history_reader import HistoryReader
from reefguard.vocabulary import Cause, Missed, RawSample, RoomAir, Sampled, Wall

DEADLINE_S = 60.0


@pytest.fixture
def queue(tmp_path: Path) -> Iterator[HistoryQueue]:
    one = HistoryQueue(tmp_path, retry_after_s=0.02)
    yield one
    one.finish(DEADLINE_S)


def test_a_tick_gives_what_was_measured_at_it() -> None:
    life = Life()
    settings = life.settings
    life.last(120.0, 26.0)
    room = RoomAir(24.5, 0.55, life.now_s)
    decision = life.tick(26.5, room=room)
    seen = look(life.last_inputs, decision, settings)
    assert seen.values == {
        DISPLAY: 26.5,
        SUMP: 26.5,
        Series("room", "room"): 24.5,
        Series("room", "humidity"): 0.55,
    }
    assert seen.water is not None
    assert (seen.water.warmest_c, seen.water.band_high_c) == (26.5, settings.safe_band.high_c)
    assert seen.now_s == life.now_s


def test_a_missed_sample_is_no_reading_though_the_last_one_still_holds() -> None:
    life = Life()
    life.last(120.0, 26.0)
    now_s = life.now_s + 5.0
    samples: dict[str, RawSample] = {"display": Missed(Cause.CRC, now_s), "sump": Sampled(26.0, now_s)}
    decision = life.tick(samples, room=RoomAir(24.0, None, now_s - 600.0))
    seen = look(life.last_inputs, decision, life.settings)
    assert set(seen.values) == {SUMP}
    assert seen.water is not None


def test_what_is_not_trusted_is_no_reading() -> None:
    life = Life()
    decision = life.tick(26.0, room=RoomAir(None, None, 5.0))
    seen = look(life.last_inputs, decision, life.settings)
    assert (seen.values, seen.water) == ({}, None)


def test_outputs_that_are_on_are_told() -> None:
    life = Life()
    decision = life.last(300.0, 26.8)
    assert {"fan1"} <= look(life.last_inputs, decision, life.settings).on


def test_minutes_are_handed_over_each_ten_minutes_and_at_the_end(tmp_path: Path, queue: HistoryQueue) -> None:
    life = Life()
    desk = HistoryDesk(queue, UTC, frozenset(), life.now_s)
    handed: list[int] = []
    # The wall clock of these inputs stands still: it is not known, and then it is.
    for number in range(2 * 120 + 13):
        wall = Wall(NOON, trusted=number == 200)
        decision = life.tick(26.0, wall=wall)
        desk.tick(life.last_inputs, decision, life.settings)
        if desk._batch == [] and number >= 200:
            handed.append(number)
    assert handed[0] == 239
    desk.finish(Moment(life.now_s + 5.0, Wall(NOON, trusted=False)), DEADLINE_S)
    extent = HistoryReader(tmp_path).extent()
    assert extent is not None
    assert extent.until_s - extent.from_s == pytest.approx(253 * 5.0)


def test_an_error_of_the_gathering_ends_the_history_not_the_guard(
    queue: HistoryQueue, monkeypatch: pytest.MonkeyPatch
) -> None:
    life = Life()
    desk = HistoryDesk(queue, UTC, frozenset(), life.now_s)

    def fails(*_: object) -> None:
        raise ZeroDivisionError("a mistake")

    monkeypatch.setattr(desk._gatherer, "take", fails)
    decision = life.tick(26.0)
    for _ in range(2):
        desk.tick(life.last_inputs, decision, life.settings)
    assert desk.trouble == "an error of the program itself: ZeroDivisionError: a mistake"
    desk.finish(Moment(life.now_s, life.last_inputs.wall), DEADLINE_S)


def test_an_error_at_the_end_does_not_hold_up_the_stop(
    queue: HistoryQueue, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = HistoryDesk(queue, UTC, frozenset(), 0.0)

    def fails(*_: object) -> None:
        raise ZeroDivisionError("a mistake")

    monkeypatch.setattr(desk._gatherer, "finish", fails)
    desk.finish(Moment(5.0, Wall(NOON, trusted=True)), DEADLINE_S)
    assert desk.trouble == "an error of the program itself: ZeroDivisionError: a mistake"


def test_a_guard_on_the_bench_keeps_its_history_over_a_clean_end_a_kill_and_a_broken_disk(
    tmp_path: Path,
) -> None:
    with Rig(tmp_path) as rig:
        reader = HistoryReader(rig.bench.state)
        rig.chilling()
        rig.ticks(3)
        assert rig.end("guard") == 0
        ended = reader.extent()
        assert ended is not None, "the clean end keeps what there is"
        past = reader.past(ended.from_s, ended.until_s, 10_000)
        assert {Series("display", "water"), Series("room", "room")} <= set(past.series)
        assert all(27.4 < span.mean < 27.6 for span in past.series[Series("display", "water")])
        runs = [one for one in past.intervals if one.output == "chiller"]
        assert [(one.start, one.running) for one in runs] == [(True, False)]

        rig.guard()
        rig.until(lambda: (reader.extent() or ended).until_s > ended.until_s, "a batch is written")
        rig.end("guard", signal.SIGKILL)
        killed = reader.extent()
        assert killed is not None
        (day, *_) = reader.days("0000-01-01", "9999-12-31")
        assert day.guarded_s <= killed.until_s - ended.from_s

        (rig.bench.state / FILE_NAME).write_bytes(b"no database" * 1_000)
        rig.guard()
        rig.until(lambda: "minutes of history could not be read" in _events(rig), "it is told")
        assert rig.end("guard") == 0
        assert reader.extent() is not None, "a new history is begun"
        assert (rig.bench.state / f"{FILE_NAME}.broken-1").exists()


def _events(rig: Rig) -> str:
    return rig.command("alarms", "--settings", str(rig.bench.settings), "--history", "50").stdout
