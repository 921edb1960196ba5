"""`reefguard exercise` at a terminal, over the real guard and the real cutoff."""

import os
import pty
import shlex
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from bench_rig import Rig, no_traceback
from on_terminal import Terminal

from reefguard.commissioning.record import EXERCISE, Record
from reefguard.records import commissioning_log

SPEED = 20.0


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Rig]:
    """Return a bench over water that wants neither fans nor chiller, with both programs at work."""
    with Rig(tmp_path_factory.mktemp("exercise"), SPEED) as rig:
        rig.water(26.1)
        rig.cutoff()
        rig.guard()
        rig.until(lambda: rig.mode() == "automatic", "the water is known")
        yield rig


def exercise(rig: Rig, output: str) -> Terminal:
    return Terminal(sys.executable, "-m", "reefguard", "exercise", output, env=rig.environment())


def on_record(rig: Rig) -> list[Record]:
    records = commissioning_log.read(commissioning_log.directory_in(rig.bench.state))
    return [record for record in records if record.kind == EXERCISE]


def back_to_rest(rig: Rig) -> None:
    rig.until(lambda: {rig.pins()["fan1"], rig.pins()["chiller"]} == {"0"}, "the guard goes on as before")


def test_a_fan_is_switched_both_ways_and_what_was_seen_is_kept(rig: Rig) -> None:
    with exercise(rig, "fan1") as terminal:
        terminal.answer("Turn fan1 on now?", "oh")
        terminal.answer("Turn fan1 on now?", "y")
        terminal.answer("What does its load do?", "spins")
        assert rig.pins()["fan1"] == "1"
        assert rig.pins()["fan2"] == "0"
        terminal.answer("mend: type runs or stands or another moved or cannot tell", "runs")
        terminal.answer("Turn fan1 off now?", "y")
        terminal.answer("What does its load do?", "st")
        assert terminal.close() == 0, terminal.seen
    assert "passed: fan1 was seen to run when on" in terminal.seen
    assert no_traceback(terminal.seen)
    assert rig.pins()["fan1"] == "0"
    record = on_record(rig)[-1]
    assert (record.subject, record.outcome) == ("fan1", "passed")
    assert record.details["moves"] == [{"on": True, "seen": "runs"}, {"on": False, "seen": "stands"}]
    history = rig.command("alarms", "--history").stdout
    assert "asks for fan1 to run" in history
    assert "asked of fan1 is over" in history


def test_one_that_is_wired_the_wrong_way_round_is_found(rig: Rig) -> None:
    with exercise(rig, "fan1") as terminal:
        terminal.answer("Turn fan1 on now?", "y")
        terminal.answer("What does its load do?", "stands")
        terminal.answer("Turn fan1 off now?", "y")
        terminal.answer("What does its load do?", "runs")
        assert terminal.close() == 2, terminal.seen
    assert "works the wrong way round" in terminal.seen
    assert "mend: unplug its load now" in terminal.seen


@pytest.mark.parametrize(
    ("answers", "question", "kept"),
    [
        ([], "Turn fan1 on now?", None),
        ([("Turn fan1 on now?", "y")], "What does its load do?", "the person ended it after 0 of 2 moves"),
        (
            [("Turn fan1 on now?", "y"), ("What does its load do?", "runs")],
            "Turn fan1 off now?",
            "the person ended it after 1 of 2 moves",
        ),
        (
            [("Turn fan1 on now?", "y"), ("What does its load do?", "runs"), ("Turn fan1 off now?", "y")],
            "What does its load do?",
            "the person ended it after 1 of 2 moves",
        ),
    ],
)
def test_an_interrupt_at_each_question_leaves_all_as_it_was(
    rig: Rig, answers: list[tuple[str, str]], question: str, kept: str | None
) -> None:
    before = on_record(rig)
    with exercise(rig, "fan1") as terminal:
        for asked, typed in answers:
            terminal.answer(asked, typed)
        terminal.read_until(question)
        terminal.interrupt()
        assert terminal.close() == 130, terminal.seen
    assert "stopped; " in terminal.seen
    assert no_traceback(terminal.seen)
    back_to_rest(rig)
    assert [record.what for record in on_record(rig)[len(before) :]] == ([] if kept is None else [kept])


def test_a_no_moves_nothing(rig: Rig) -> None:
    before = on_record(rig)
    with exercise(rig, "fan1") as terminal:
        terminal.answer("Turn fan1 on now?", "n")
        assert terminal.close() == 1
    assert on_record(rig) == before
    with exercise(rig, "fan1") as terminal:
        terminal.answer("Turn fan1 on now?", "y")
        terminal.answer("What does its load do?", "runs")
        terminal.answer("Turn fan1 off now?", "n")
        assert terminal.close() == 1
    assert on_record(rig)[-1].outcome == "inconclusive"
    back_to_rest(rig)


def test_what_a_killed_command_asked_ends_by_itself(rig: Rig) -> None:
    with exercise(rig, "fan1") as terminal:
        terminal.answer("Turn fan1 on now?", "y")
        terminal.read_until("What does its load do?")
        assert rig.pins()["fan1"] == "1"
    # It was killed: nobody let go.
    back_to_rest(rig)
    rig.until(
        lambda: "has ended by itself" in rig.command("alarms", "--history").stdout, "its end is an event"
    )


def test_a_forgotten_terminal_moves_nothing_in_a_guard_that_was_started_anew(rig: Rig) -> None:
    with exercise(rig, "fan1") as terminal:
        terminal.answer("Turn fan1 on now?", "y")
        terminal.read_until("What does its load do?")
        rig.end("guard")
        rig.guard()
        rig.until(lambda: rig.mode() == "automatic", "the new guard knows the water")
        # The command asks again every 20 s.
        rig.always(lambda: rig.pins()["fan1"] == "0", 90.0, "nobody asks for fan1")
        terminal.type("runs\n")
        terminal.read_until("the guard has switched it meanwhile")
        assert terminal.close() == 1, terminal.seen
    back_to_rest(rig)


def test_a_second_person_is_told_who_is_at_it(rig: Rig) -> None:
    with exercise(rig, "fan1") as terminal:
        terminal.answer("Turn fan1 on now?", "y")
        terminal.read_until("What does its load do?")
        with exercise(rig, "fan2") as second:
            second.answer("Turn fan2 on now?", "y")
            assert second.close() == 1
        assert "is exercising fan1" in second.seen
        terminal.interrupt()
        assert terminal.close() == 130
    back_to_rest(rig)


def test_the_chiller_rests_and_runs_on_as_its_machine_needs(rig: Rig) -> None:
    rig.until(lambda: rig.cutoff_status().get("permits"), "the cutoff permits")
    with exercise(rig, "chiller") as terminal:
        terminal.answer("Turn chiller on now?", "y")
        terminal.answer("What does its load do?", "runs")
        assert rig.chiller_has_power()
        terminal.answer("Turn chiller off now?", "y")
        terminal.read_until("the compressor runs on for another")
        terminal.answer("What does its load do?", "stands")
        assert not rig.chiller_has_power()
        assert terminal.close() == 0, terminal.seen
    with exercise(rig, "chiller") as terminal:
        terminal.answer("Turn chiller on now?", "y")
        terminal.read_until("the compressor rests for another")
        terminal.interrupt()
        assert terminal.close() == 130, terminal.seen
    back_to_rest(rig)


def test_no_chiller_runs_over_cold_water_for_a_person(rig: Rig) -> None:
    rig.water(25.4)
    rig.until(lambda: (rig.status().get("water") or {}).get("coldest_c") == 25.375, "the water is known")
    with exercise(rig, "chiller") as terminal:
        terminal.answer("Turn chiller on now?", "y")
        assert terminal.close() == 1, terminal.seen
    assert "too cold to chill" in terminal.seen
    # As the others found it, whichever comes next.
    rig.water(26.1)
    rig.until(lambda: (rig.status().get("water") or {}).get("coldest_c") == 26.125, "the water is known")


def test_nothing_rests_for_a_person_over_water_that_is_too_warm(rig: Rig) -> None:
    rig.water(27.9)
    rig.until(lambda: (rig.status().get("water") or {}).get("warmest_c") == 27.875, "the water is known")
    with exercise(rig, "fan1") as terminal:
        terminal.answer("Turn fan1 off now?", "y")
        assert terminal.close() == 1, terminal.seen
    assert rig.pins()["fan1"] == "1"
    assert "fan1 stays on: " in terminal.seen
    assert "mend: try this once the water is inside the safe band" in terminal.seen
    rig.water(26.1)
    rig.until(lambda: (rig.status().get("water") or {}).get("warmest_c") == 26.125, "the water is known")
    back_to_rest(rig)


@pytest.mark.parametrize(
    ("arguments", "why"),
    [(("heater",), "name one of fan1, fan2, chiller"), (("fan1", "--settings", "/none"), "cannot be used")],
)
def test_what_cannot_be_exercised_is_told(rig: Rig, arguments: tuple[str, ...], why: str) -> None:
    done = rig.command("exercise", *arguments)
    assert done.returncode == 1
    assert why in done.stderr


@pytest.mark.parametrize("closed", ["<&-", "0>/dev/null"])
def test_a_command_whose_input_cannot_be_read_says_so_in_words(rig: Rig, closed: str) -> None:
    """As a script may start it: `reefguard exercise fan1 <&-`."""
    command = f"{shlex.quote(sys.executable)} -m reefguard exercise fan1 {closed}"
    done = subprocess.run(
        ["/bin/sh", "-c", command], env=rig.environment(), capture_output=True, text=True, check=False
    )
    assert done.returncode == 130, done
    assert "stopped; nothing was switched" in done.stdout
    assert done.stderr == ""


def test_what_was_seen_before_the_guard_went_is_kept(rig: Rig) -> None:
    with exercise(rig, "fan1") as terminal:
        terminal.answer("Turn fan1 on now?", "y")
        terminal.answer("What does its load do?", "stands")
        terminal.read_until("Turn fan1 off now?")
        rig.end("guard")
        terminal.type("y\n")
        assert terminal.close() == 1, terminal.seen
    record = on_record(rig)[-1]
    assert record.outcome == "inconclusive"
    assert record.details["moves"] == [{"on": True, "seen": "stands"}]
    rig.guard()
    rig.until(lambda: rig.mode() == "automatic", "the new guard knows the water")


@pytest.mark.parametrize("number", [signal.SIGHUP, signal.SIGTERM])
def test_a_lost_connection_or_a_signal_gives_the_output_back_and_is_kept(
    rig: Rig, number: signal.Signals
) -> None:
    before, forgotten = on_record(rig), _ended_by_themselves(rig)
    with subprocess.Popen(
        [sys.executable, "-m", "reefguard", "exercise", "fan1"],
        env=rig.environment(), stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    ) as program:  # fmt: skip
        assert program.stdin is not None
        program.stdin.write(b"y\n")
        program.stdin.flush()
        rig.until(lambda: rig.pins()["fan1"] == "1", "fan1 runs")
        rig.ticks()
        program.send_signal(number)
        said, _ = program.communicate(timeout=60.0)
    assert program.returncode == 130, said
    assert b"stopped; the guard has fan1 back" in said
    back_to_rest(rig)
    assert [one.outcome for one in on_record(rig)[len(before) :]] == ["stopped by the person"]
    assert _ended_by_themselves(rig) == forgotten


def _ended_by_themselves(rig: Rig) -> int:
    return rig.command("alarms", "--history").stdout.count("has ended by itself")


def test_a_terminal_that_goes_gives_the_output_back_and_is_kept(rig: Rig) -> None:
    """Its hang-up signal is not heard, as under `nohup`: reading and writing are errors then."""
    before = on_record(rig)
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        ["/usr/bin/env", "--ignore-signal=HUP", sys.executable, "-m", "reefguard", "exercise", "fan1"],
        env=rig.environment(), stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True,
    ) as program:  # fmt: skip
        os.close(theirs)
        os.write(ours, b"y\n")
        rig.until(lambda: rig.pins()["fan1"] == "1", "fan1 runs")
        rig.ticks()
        os.close(ours)
        program.wait(60.0)
    back_to_rest(rig)
    assert [one.outcome for one in on_record(rig)[len(before) :]] == ["stopped by the person"]


def test_without_a_guard_nothing_is_switched(tmp_path: Path) -> None:
    with Rig(tmp_path) as alone:
        done = alone.command("exercise", "fan1")
        assert done.returncode == 1
        assert "the guard must be running" in done.stderr
