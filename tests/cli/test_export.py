"""`reefguard export`: real files, the command as people call it."""

import csv
import io
import json
import os
import stat
import subprocess
import sys
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from ticks import DISPLAY as DISPLAY_SERIES
from ticks import Ticks

from reefguard.records.event_store import EventStore
from reefguard.records.events import Event
from reefguard.records.history_gather import Water
from reefguard.records.history_store import HistoryStore
from reefguard.rehearsal.bench import Bench, prepare

HOURS = 20
NOON_S = datetime(2025, 7, 14, 12, tzinfo=UTC).timestamp()


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """Return a bench whose guard has recorded a day."""
    made = prepare(tmp_path_factory.mktemp("bench"))
    store = HistoryStore(made.state)
    ticks = Ticks(NOON_S)
    for number in range(HOURS * 120 + 1):
        ticks.tick(
            30.0 if number else 0.0,
            values={DISPLAY_SERIES: 26.0},
            on=["fan1"],
            water=Water(26.0, 26.0, 24.0, 27.8),
        )
    store.write(ticks.minutes)
    store.close()
    events = EventStore(made.state)
    for hour in (10, 12, 20):
        at_wall = f"2025-07-14T{hour}:30:00+00:00"
        events.append([Event("b", 1.0, at_wall, True, "alarm", "water high", "raised", "it is warm")])
    events.close()
    return made


def export(bench: Bench, *arguments: str, **more: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "reefguard", "export", "--settings", str(bench.settings), *arguments],
        env={**os.environ, "TZ": "Europe/Vienna", **more},
        capture_output=True,
        timeout=60,
        check=False,
    )


def rows(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8"), newline=""), strict=True))


def test_readings_into_a_file_as_finely_as_they_are_kept(bench: Bench, tmp_path: Path) -> None:
    file = tmp_path / "reef.csv"
    file.write_text("what was there before", encoding="utf-8")
    done = export(bench, str(file))
    assert (done.returncode, done.stdout, done.stderr) == (0, b"", b"")
    made = rows(file.read_bytes())
    assert len(made) == HOURS * 60
    assert made[0]["time"] == "2025-07-14T14:00:00+02:00"
    assert made[0]["mean_celsius"] == "26.0"
    assert stat.S_IMODE(file.stat().st_mode) == 0o644
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.parametrize(("every", "count"), [("1m", 180), ("5m", 36), ("1h", 3)])
def test_a_stretch_as_finely_as_asked(bench: Bench, every: str, count: int) -> None:
    done = export(bench, "--from", "2025-07-14T14:00", "--to", "2025-07-14T15:00Z", "--every", every, "-")
    assert done.stderr == b""
    made = rows(done.stdout)
    assert len(made) == count
    assert made[-1]["time"].startswith("2025-07-14T16:")


def test_a_day_is_meant_to_its_end(bench: Bench) -> None:
    done = export(bench, "--from", "2025-07-14", "--to", "2025-07-14", "--every", "1h", "-")
    made = rows(done.stdout)
    assert [made[0]["time"], made[-1]["time"]] == ["2025-07-14T14:00:00+02:00", "2025-07-14T23:00:00+02:00"]


def test_the_other_tables(bench: Bench) -> None:
    (run,) = rows(export(bench, "--what", "outputs", "-").stdout)
    assert (run["output"], run["lasted_seconds"], run["start"]) == ("fan1", str(HOURS * 3_600.0), "true")
    events = rows(
        export(bench, "--what", "events", "--from", "2025-07-14", "--to", "2025-07-14T16:00", "-").stdout
    )
    # Also what happened before the history begins.
    assert [one["time"] for one in events] == ["2025-07-14T10:30:00+00:00", "2025-07-14T12:30:00+00:00"]
    days = rows(export(bench, "--what", "days", "-").stdout)
    assert [day["date"] for day in days] == ["2025-07-14", "2025-07-15"]
    assert [day["fan1_starts"] for day in days] == ["1", "0"]


def test_a_package_of_all_tables(bench: Bench, tmp_path: Path) -> None:
    file = tmp_path / "reef.zip"
    done = export(bench, "--package", str(file))
    assert (done.returncode, done.stderr) == (0, b"")
    with zipfile.ZipFile(file) as package:
        described = json.loads(package.read("datapackage.json"))
        assert len(rows(package.read("readings.csv"))) == HOURS * 60
    assert [one["path"] for one in described["resources"]] == [
        "readings.csv",
        "outputs.csv",
        "events.csv",
        "days.csv",
    ]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--package", "--what", "days", "x.zip"], "--package holds every table\n  mend: leave --what out"),
        (["--from", "yesterday", "-"], "it is no date of the calendar\n  mend: write a date like 2026-07-20"),
        (["--from", "2025-02-30", "-"], "it is no date of the calendar"),
        (["--from", "2025-07-15", "--to", "2025-07-13", "-"], "not later than --from"),
        (["--from", "9999-12-31", "--to", "9999-12-31", "-"], "mend: "),
        (["--last", "soon", "-"], "no number of hours or days"),
        (["--every", "2m", "-"], "'2m' is not one of"),
        (
            ["/nowhere/reef.csv"],
            "/nowhere/reef.csv: cannot be written: No such file or directory\n  mend: name",
        ),
    ],
)
def test_a_mistake_is_told_with_how_to_mend_it(bench: Bench, arguments: list[str], says: str) -> None:
    done = export(bench, *arguments)
    assert done.returncode == 2
    assert says in done.stderr.decode()
    assert done.stdout == b""


def test_without_a_history_it_says_so(tmp_path: Path) -> None:
    made = prepare(tmp_path)
    done = export(made, "-")
    assert done.returncode == 2
    assert b"nothing was written: " in done.stderr
    assert b"history.db is not there: no guard has run with these settings" in done.stderr


@pytest.mark.parametrize("what", ["readings", "outputs", "events", "days"])
def test_of_a_guard_that_has_just_begun_there_is_nothing_yet(tmp_path: Path, what: str) -> None:
    made = prepare(tmp_path)
    HistoryStore(made.state).close()
    EventStore(made.state).close()
    for arguments in ([], ["--from", "2025-07-14", "--to", "2025-07-14"]):
        done = export(made, "--what", what, *arguments, "-")
        assert (done.returncode, rows(done.stdout)) == (0, [])
        assert b"," in done.stdout, "the header"
        assert f"reefguard: no {what}: nothing is recorded yet".encode() in done.stderr


@pytest.mark.parametrize(
    ("what", "reaches"),
    [
        ("readings", "2025-07-14 14:00+02:00 to 2025-07-15 10:00+02:00"),
        ("outputs", "2025-07-14 14:00+02:00 to 2025-07-15 10:00+02:00"),
        ("days", "2025-07-14 14:00+02:00 to 2025-07-15 10:00+02:00"),
        ("events", "2025-07-14 12:30+02:00 to 2025-07-14 22:30+02:00"),
    ],
)
def test_a_stretch_of_which_nothing_is_kept_is_told_with_what_is(
    bench: Bench, what: str, reaches: str
) -> None:
    for day, next_day in (("2025-07-10", "2025-07-11"), ("2025-07-20", "2025-07-21")):
        done = export(bench, "--what", what, "--from", day, "--to", day, "-")
        assert (done.returncode, rows(done.stdout)) == (0, [])
        assert b"," in done.stdout, "the header"
        assert done.stderr.decode() == (
            f"reefguard: no {what} from {day} 00:00+02:00 to {next_day} 00:00+02:00; "
            f"what is kept reaches from {reaches}\n"
        )


def test_a_package_of_nothing_says_so_of_each_table(bench: Bench, tmp_path: Path) -> None:
    done = export(
        bench, "--package", "--from", "2025-07-10", "--to", "2025-07-10", str(tmp_path / "reef.zip")
    )
    assert done.returncode == 0
    told = [line.split()[2] for line in done.stderr.decode().splitlines()]
    assert told == ["readings", "outputs", "events", "days"]


def test_the_last_days_end_now(bench: Bench) -> None:
    done = export(bench, "--last", "3600d", "--every", "1h", "-")
    assert (done.returncode, done.stderr, len(rows(done.stdout))) == (0, b"", HOURS)


def test_readings_that_are_no_longer_kept_so_finely_are_told(tmp_path: Path) -> None:
    made = prepare(tmp_path)
    store = HistoryStore(made.state)
    with store._database.transaction() as sql:
        sql.execute("INSERT INTO marks VALUES ('60 from', ?)", (int(NOON_S),))
        sql.execute("INSERT INTO watches VALUES (?, ?)", (int(NOON_S - 3_600) * 1_000, int(NOON_S) * 1_000))
    store.close()
    done = export(made, "--every", "1m", "-")
    assert done.returncode == 0
    assert done.stderr.decode().splitlines() == [
        "reefguard: as finely as that, readings are kept since 2025-07-14 14:00+02:00",
        "reefguard: no readings; what is kept reaches from 2025-07-14 13:00+02:00 to 2025-07-14 14:00+02:00",
    ]


def test_a_reader_that_has_had_enough_is_no_error_of_the_program(bench: Bench) -> None:
    command = f'"{sys.executable}" -m reefguard export --settings "{bench.settings}" - | head -c 10'
    done = subprocess.run(["bash", "-c", command], capture_output=True, timeout=60, check=False)
    assert done.stderr == b""
