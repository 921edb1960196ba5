"""`reefguard backup`: complete or not there, consistent while everything runs, and without secrets."""

import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from bench_rig import Rig, no_traceback
from installed_root import CHECKOUT

from reefguard.records import archive as archiving
from reefguard.records.archive import TOP, NotArchived, archive
from reefguard.records.event_reader import EventReader
from reefguard.rehearsal.bench import DISPLAY_ID


def _unpacked(file: Path, into: Path) -> Path:
    # By the command that the notes restore with; `tarfile` learnt to filter after Debian 12's Python, 3.11.2.
    subprocess.run(["tar", "-xzf", file, "-C", into], check=True)
    return into / TOP


def _backup(rig: Rig, file: Path, **more: str) -> subprocess.CompletedProcess[str]:
    bench = rig.bench
    return rig.command(
        "backup", str(file), "--settings", str(bench.settings), "--limits", str(bench.limits), **more
    )


def _whole(database: Path) -> bool:
    with closing(sqlite3.connect(database)) as opened:
        return bool(opened.execute("PRAGMA integrity_check").fetchone()[0] == "ok")


def test_while_everything_runs_it_holds_all_that_a_new_card_needs(tmp_path: Path) -> None:
    file = tmp_path / "saved.tar.gz"
    with Rig(tmp_path / "bench") as rig:
        rig.chilling()
        rig.ticks()
        ran = _backup(rig, file)
        assert ran.returncode == 0, ran.stderr
        assert "secrets" in ran.stdout
        seen = EventReader(rig.bench.state).last_seq()
        settings, limits = (path.read_bytes() for path in (rig.bench.settings, rig.bench.limits))
    saved = _unpacked(file, tmp_path)
    assert (saved / "settings/reefguard.yaml").read_bytes() == settings
    assert (saved / "settings/cutoff.yaml").read_bytes() == limits
    assert (saved / "cutoff/latch").is_file()
    assert _whole(saved / "guard/events.db")
    assert 0 < EventReader(saved / "guard").last_seq() <= seen
    # The cutoff's directory lies in the guard's, on a bench; it is there once.
    assert not (saved / "guard/cutoff").exists()
    assert not [path for path in saved.rglob("*") if path.name.endswith(("-wal", "-shm", ".new"))]


def test_restored_elsewhere_the_guard_goes_on_with_its_records(tmp_path: Path) -> None:
    file = tmp_path / "saved.tar.gz"
    with Rig(tmp_path / "old") as old:
        old.water(26.0)
        old.guard()
        old.ticks(3)
        old.end("guard")
        active = _backup(old, file)
        assert active.returncode == 0, active.stderr
        before = EventReader(old.bench.state).history(1_000)
    saved = _unpacked(file, tmp_path)
    with Rig(tmp_path / "new") as new:
        shutil.copytree(saved / "guard", new.bench.state, dirs_exist_ok=True)
        new.water(26.0)
        new.guard()
        new.ticks()
        new.end("guard")
        after = EventReader(new.bench.state).history(1_000)
        assert after[: len(before)] == before
        assert len(after) > len(before)


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM])
def test_it_leaves_nothing_behind_that_a_guard_of_another_user_could_not_open(
    tmp_path: Path, number: signal.Signals
) -> None:
    with Rig(tmp_path / "bench") as rig:
        rig.guard()
        rig.ticks()
        rig.end("guard", number)
        before = sorted(path.name for path in rig.bench.state.iterdir())
        assert _backup(rig, tmp_path / "saved.tar.gz").returncode == 0
        assert sorted(path.name for path in rig.bench.state.iterdir()) == before
    assert _whole(_unpacked(tmp_path / "saved.tar.gz", tmp_path) / "guard/events.db")


def test_no_secret_is_in_it(tmp_path: Path) -> None:
    with Rig(tmp_path / "bench") as rig:
        secrets = rig.bench.directory / "secrets"
        secrets.mkdir()
        (secrets / "phone").write_text("a-secret-address", encoding="utf-8")
        (rig.bench.directory / "link").mkdir()
        (rig.bench.directory / "link" / "outbox.db").write_text("a-secret-address", encoding="utf-8")
        assert _backup(rig, tmp_path / "saved.tar.gz").returncode == 0
    saved = _unpacked(tmp_path / "saved.tar.gz", tmp_path)
    assert not [path for path in saved.rglob("*") if path.is_file() and b"a-secret" in path.read_bytes()]
    assert "secrets" in (saved / "README.txt").read_text(encoding="utf-8")


def _some(directory: Path) -> dict[str, Path]:
    directory.mkdir()
    (directory / "memory.json").write_text("{}", encoding="utf-8")
    return {"guard": directory}


def test_links_pipes_and_unfinished_files_are_left_out(tmp_path: Path) -> None:
    sources = _some(tmp_path / "state")
    state = sources["guard"]
    (tmp_path / "other").write_text("not yours", encoding="utf-8")
    (state / "link").symlink_to(tmp_path / "other")
    (state / "directory").symlink_to(tmp_path)
    os.mkfifo(state / "pipe")
    (state / ".memory.json.123.new").write_text("half", encoding="utf-8")
    (state / "events.db-wal").write_text("", encoding="utf-8")
    (state / "kept").mkdir()
    (state / "kept" / "record.json").write_text("{}", encoding="utf-8")
    made = archive(tmp_path / "saved.tar.gz", {}, sources, "about", (-1, -1))
    assert made.names == ("guard/kept/record.json", "guard/memory.json")


def test_a_damaged_database_is_kept_as_it_is(tmp_path: Path) -> None:
    sources = _some(tmp_path / "state")
    damaged = b"SQLite format 3\0" + b"\xff" * 5_000
    (sources["guard"] / "events.db").write_bytes(damaged)
    archive(tmp_path / "saved.tar.gz", {}, sources, "about", (-1, -1))
    assert (_unpacked(tmp_path / "saved.tar.gz", tmp_path) / "guard/events.db").read_bytes() == damaged


def test_a_file_that_is_there_is_not_replaced(tmp_path: Path) -> None:
    target = tmp_path / "saved.tar.gz"
    target.write_text("older", encoding="utf-8")
    with pytest.raises(NotArchived, match="there already; mend"):
        archive(target, {}, _some(tmp_path / "state"), "about", (-1, -1))
    assert target.read_text(encoding="utf-8") == "older"


def test_a_backup_of_nothing_is_none(tmp_path: Path) -> None:
    with pytest.raises(NotArchived, match="no settings and no records"):
        archive(tmp_path / "saved.tar.gz", {}, {"guard": tmp_path / "none"}, "about", (-1, -1))
    assert list(tmp_path.iterdir()) == []


def test_what_fails_midway_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sources = _some(tmp_path / "state")

    def unreadable(*_: object) -> None:
        raise PermissionError(13, "Permission denied", "/var/lib/reefguard/memory.json")

    monkeypatch.setattr(archiving, "_content", unreadable)
    with pytest.raises(NotArchived, match=r"memory\.json: Permission denied; .* mend: run it with sudo"):
        archive(tmp_path / "saved.tar.gz", {}, sources, "about", (-1, -1))
    assert [path.name for path in tmp_path.iterdir()] == ["state"]


def test_on_a_full_disk_there_is_no_archive_and_no_traceback(tmp_path: Path) -> None:
    with Rig(tmp_path / "bench") as rig:
        (rig.bench.state / "random").write_bytes(os.urandom(200_000))
        place = tmp_path / "place"
        place.mkdir()
        ran = subprocess.run(
            [sys.executable, "-m", "reefguard", "backup", str(place / "saved.tar.gz")],
            env=rig.environment(), capture_output=True, text=True, check=False,
            preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000)),
        )  # fmt: skip
    assert ran.returncode == 2
    assert "there is no archive" in ran.stderr
    assert no_traceback(ran.stderr)
    assert list(place.iterdir()) == []


@pytest.mark.parametrize(
    ("name", "said"),
    [("saved.zip", "mend: reefguard backup saved.tar.gz"), ("none/saved.tar.gz", "is no directory")],
)
def test_a_place_that_cannot_be_is_refused_in_words(tmp_path: Path, name: str, said: str) -> None:
    with Rig(tmp_path / "bench") as rig:
        ran = _backup(rig, tmp_path / name)
    assert ran.returncode == 2
    assert said in ran.stderr
    assert no_traceback(ran.stderr)


def test_settings_with_errors_are_saved_too_with_the_records_they_name(tmp_path: Path) -> None:
    with Rig(tmp_path / "bench") as rig:
        rig.guard()
        rig.ticks()
        rig.end("guard")
        rig.settings((DISPLAY_ID, "YOURS"))
        assert _backup(rig, tmp_path / "saved.tar.gz").returncode == 0
    saved = _unpacked(tmp_path / "saved.tar.gz", tmp_path)
    assert b"YOURS" in (saved / "settings/reefguard.yaml").read_bytes()
    assert (saved / "guard/events.db").is_file()


def test_the_notes_tell_how_to_restore_it() -> None:
    notes = (CHECKOUT / "hardware-notes" / "keeping.md").read_text(encoding="utf-8")
    assert f"{TOP}/settings/reefguard.yaml" in notes
    assert f"{TOP}/guard/." in notes
