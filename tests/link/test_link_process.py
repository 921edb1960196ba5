"""Promise 10, from the outside: the link as a process, a real receiver, and kills at any moment."""

import random
import signal
import sqlite3
import subprocess
import threading
import time
from contextlib import closing
from pathlib import Path

import pytest
from link_rig import GuardFiles, LinkFiles, Receiver, start_link, wait_for


def _links(tmp_path: Path, receiver: Receiver, more: str = "") -> tuple[GuardFiles, LinkFiles]:
    guard = GuardFiles(tmp_path)
    link = f"  channels:\n    hook: {{secret: hook, lowest: low, repeat_after: never}}\n{more}"
    return guard, LinkFiles(tmp_path, guard, {"hook": f"json://127.0.0.1:{receiver.port}/hook\n"}, link)


def _stop(process: subprocess.Popen[str]) -> int:
    process.send_signal(signal.SIGTERM)
    return process.wait(60.0)


def test_an_alarm_and_its_end_reach_a_receiver(tmp_path: Path) -> None:
    with Receiver() as receiver:
        guard, files = _links(tmp_path, receiver)
        guard.status()
        process = start_link(files)
        guard.event("raised", "water far too high", 4, what="28.9 °C at the display probe")
        wait_for(lambda: len(receiver.got) == 1, "the alarm")
        guard.event("returned", "water far too high", 4, details='{"lasted_s": 5400, "peak_c": 28.94}')
        wait_for(lambda: len(receiver.got) == 2, "its end")
        assert _stop(process) == 0
    raised, over = receiver.got
    assert raised["title"] == "Small reef, URGENT: water far too high"
    assert raised["message"].startswith("28.9 °C at the display probe.\nDo first (now): lights off")
    assert over["title"] == "Small reef, over: water far too high"
    assert over["message"].startswith("It lasted 1 h 30 min, at its worst 28.94 °C.")


def test_what_comes_while_the_receiver_is_away_arrives_in_order_when_it_is_back(tmp_path: Path) -> None:
    with Receiver() as receiver:
        guard, files = _links(tmp_path, receiver)
        guard.status()
        receiver.refuses = True
        process = start_link(files)
        guard.event("raised", "water high")
        wait_for(lambda: bool(receiver.calls), "a first attempt")
        receiver.refuses = False
        # A new message is a reason to try at once.
        guard.event("raised", "storage failing")
        wait_for(lambda: len(receiver.got) == 2, "both")
        assert _stop(process) == 0
    assert [title.partition(": ")[2] for title in receiver.titles] == ["water high", "storage failing"]


def test_a_silent_guard_is_told_and_that_it_is_back(tmp_path: Path) -> None:
    with Receiver() as receiver:
        guard, files = _links(tmp_path, receiver, "  guard_silent_after: 15 s\n")
        guard.status(written_s=0.0)
        process = start_link(files)
        wait_for(lambda: len(receiver.got) == 1, "the alarm")
        guard.status()
        wait_for(lambda: len(receiver.got) == 2, "its end")
        assert _stop(process) == 0
    assert receiver.titles == ["Small reef, URGENT: guard silent", "Small reef, over: guard silent"]


def test_settings_are_read_again_and_bad_ones_change_nothing(tmp_path: Path) -> None:
    with Receiver() as receiver:
        guard, files = _links(tmp_path, receiver)
        guard.status()
        process = start_link(files)
        guard.event("raised", "water high")
        wait_for(lambda: len(receiver.got) == 1, "the alarm")
        good = files.settings.read_text(encoding="utf-8")
        log = tmp_path / "link.log"
        files.settings.write_text("tank: [", encoding="utf-8")
        process.send_signal(signal.SIGHUP)
        wait_for(lambda: "going on with the settings" in log.read_text(encoding="utf-8"), "the refusal")
        files.settings.write_text(good.replace("hook:", "other:", 1), encoding="utf-8")
        process.send_signal(signal.SIGHUP)
        # A channel that is new is told what stands.
        wait_for(lambda: len(receiver.got) == 2, "the alarm over the new channel")
        assert _stop(process) == 0
    assert receiver.titles == ["Small reef, HIGH: water high"] * 2


def test_a_second_link_does_not_start(tmp_path: Path) -> None:
    with Receiver() as receiver:
        guard, files = _links(tmp_path, receiver)
        guard.status()
        first = start_link(files)
        guard.event("raised")
        wait_for(lambda: bool(receiver.got), "that it is up")
        assert start_link(files).wait(60.0) == 69
        assert _stop(first) == 0
    assert "another link runs" in (tmp_path / "link.log").read_text(encoding="utf-8")


@pytest.mark.parametrize("seed", [1, 2])
def test_killed_at_any_moment_it_loses_nothing_and_repeats_one_message_a_kill(
    tmp_path: Path, seed: int
) -> None:
    chance = random.Random(seed)  # noqa: S311  to be the same each time
    raised = [f"probe p{number} not used" for number in range(300)]
    kills = 0
    with Receiver() as receiver:
        guard, files = _links(tmp_path, receiver)
        guard.status()

        def raise_all() -> None:
            for name in raised:
                guard.event("raised", name, 4)
                time.sleep(0.05)

        writer = threading.Thread(target=raise_all)
        writer.start()
        process = start_link(files)
        while writer.is_alive() or kills < 8:
            time.sleep(chance.uniform(0.5, 2.5))
            process.kill()
            process.wait()
            kills += 1
            receiver.refuses = chance.random() < 0.3
            process = start_link(files)
        writer.join()
        receiver.refuses = False
        guard.event("raised", "the last one", 4)
        wait_for(lambda: any("the last one" in str(one) for one in receiver.got), "the last one")
        assert _stop(process) == 0
    ids = [one["message"].rpartition("[")[2].rstrip("]") for one in receiver.got]
    assert len(ids) - len(set(ids)) <= kills
    first_of_each: dict[str, int] = {}
    for place, one in enumerate(receiver.got):
        for name in raised:
            if name in one["title"] or f"{name}\n" in one["message"]:
                first_of_each.setdefault(name, place)
    assert list(first_of_each) == raised
    assert list(first_of_each.values()) == sorted(first_of_each.values())
    with closing(sqlite3.connect(files.state / "outbox.db")) as database:
        told = database.execute("SELECT seq, count(*) FROM told GROUP BY seq HAVING count(*) > 1").fetchall()
        waiting = database.execute("SELECT count(*) FROM messages WHERE state = 'waiting'").fetchone()[0]
    assert (told, waiting) == ([], 0)
