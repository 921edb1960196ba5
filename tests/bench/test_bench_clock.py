"""The bench's clock: as fast as asked, and with a wall clock that a file sets."""

import json
import os
import subprocess
import sys
import time
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from reefguard.rehearsal.bench_clock import BenchClock, speed_in

EVENING = "2031-07-14T20:45:00+02:00"


def boottime_s() -> float:
    return time.clock_gettime(time.CLOCK_BOOTTIME)


def set_wall(bench: Path, wall: str, at_boot_s: float, **more: object) -> None:
    beside = bench / "clock.json.new"
    beside.write_text(json.dumps({"wall": wall, "at_boot_s": at_boot_s, **more}), encoding="utf-8")
    beside.replace(bench / "clock.json")


@pytest.mark.parametrize("speed", [1.0, 60.0, 2.5])
def test_it_runs_as_fast_as_asked(tmp_path: Path, speed: float) -> None:
    clock = BenchClock(tmp_path, speed)
    before_s = boottime_s()
    assert before_s * speed <= clock.boot_s() <= boottime_s() * speed
    assert clock.real_seconds(60.0) == 60.0 / speed


def test_the_boot_has_the_kernels_name_at_any_speed_so_that_two_programs_agree_on_it(tmp_path: Path) -> None:
    kernels = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    assert BenchClock(tmp_path).boot_id() == kernels
    assert BenchClock(tmp_path, 60.0).boot_id() == kernels


def test_without_a_file_it_is_local_time_and_no_file_is_made(tmp_path: Path) -> None:
    before = datetime.now().astimezone()
    wall = BenchClock(tmp_path).wall()
    assert before <= wall.local <= datetime.now().astimezone()
    assert wall.trusted
    assert list(tmp_path.iterdir()) == []


def test_the_file_sets_it_and_it_runs_on_from_there(tmp_path: Path) -> None:
    clock = BenchClock(tmp_path)
    set_wall(tmp_path, EVENING, clock.boot_s() - 3600)
    wall = clock.wall()
    assert timedelta(hours=1) <= wall.local - datetime.fromisoformat(EVENING) < timedelta(hours=2)
    assert wall.local.utcoffset() == timedelta(hours=2)
    assert wall.trusted


def test_wall_and_boot_time_run_equally_fast(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = BenchClock(tmp_path, 60.0)
    set_wall(tmp_path, EVENING, 60_000.0)
    monkeypatch.setattr(time, "clock_gettime", lambda _: 1002.0)
    assert clock.boot_s() == 60_120.0
    assert clock.wall().local == datetime.fromisoformat("2031-07-14T20:47:00+02:00")


def test_it_can_be_set_under_a_running_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = BenchClock(tmp_path)
    monkeypatch.setattr(time, "clock_gettime", lambda _: 1000.0)
    for wall in (EVENING, "1970-01-01T00:00:00+00:00", "2031-07-14T20:45:00-05:00"):
        set_wall(tmp_path, wall, 1000.0)
        assert clock.wall().local.isoformat() == wall
        assert clock.wall().trusted
    set_wall(tmp_path, EVENING, 1000.0, trusted=False)
    assert clock.wall().local.isoformat() == EVENING
    assert not clock.wall().trusted
    set_wall(tmp_path, EVENING, 1000.0, trusted=True)
    assert clock.wall().trusted


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[]",
        b"\xff",
        b"{}",
        b'{"wall": "2031-07-14T20:45:00+02:00"}',
        b'{"wall": 5, "at_boot_s": 5}',
        b'{"wall": "noon", "at_boot_s": 5}',
        b'{"wall": "2031-07-14T20:45:00", "at_boot_s": 5}',
        b'{"wall": "2031-07-14T20:45:00+02:00", "at_boot_s": "5"}',
        b'{"wall": "2031-07-14T20:45:00+02:00", "at_boot_s": NaN}',
        b'{"wall": "2031-07-14T20:45:00+02:00", "at_boot_s": 1e30}',
        b'{"wall": "2031-07-14T20:45:00+02:00", "at_boot_s": 5, "trusted": "yes"}',
    ],
)
def test_a_broken_file_is_a_clock_not_to_be_trusted(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "clock.json").write_bytes(content)
    before = datetime.now().astimezone()
    wall = BenchClock(tmp_path).wall()
    assert not wall.trusted
    assert before <= wall.local <= datetime.now().astimezone()


def test_the_first_fast_clock_writes_the_file_and_the_next_follows_it(tmp_path: Path) -> None:
    before = datetime.now().astimezone()
    first = BenchClock(tmp_path, 60.0)
    written = json.loads((tmp_path / "clock.json").read_text(encoding="utf-8"))
    assert before <= datetime.fromisoformat(written["wall"]) <= datetime.now().astimezone()
    assert written["at_boot_s"] <= first.boot_s()
    assert written["trusted"] is True
    BenchClock(tmp_path, 60.0)
    assert json.loads((tmp_path / "clock.json").read_text(encoding="utf-8")) == written
    assert [file.name for file in tmp_path.iterdir()] == ["clock.json"]


def test_programs_that_start_together_agree(tmp_path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from reefguard.rehearsal.bench_clock import BenchClock\n"
        "BenchClock(Path(sys.argv[1]), 3600.0); print((Path(sys.argv[1]) / 'clock.json').read_text())"
    )
    together = [
        subprocess.Popen([sys.executable, "-c", program, str(tmp_path)], stdout=subprocess.PIPE, text=True)
        for _ in range(4)
    ]
    answers = {process.communicate(timeout=60)[0] for process in together}
    assert [process.returncode for process in together] == [0, 0, 0, 0]
    assert len(answers) == 1
    assert [file.name for file in tmp_path.iterdir()] == ["clock.json"]


@pytest.mark.parametrize(
    ("text", "speed"), [(None, 1.0), ("1", 1.0), ("60", 60.0), ("2.5", 2.5), ("1e3", 1e3)]
)
def test_a_speed_is_a_number_from_1_up(text: str | None, speed: float) -> None:
    environ = {"REEFGUARD_BENCH": os.sep} | ({} if text is None else {"REEFGUARD_BENCH_SPEED": text})
    assert speed_in(environ) == speed


@pytest.mark.parametrize("text", ["", "fast", "0", "-60", "0.5", "nan", "inf", "-inf", "60x"])
def test_anything_else_is_refused_in_words(text: str) -> None:
    with pytest.raises(
        ValueError, match=f"REEFGUARD_BENCH_SPEED is `{text}`, which is no number from 1 up; mend"
    ):
        speed_in({"REEFGUARD_BENCH": os.sep, "REEFGUARD_BENCH_SPEED": text})


@pytest.mark.parametrize("bench", [{}, {"REEFGUARD_BENCH": ""}])
def test_no_clock_runs_fast_without_a_bench(bench: dict[str, str]) -> None:
    with pytest.raises(ValueError, match="on a bench only; mend: unset REEFGUARD_BENCH_SPEED"):
        speed_in(bench | {"REEFGUARD_BENCH_SPEED": "60"})
    assert speed_in(bench) == 1.0
