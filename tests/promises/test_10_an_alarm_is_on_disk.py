"""Promise 10. An alarm is on disk before it is announced (the guard's half).

Whoever announces reads the events database, and nothing else.  The disk may
fail, fill, or give nonsense: the guard goes on, says so, and writes what it
could not once it can again.
"""

import os
import shutil
import signal
import socket
import sqlite3
from pathlib import Path

from bench_rig import Rig

from reefguard.guard.command_socket import FILE_NAME as SOCKET
from reefguard.guard.command_socket import short_address
from reefguard.records.event_reader import EventReader, NoEvents
from reefguard.records.events import FILE_NAME, Recorded
from reefguard.rehearsal.bench import FAN_1


def _events(rig: Rig) -> tuple[Recorded, ...]:
    try:
        return EventReader(rig.bench.state).history(10_000)
    except NoEvents:
        return ()


def _changes(rig: Rig, subject: str) -> list[str]:
    return [one.event.change for one in _events(rig) if one.event.subject == subject]


def _alarms(rig: Rig) -> dict[str, str]:
    return {one["name"]: one["state"] for one in rig.status().get("alarms", [])}


def test_what_happens_is_told_with_its_reason_and_its_time_from_start_to_stop(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.water(28.4)
        rig.guard()
        rig.until(lambda: "raised" in _changes(rig, "water high"), "the alarm is on disk")
        rig.water(26.0)
        rig.until(lambda: "returned" in _changes(rig, "water high"), "its end is on disk")
        assert rig.end("guard") == 0
        events = [one.event for one in _events(rig)]
    assert [one.change for one in events if one.kind == "guard"] == ["started", "stopped"]
    assert [one.change for one in events if one.subject == "water high"] == ["raised", "returned"]
    fan_on = next(one for one in events if (one.subject, one.change) == ("fan1", "on"))
    assert "at or above the cut-in" in fan_on.what
    fan_off = next(one for one in events if (one.subject, one.change) == ("fan1", "off"))
    assert "at or below the cut-out" in fan_off.what
    assert "automatic" in [one.change for one in events if one.kind == "mode"]
    returned = next(one for one in events if one.change == "returned" and one.subject == "water high")
    assert returned.details is not None
    assert returned.details["peak_c"] == 28.375  # the probe's sixteenths below 28.4
    assert returned.details["lasted_s"] > 0.0
    assert returned.details["degree_hours"] > 0.0
    assert {one.clock_trusted for one in events} == {True}
    assert all(one.at_wall.startswith("2031-07-14T") for one in events)
    boots = [one.at_boot_s for one in events]
    assert boots == sorted(boots)


def test_killed_at_any_moment_it_goes_on_where_it_was_and_says_that_it_was_killed(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.water(28.4)
        rig.guard()
        rig.until(lambda: "water high" in _alarms(rig), "the alarm stands")
        rig.until(lambda: "raised" in _changes(rig, "water high"), "the alarm is on disk")
        assert rig.command(
            "acknowledge", "water high", "--settings", str(rig.bench.settings)
        ).returncode == 0  # fmt: skip
        rig.until(lambda: "acknowledged" in _changes(rig, "water high"), "that it is known is on disk")
        before = _events(rig)
        rig.end("guard", signal.SIGKILL)
        assert _events(rig)[: len(before)] == before

        rig.guard()
        rig.until(lambda: _alarms(rig).get("guard restarted unexpectedly"), "the kill is an alarm")
        assert _alarms(rig)["water high"] == "acknowledged"
        assert "guard restarted unexpectedly" not in rig.findings()
        rig.end("guard")
        assert _events(rig)[: len(before)] == before
        rig.guard()
        rig.until(lambda: _changes(rig, "guard").count("started") == 3, "the third start is on disk")
        ended = [one.event.details for one in _events(rig) if one.event.change == "started"]
        assert [one and one["last_run_ended"] for one in ended] == [None, "unexpectedly", "cleanly"]


def test_a_damaged_database_is_set_aside_and_the_guard_holds_the_tank(tmp_path: Path) -> None:
    garbage = b"no database" * 1_000
    with Rig(tmp_path) as rig:
        (rig.bench.state / FILE_NAME).write_bytes(garbage)
        rig.water(27.0)
        rig.guard()
        rig.until(lambda: rig.pin(FAN_1) == "1", "the fans run")
        rig.until(lambda: "began anew" in _changes(rig, "guard"), "that it was set aside is told")
        assert (rig.bench.state / f"{FILE_NAME}.broken-1").read_bytes() == garbage
        assert "storage failing" not in rig.findings()


def test_a_database_damaged_under_the_running_guard_is_set_aside_too(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.water(26.0)
        rig.guard()
        rig.until(lambda: _changes(rig, "guard"), "the start is on disk")
        rig.until(lambda: rig.mode() == "automatic", "the guard is at work")
        # The same file, with something else in it.
        database = sqlite3.connect(rig.bench.state / FILE_NAME)
        database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        database.close()
        os.truncate(rig.bench.state / FILE_NAME, 4_096 + 100)
        rig.water(27.0)
        rig.until(lambda: rig.pin(FAN_1) == "1", "the fans run")
        rig.until(lambda: "on" in _changes(rig, "fan1"), "events are written again")
        assert rig.end("guard") == 0


def test_what_could_not_be_written_is_written_once_the_disk_is_back(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        shutil.rmtree(rig.bench.state)
        rig.bench.state.write_text("a file where the state directory belongs", encoding="utf-8")
        rig.water(28.4)
        rig.guard()
        rig.until(lambda: "water high" in _alarms(rig), "the alarm stands all the same")
        assert "storage failing" in rig.findings()
        rig.until(lambda: "storage failing" in _alarms(rig), "the storage is an alarm")
        rig.bench.state.unlink()
        rig.bench.state.mkdir()
        rig.until(lambda: "storage failing" not in rig.findings(), "the mended disk is seen to be in order")
        rig.until(lambda: "raised" in _changes(rig, "water high"), "what waited is on disk")
        assert _changes(rig, "guard") == ["started"]
        assert [one.seq for one in _events(rig)] == list(range(1, len(_events(rig)) + 1))


def test_no_client_of_its_socket_can_hold_up_a_tick(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.water(26.0)
        rig.guard()
        rig.until(lambda: rig.mode() == "automatic", "the guard is at work")
        held = [socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) for _ in range(20)]
        try:
            for one in held:
                one.settimeout(60.0)
                with short_address(rig.bench.run / SOCKET) as address:
                    one.connect(address)
                one.sendall(b'{"command": ')
                rig.ticks(1)
            rig.ticks(3)
            said = rig.command("unshelve", "water low", "--settings", str(rig.bench.settings))
            assert "no alarm named 'water low' is shelved" in said.stderr
        finally:
            for one in held:
                one.close()
        rig.ticks()
        assert rig.end("guard") == 0
        assert not (rig.bench.run / SOCKET).exists()
