"""Promise 10, from the outside: the link as a process, a real receiver, and kills at any moment."""

import signal
import subprocess
from pathlib import Path

import pytest
from killed_delivery import Delivery
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
def test_whoever_is_killed_every_alarm_arrives_in_order_and_little_twice(tmp_path: Path, seed: int) -> None:
    delivery = Delivery(tmp_path, 300)
    try:
        delivery.live(seed)
        delivery.judge()
    finally:
        delivery.close()
