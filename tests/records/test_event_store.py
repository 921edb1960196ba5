"""The events database: real files, real processes, and disks that fail."""

import os
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from reefguard.records import event_store
from reefguard.records.database import Broken
from reefguard.records.event_queue import MOST_WAITING, EventQueue
from reefguard.records.event_reader import EventReader, NoEvents
from reefguard.records.event_store import SEQ_STEP, EventStore, Keep, set_events_aside
from reefguard.records.events import APPLICATION_ID, FILE_NAME, Event

DEADLINE_S = 60.0


def event(number: int, **changes: Any) -> Event:
    one = Event(
        boot_id="boot-1",
        at_boot_s=float(number),
        at_wall="2031-07-14T20:45:00+02:00",
        clock_trusted=True,
        kind="alarm",
        subject=f"water high {number}",
        change="raised",
        what="display reads 28.10 °C",
        priority=3,
        who="mara",
        details={"number": number, "unit": "°C"},
    )
    return one._replace(**changes)


def numbers(directory: Path) -> list[int]:
    return [
        one.event.details["number"] for one in EventReader(directory).history(100_000) if one.event.details
    ]


def written(directory: Path) -> list[int]:
    """Return the numbers on the disk, none while there is no database yet."""
    try:
        return numbers(directory)
    except NoEvents:
        return []


def until(holds: Callable[[], object]) -> None:
    until_s = time.monotonic() + DEADLINE_S
    while not holds():
        assert time.monotonic() < until_s, "waited in vain"
        time.sleep(0.01)


@pytest.fixture
def queue(tmp_path: Path) -> Iterator[EventQueue]:
    one = EventQueue(tmp_path, retry_after_s=0.02, remember="alarms")
    yield one
    one.finish(DEADLINE_S)


def test_what_was_written_is_read_back_in_order_and_by_place(tmp_path: Path) -> None:
    store = EventStore(tmp_path)
    store.append([event(1), event(2, priority=None, who=None, details=None, clock_trusted=False)])
    store.append([event(3)], {"alarms": "{}"})
    reader = EventReader(tmp_path)
    assert [one.seq for one in reader.history(10)] == [1, 2, 3]
    assert [one.event for one in reader.events_after(0, 1)] == [event(1)]
    assert reader.events_after(1, 1)[0].event == event(
        2, priority=None, who=None, details=None, clock_trusted=False
    )
    assert [one.seq for one in reader.history(2)] == [2, 3]
    assert reader.events_after(3, 10) == ()
    assert reader.last_seq() == 3
    assert store.remembered("alarms") == "{}"
    assert store.remembered("other") is None
    store.close()


def test_the_database_is_what_the_contract_says(tmp_path: Path) -> None:
    store = EventStore(tmp_path)
    assert store._database.sql.execute("PRAGMA synchronous").fetchone()[0] == 2  # FULL
    store.close()
    there = sqlite3.connect(tmp_path / FILE_NAME)
    assert there.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
    assert there.execute("PRAGMA user_version").fetchone()[0] == 1
    assert there.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    columns = {
        name: (kind, bool(required))
        for _, name, kind, required, *_ in there.execute("PRAGMA table_info(events)").fetchall()
    }
    there.close()
    assert columns == {
        "seq": ("INTEGER", False),
        "boot_id": ("TEXT", True),
        "at_boot_s": ("REAL", True),
        "at_wall": ("TEXT", True),
        "clock_trusted": ("INTEGER", True),
        "kind": ("TEXT", True),
        "subject": ("TEXT", True),
        "change": ("TEXT", True),
        "priority": ("INTEGER", False),
        "what": ("TEXT", True),
        "who": ("TEXT", False),
        "details": ("TEXT", False),
    }


def test_a_batch_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    store = EventStore(tmp_path)
    store.append([event(1)])
    with pytest.raises(sqlite3.Error):
        store.append([event(2), event(3, what=None)], {"alarms": "new"})
    store.append([event(4)])
    assert store.remembered("alarms") is None
    store.close()
    assert numbers(tmp_path) == [1, 4]


def test_without_a_database_the_reader_says_so(tmp_path: Path) -> None:
    with pytest.raises(NoEvents, match=r"events\.db is not there: no guard has run"):
        EventReader(tmp_path).history(1)
    (tmp_path / FILE_NAME).write_bytes(b"no database at all" * 100)
    with pytest.raises(NoEvents, match=r"events\.db cannot be read: file is not a database"):
        EventReader(tmp_path).last_seq()


# A writer as another process: it says each number once it is on the disk, and ends as it is told.
WRITER = """
import sys
sys.path.insert(0, {tests!r})
from pathlib import Path
from test_event_store import event
from reefguard.records.event_store import EventStore
store = EventStore(Path({directory!r}))
number = 0
while True:
    number += 1
    store.append([event(number)])
    print(number, flush=True)
    if sys.stdin.readline() == "end\\n":
        store.close()
        break
"""


def writer(directory: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", WRITER.format(tests=str(Path(__file__).parent), directory=str(directory))],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": ":".join(sys.path)},
    )


def writes(program: subprocess.Popen[str], times: int) -> None:
    assert program.stdin is not None
    assert program.stdout is not None
    for _ in range(times):
        program.stdout.readline()
        program.stdin.write("more\n")
        program.stdin.flush()
    program.stdout.readline()


# A reader as a user who may read the directory and write nothing in it.
READER = """
import os
from pathlib import Path
from reefguard.records.event_reader import EventReader
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
print([one.event.details["number"] for one in EventReader(Path({directory!r})).history(100)])
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


def test_somebody_who_may_only_read_reads_it_running_ended_killed_and_after_a_power_cut() -> None:
    with tempfile.TemporaryDirectory() as name:
        directory = Path(name)
        directory.chmod(0o755)
        program = writer(directory)
        with program:
            writes(program, 4)
            directory.chmod(0o555)
            assert read_by_somebody_else(directory) == "[1, 2, 3, 4, 5]", "while it runs"
            program.kill()
            program.wait()
        assert {one.suffix for one in directory.iterdir()} == {".db", ".db-wal", ".db-shm"}
        assert read_by_somebody_else(directory) == "[1, 2, 3, 4, 5]", "after a kill"

        directory.chmod(0o755)
        directory.joinpath(f"{FILE_NAME}-shm").unlink()
        directory.chmod(0o555)
        assert read_by_somebody_else(directory) == "[1, 2, 3, 4, 5]", "from a log without its index"

        directory.chmod(0o755)
        EventStore(directory).close()
        directory.chmod(0o555)
        assert [one.name for one in directory.iterdir()] == [FILE_NAME]
        assert read_by_somebody_else(directory) == "[1, 2, 3, 4, 5]", "after a clean end"
        assert [one.name for one in directory.iterdir()] == [FILE_NAME]
        directory.chmod(0o755)


def test_what_was_said_to_be_written_survives_a_kill(tmp_path: Path) -> None:
    said = 0
    for round_ in range(3):
        with writer(tmp_path) as program:
            writes(program, round_)
            said += round_ + 1
            program.send_signal(signal.SIGKILL)
        assert EventReader(tmp_path).last_seq() == said


def test_a_damaged_database_is_set_aside_and_a_new_one_counts_on_above_it(tmp_path: Path) -> None:
    store = EventStore(tmp_path)
    store.append([event(1)])
    store.close()
    content = (tmp_path / FILE_NAME).read_bytes()
    damaged = content[:4096] + b"\xff" * (len(content) - 4096)
    (tmp_path / FILE_NAME).write_bytes(damaged)

    queue = EventQueue(tmp_path, retry_after_s=0.02, remember="alarms")
    queue.add(event(2))
    queue.finish(DEADLINE_S)
    assert (tmp_path / f"{FILE_NAME}.broken-1").read_bytes() == damaged
    found = queue.take_damage()
    assert found is not None
    assert found[0] == tmp_path / f"{FILE_NAME}.broken-1"
    assert queue.take_damage() is None
    assert [one.seq for one in EventReader(tmp_path).events_after(1, 10)] == [SEQ_STEP + 1]

    (tmp_path / FILE_NAME).write_bytes(b"garbage" * 1000)
    with pytest.raises(Broken, match="not a database"):
        EventStore(tmp_path)
    assert set_events_aside(tmp_path).name == f"{FILE_NAME}.broken-2"
    EventStore(tmp_path).close()
    assert EventReader(tmp_path).last_seq() == 0


def test_damage_deep_inside_is_found_when_it_is_opened(tmp_path: Path) -> None:
    store = EventStore(tmp_path)
    store.append([event(number) for number in range(500)])
    store.close()
    content = bytearray((tmp_path / FILE_NAME).read_bytes())
    middle = len(content) // 2 // 4_096 * 4_096
    content[middle : middle + 4_096] = bytes(4_096)
    (tmp_path / FILE_NAME).write_bytes(content)
    with pytest.raises(Broken):
        EventStore(tmp_path)


def test_damage_that_is_found_in_the_middle_of_writing_loses_nothing_that_waits(tmp_path: Path) -> None:
    queue = EventQueue(tmp_path, retry_after_s=0.02, remember="alarms")
    queue.add(event(1))
    until(lambda: written(tmp_path) == [1])
    there = sqlite3.connect(tmp_path / FILE_NAME)
    there.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    there.close()
    os.truncate(tmp_path / FILE_NAME, 4_096)
    queue.add(event(2))
    until((tmp_path / f"{FILE_NAME}.broken-1").exists)
    queue.add(event(3))
    queue.finish(DEADLINE_S)
    assert numbers(tmp_path) == [2, 3]


@pytest.mark.parametrize("cut", [0, 1, 100, 4096, 5000, 9000])
def test_a_truncated_database_never_stops_the_writing(tmp_path: Path, cut: int) -> None:
    store = EventStore(tmp_path)
    store.append([event(number) for number in range(200)])
    store.close()
    os.truncate(tmp_path / FILE_NAME, cut)
    queue = EventQueue(tmp_path, retry_after_s=0.02, remember="alarms")
    queue.add(event(1_000))
    queue.finish(DEADLINE_S)
    assert queue.trouble is None
    assert numbers(tmp_path)[-1] == 1_000


@pytest.mark.parametrize("table", ["events", "remembered"])
def test_a_database_without_one_of_its_tables_is_set_aside(tmp_path: Path, table: str) -> None:
    EventStore(tmp_path).close()
    there = sqlite3.connect(tmp_path / FILE_NAME)
    there.execute(f"DROP TABLE {table}")
    there.close()
    queue = EventQueue(tmp_path, retry_after_s=0.02, remember="alarms")
    queue.add(event(1))
    queue.finish(DEADLINE_S)
    damage = queue.take_damage()
    assert damage is not None
    assert damage[1] == "its tables are not those of events of version 1"
    assert numbers(tmp_path) == [1]


def test_somebody_elses_database_is_set_aside_not_written_to(tmp_path: Path) -> None:
    there = sqlite3.connect(tmp_path / FILE_NAME)
    there.executescript("CREATE TABLE guests(name)")
    there.close()
    content = (tmp_path / FILE_NAME).read_bytes()
    queue = EventQueue(tmp_path, retry_after_s=0.02, remember="alarms")
    queue.add(event(1))
    queue.finish(DEADLINE_S)
    assert (tmp_path / f"{FILE_NAME}.broken-1").read_bytes() == content
    assert numbers(tmp_path) == [1]


def test_what_waits_is_written_once_the_disk_is_back_and_the_trouble_goes(tmp_path: Path) -> None:
    state = tmp_path / "state"
    state.write_text("a file where the directory belongs", encoding="utf-8")
    queue = EventQueue(state, retry_after_s=0.02, remember="alarms")
    assert queue.left_behind(DEADLINE_S) is None
    for number in range(1_200):
        queue.add(event(number))
    until(lambda: queue.trouble)
    state.unlink()
    state.mkdir()
    until(lambda: queue.trouble is None)
    queue.finish(DEADLINE_S)
    assert numbers(state) == list(range(1_200))
    assert queue.dropped == 0


def test_a_database_taken_away_under_the_writer_is_begun_anew(tmp_path: Path, queue: EventQueue) -> None:
    queue.add(event(1))
    until(lambda: written(tmp_path) == [1])
    for belongs in ("", "-wal", "-shm"):
        (tmp_path / f"{FILE_NAME}{belongs}").unlink(missing_ok=True)
    queue.add(event(2))
    until(lambda: written(tmp_path) == [2])


def test_more_than_memory_holds_drops_the_oldest_and_counts_them(tmp_path: Path) -> None:
    state = tmp_path / "state"
    queue = EventQueue(state, retry_after_s=0.02, remember="alarms")
    until(lambda: queue.trouble)
    for number in range(MOST_WAITING + 7):
        queue.add(event(number))
    assert queue.dropped == 7
    state.mkdir()
    queue.finish(DEADLINE_S)
    assert numbers(state) == list(range(7, MOST_WAITING + 7))


def test_a_text_kept_with_events_is_left_for_the_next_run(tmp_path: Path) -> None:
    first = EventQueue(tmp_path, retry_after_s=0.02, remember="alarms")
    assert first.left_behind(DEADLINE_S) is None
    first.add(event(1), keep={"alarms": "old"})
    first.add(keep={"alarms": "new"})
    first.finish(DEADLINE_S)
    second = EventQueue(tmp_path, retry_after_s=0.02, remember="alarms")
    assert second.left_behind(DEADLINE_S) == "new"
    second.finish(DEADLINE_S)
    assert numbers(tmp_path) == [1]


def test_a_full_disk_fails_the_append_and_keeps_what_was_there(tmp_path: Path) -> None:
    store = EventStore(tmp_path)
    store.append([event(1)])
    store._database.sql.execute("PRAGMA max_page_count=6")
    with pytest.raises(sqlite3.OperationalError, match="full"):
        store.append([event(number) for number in range(2, 500)])
    store._database.sql.execute("PRAGMA max_page_count=100000")
    store.append([event(500)])
    store.close()
    assert numbers(tmp_path) == [1, 500]


def test_a_name_that_is_no_text_does_not_end_the_writing(tmp_path: Path, queue: EventQueue) -> None:
    """A file's name may hold bytes that are no UTF-8; in a sentence they come as lone surrogates."""
    queue.add(event(1)._replace(what="reef\udcff.yaml has errors"), keep={"alarms": "\udcff"})
    queue.add(event(2))
    until(lambda: written(tmp_path) == [1, 2])
    assert queue.trouble is None
    (first, _) = EventReader(tmp_path).history(2)
    assert first.event.what == "reef\\udcff.yaml has errors"


def test_a_stretch_of_time_is_read_by_the_clock_and_not_by_its_text(tmp_path: Path) -> None:
    store = EventStore(tmp_path)
    # The night in which the clocks go back: 02:30 comes twice, and 02:10 after the first of them.
    walls = ("2026-10-25T02:30:00+02:00", "2026-10-25T02:10:00+01:00", "2026-10-25T03:00:00+01:00")
    store.append([event(number, at_wall=wall) for number, wall in enumerate(walls)])
    first_s, second_s, third_s = (datetime.fromisoformat(wall).timestamp() for wall in walls)
    assert first_s < second_s < third_s
    reader = EventReader(tmp_path)
    assert [one.event.at_wall for one in reader.between(first_s, third_s)] == list(walls[:2])
    assert [one.event.at_wall for one in reader.between(second_s, third_s + 1.0)] == list(walls[1:])
    assert reader.between(0.0, first_s) == ()
    store.close()


def test_reading_after_the_guards_end_leaves_nothing_beside_it(tmp_path: Path) -> None:
    # As root one could make a log there, which the guard's user then could not open.
    store = EventStore(tmp_path)
    store.append([event(1)])
    store.close()
    before = sorted(path.name for path in tmp_path.iterdir())
    assert len(EventReader(tmp_path).history(10)) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == before == ["events.db"]


def test_what_is_too_old_or_too_much_goes_the_oldest_first_and_the_newest_stay(tmp_path: Path) -> None:
    store = EventStore(tmp_path)
    kept = (
        Keep(("alarm",), years=5, most=8, least=3),
        Keep(("output", "mode"), years=2, most=4, least=2),
    )
    old, later, newest = "2026-07-13T12:00:00+02:00", "2029-07-13T12:00:00+02:00", "2031-07-14T12:00:00+02:00"
    store.append([event(number, at_wall=old) for number in range(3)])
    store.append([event(number, at_wall=later) for number in range(3, 9)])
    store.append([event(number, at_wall=later, kind="output") for number in range(9, 12)])
    store.append([event(12, at_wall=newest, kind="output")])
    # Three alarms by their age, and of the outputs two: the newest two stay whatever their age.
    assert store.prune(kept) == 5
    assert numbers(tmp_path) == [3, 4, 5, 6, 7, 8, 11, 12]
    assert store.prune(kept) == 0
    store.append([event(number, at_wall=newest) for number in range(13, 20)])
    assert store.prune(kept) == 5
    assert numbers(tmp_path) == [8, 11, 12, 13, 14, 15, 16, 17, 18, 19]
    store.close()


def test_a_clock_far_ahead_prunes_no_more_than_what_may_go(tmp_path: Path) -> None:
    store = EventStore(tmp_path)
    store.append([event(number) for number in range(5)])
    store.append([event(5, at_wall="2099-01-01T00:00:00+00:00")])
    assert store.prune() == 0
    assert store.prune((Keep(("alarm",), years=5, most=8, least=4),)) == 2
    store.close()
    assert numbers(tmp_path) == [2, 3, 4, 5]


def test_an_empty_events_database_has_nothing_to_prune(tmp_path: Path) -> None:
    store = EventStore(tmp_path)
    assert store.prune() == 0
    store.close()


def test_the_queue_prunes_what_it_finds_at_its_start_without_losing_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = EventStore(tmp_path)
    store.append([event(number, kind="output") for number in range(10)])
    store.close()
    monkeypatch.setattr(event_store, "KEPT", (Keep(("output",), years=2, most=5, least=2),))
    queue = EventQueue(tmp_path, retry_after_s=0.02, remember="alarms")
    queue.add(event(10))
    queue.finish(DEADLINE_S)
    assert numbers(tmp_path) == [5, 6, 7, 8, 9, 10]
    assert EventReader(tmp_path).last_seq() == 11
