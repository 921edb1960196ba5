"""The commands a person and a service manager use, as the programs they are."""

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from cutoff_bench import DEADLINE_S, CutoffBench

from reefguard.cli import cutoff as command_line
from reefguard.cutoff import start


def test_check_tells_order_findings_and_errors_apart(bench: CutoffBench) -> None:
    checked = bench.command("check", str(bench.limits))
    assert (checked.returncode, checked.stdout) == (0, f"{bench.limits}: in order.\n")
    bench.write_limits(recovery="0.3 °C")
    checked = bench.command("check", str(bench.limits))
    assert (checked.returncode, "recovery" in checked.stdout) == (1, True)
    bench.write_limits(limit="24.5")
    checked = bench.command("check", str(bench.limits))
    assert checked.returncode == 2
    assert "1 problem; the cutoff would not start with it." in checked.stdout


@pytest.mark.parametrize(
    ("arguments", "exit_status", "said"),
    [
        (("check",), 0, "in order"),
        (("status",), 3, "the cutoff is not running"),
        (("reset",), 2, "the cutoff is not running"),
        (("drop",), 0, "cutoff-state/relay.json"),
    ],
)
def test_options_before_a_command_hold_for_it(
    bench: CutoffBench, arguments: tuple[str, ...], exit_status: int, said: str
) -> None:
    ran = bench.command("--limits", str(bench.limits), "--state", str(bench.state), *arguments)
    assert ran.returncode == exit_status
    assert said in ran.stdout + ran.stderr


@pytest.mark.parametrize("arguments", [("--jsn",), ("extra",), ("--limits",)])
def test_a_wrong_use_of_status_is_unknown_and_not_critical(
    bench: CutoffBench, arguments: tuple[str, ...]
) -> None:
    asked = bench.command("status", *arguments)
    assert asked.returncode == 3
    assert "Error: " in asked.stderr


def test_a_status_that_cannot_be_known_is_unknown(bench: CutoffBench) -> None:
    asked = bench.command("status", "--limits", str(bench.limits))
    assert (asked.returncode, "is not running" in asked.stderr) == (3, True)
    asked = bench.command("status", "--limits", str(bench.directory / "none.yaml"))
    assert (asked.returncode, "No such file" in asked.stderr) == (3, True)
    bench.runtime.mkdir()
    (bench.runtime / "status.json").write_text("{", encoding="utf-8")
    asked = bench.command("status", "--limits", str(bench.limits))
    assert (asked.returncode, "cannot be read" in asked.stderr) == (3, True)


def test_status_by_its_exit_status(bench: CutoffBench) -> None:
    bench.start_permitting()
    asked = bench.command("status", "--limits", str(bench.limits))
    assert asked.returncode == 0
    assert asked.stdout.startswith("permitting: the water is 25.50 °C")
    bench.water(24.0)
    bench.until_state("tripped")
    asked = bench.command("status", "--limits", str(bench.limits), "--json")
    assert asked.returncode == 2
    said = json.loads(asked.stdout)
    assert (said["state"], said["cause"], said["silent"]) == ("tripped", "too cold", False)
    bench.end(signal.SIGTERM)
    asked = bench.command("status", "--limits", str(bench.limits))
    assert (asked.returncode, asked.stdout.startswith("stopped: ")) == (2, True)


def test_a_held_off_cutoff_is_a_warning(bench: CutoffBench) -> None:
    bench.commission()
    bench.start()
    bench.until_state("held off")
    assert bench.command("status", "--limits", str(bench.limits)).returncode == 1


@pytest.mark.parametrize(
    "change",
    [{"written_s": -1e6}, {"written_s": 1e12}, {"boot_id": "another"}],
    ids=["old", "from the future", "of another boot"],
)
def test_a_status_that_is_not_of_now_is_critical(bench: CutoffBench, change: dict[str, object]) -> None:
    bench.start_permitting()
    bench.end(signal.SIGKILL)
    (bench.runtime / "status.json").write_text(json.dumps(bench.status() | change), encoding="utf-8")
    asked = bench.command("status", "--limits", str(bench.limits))
    assert asked.returncode == 2
    assert asked.stdout.startswith("silent, last permitting: ")


def test_reset_without_a_cutoff_says_so(bench: CutoffBench) -> None:
    asked = bench.command("reset", "--limits", str(bench.limits))
    assert (asked.returncode, "the cutoff is not running" in asked.stderr) == (2, True)
    bench.write_limits(limit="24.5")
    asked = bench.command("reset", "--limits", str(bench.limits))
    assert (asked.returncode, "is not known" in asked.stderr) == (2, True)


def test_reset_that_cannot_be_asked_for_says_why(bench: CutoffBench) -> None:
    bench.runtime.mkdir()
    (bench.runtime / "requests").touch()
    asked = bench.command("reset", "--limits", str(bench.limits))
    assert (asked.returncode, "cannot be asked for" in asked.stderr) == (2, True)


def test_reset_says_which_group_may(bench: CutoffBench, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(runtime_directory: Path, environ_user: str | None) -> None:
        raise PermissionError

    monkeypatch.setattr(command_line, "ask_for_reset", refused)
    asked = CliRunner().invoke(command_line.cutoff, ["reset", "--limits", str(bench.limits)])
    assert asked.exit_code == 2
    assert "only members of group reefguard-cutoff may" in asked.output
    assert "usermod -aG reefguard-cutoff" in asked.output


def test_a_reset_that_nobody_answers_is_taken_back(
    bench: CutoffBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    (bench.runtime / "requests").mkdir(parents=True)
    monkeypatch.setattr(command_line, "_ANSWER_WITHIN_S", 0.2)
    asked = CliRunner().invoke(command_line.cutoff, ["reset", "--limits", str(bench.limits)])
    assert (asked.exit_code, "no answer came" in asked.output) == (2, True)
    assert list((bench.runtime / "requests").iterdir()) == []


def test_two_cutoffs_never_run_on_one_bench(bench: CutoffBench) -> None:
    bench.start_permitting()
    second = bench.command("--limits", str(bench.limits))
    assert second.returncode == 69
    assert "another cutoff is running" in second.stderr
    assert "mend: " in second.stderr
    assert bench.level() == "1"


def test_a_wrong_limits_file_is_told_in_full_and_drops_the_last_relay(bench: CutoffBench) -> None:
    bench.start_permitting()
    bench.end(signal.SIGKILL)
    assert bench.level() == "1"
    bench.write_limits(limit="24.5", rest="1 s", _contact="normally closed")
    ended = bench.command("--limits", str(bench.limits), "--state", str(bench.state))
    assert ended.returncode == 78
    assert "3 problems; cooling is held off until they are mended." in ended.stderr
    assert "relay on GPIO23 dropped" in ended.stderr
    assert "Traceback" not in ended.stderr
    assert bench.level() == "0"


def test_a_missing_limits_file_is_told(bench: CutoffBench) -> None:
    ended = bench.command("--limits", "/nowhere/cutoff.yaml", "--state", str(bench.state))
    assert ended.returncode == 78
    assert "No such file" in ended.stderr
    assert "no relay was driven" in ended.stderr


def test_no_gpio_is_told_in_words(bench: CutoffBench) -> None:
    bench.commission()
    for factory in ({"GPIOZERO_PIN_FACTORY": "lgpio"}, {"GPIOZERO_PIN_FACTORY": "wheel"}):
        ended = bench.command("--limits", str(bench.limits), **factory)
        assert ended.returncode == 69
        assert "mend: " in ended.stderr
        assert "Traceback" not in ended.stderr


def test_a_speed_without_a_bench_is_refused(bench: CutoffBench) -> None:
    ended = bench.command("--limits", str(bench.limits), REEFGUARD_BENCH="")
    assert ended.returncode == 78
    assert "never sped up" in ended.stderr


def test_a_runtime_directory_that_cannot_be_used_is_told(bench: CutoffBench) -> None:
    bench.runtime.touch()
    ended = bench.command("--limits", str(bench.limits))
    assert ended.returncode == 69
    assert f"the runtime directory {bench.runtime} cannot be used" in ended.stderr


def test_drop_leaves_the_level_behind_and_needs_no_limits_file(bench: CutoffBench) -> None:
    bench.start_permitting()
    bench.end(signal.SIGKILL)
    assert bench.level() == "1"
    bench.limits.unlink()
    dropped = bench.command("drop", "--state", str(bench.state))
    assert (dropped.returncode, dropped.stdout) == (0, "relay on GPIO23 dropped: cooling is held off\n")
    assert bench.level() == "0"


def test_drop_without_a_known_relay_is_no_failure(bench: CutoffBench) -> None:
    dropped = bench.command("drop", "--state", str(bench.state))
    assert (dropped.returncode, "no relay was driven" in dropped.stdout) == (0, True)


def test_drop_that_cannot_drive_says_so(bench: CutoffBench) -> None:
    (bench.state / "relay.json").write_text('{"pin": 23, "off_level": 0}', encoding="utf-8")
    dropped = bench.command("drop", "--state", str(bench.state), GPIOZERO_PIN_FACTORY="wheel")
    assert (dropped.returncode, "mend: " in dropped.stderr) == (69, True)


def test_what_the_service_manager_hears(bench: CutoffBench) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(bench.directory / "notify"))
        manager.settimeout(DEADLINE_S)
        bench.commission()
        bench.water(25.5)
        bench.start(NOTIFY_SOCKET=str(bench.directory / "notify"))
        heard = [manager.recv(4096).decode() for _ in range(3)]
        assert heard[0] == "READY=1"
        assert heard[1].startswith("STATUS=cooling is held off: the cutoff has just started; ")
        assert heard[2] == "WATCHDOG=1"
        bench.end(signal.SIGTERM)
        while heard[-1] != "STOPPING=1":
            heard.append(manager.recv(4096).decode())


def hear(manager: socket.socket, messages: int) -> None:
    for _ in range(messages):
        manager.recv(4096)


def test_a_loop_that_does_not_come_to_its_end_does_not_feed_the_watchdog(bench: CutoffBench) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(bench.directory / "notify"))
        manager.settimeout(DEADLINE_S)
        bench.commission()
        bench.water(25.5)
        bench.start(NOTIFY_SOCKET=str(bench.directory / "notify"))
        for _ in range(3):
            while manager.recv(4096) != b"WATCHDOG=1":
                pass
        # The pin becomes a file that blocks.
        fifo = bench.directory / "gpio" / "blocks"
        os.mkfifo(fifo)
        fifo.replace(bench.directory / "gpio" / "GPIO23")
        manager.settimeout(2.0)
        with pytest.raises(TimeoutError):
            hear(manager, messages=1_000)


def test_a_cutoff_whose_reader_was_killed_drops_and_ends(bench: CutoffBench) -> None:
    bench.start_permitting()
    assert bench.process is not None
    children = Path(f"/proc/{bench.process.pid}/task/{bench.process.pid}/children").read_text(
        encoding="ascii"
    )
    (reader,) = children.split()
    os.kill(int(reader), signal.SIGKILL)
    assert bench.process.wait(timeout=DEADLINE_S) == 70
    assert bench.level() == "0"
    assert "the process that reads the probe has ended" in bench.log()
    # It counts as a lost probe, though the process begins anew.
    assert "losses: none" not in bench.latch()


def test_a_relay_that_can_be_driven_no_more_ends_it_in_words(bench: CutoffBench) -> None:
    bench.start_permitting()
    assert bench.process is not None
    for path in (bench.directory / "gpio").iterdir():
        path.unlink()
    (bench.directory / "gpio").rmdir()
    assert bench.process.wait(timeout=DEADLINE_S) == 69
    assert "GPIO23 does not take a level any more" in bench.log()
    assert "Traceback" not in bench.log()


def test_a_state_directory_that_cannot_be_written_holds_off_and_is_told(bench: CutoffBench) -> None:
    bench.state.rmdir()
    bench.state.touch()
    bench.water(25.5)
    bench.start()
    bench.until_state("tripped")
    bench.until(lambda: bool(bench.status()["faults"]))
    assert "the relay cannot be noted" in bench.log()
    assert "the latch cannot be written" in bench.log()


def test_the_status_that_cannot_be_written_does_not_stop_it(bench: CutoffBench) -> None:
    bench.start_permitting()
    in_the_way = bench.runtime / ".status.json.new"

    def stands_in_the_way() -> bool:
        with contextlib.suppress(FileExistsError):
            in_the_way.mkdir()
        return in_the_way.is_dir()

    bench.until(stands_in_the_way)
    bench.until(lambda: "the status file cannot be written" in bench.log())
    assert bench.level() == "1"
    bench.water(24.0)
    bench.until(lambda: bench.level() == "0")
    bench.until(lambda: "state: tripped" in bench.latch())
    in_the_way.rmdir()
    bench.until_state("tripped")


def test_a_fault_of_the_program_itself_is_told_in_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], bench: CutoffBench
) -> None:
    def fails(directory: Path) -> None:
        raise ZeroDivisionError("impossible")

    for name, value in bench.environment().items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(start, "read_latch", fails)
    kept = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        assert start.run(bench.limits, bench.state) == start.FAILED
    finally:
        for number, handler in kept.items():
            signal.signal(number, handler)
        os.close(signal.set_wakeup_fd(-1))
    told = capsys.readouterr().err
    assert "the cutoff failed at test_cutoff_commands.py line" in told
    assert "ZeroDivisionError('impossible')" in told
    assert bench.level() == "0"


def test_a_python_that_cannot_be_started_is_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], bench: CutoffBench
) -> None:
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    assert start.run(bench.limits, bench.state) == start.UNAVAILABLE
    assert "the process that reads the probe cannot be started" in capsys.readouterr().err


def test_a_desk_that_cannot_be_opened_is_told(bench: CutoffBench) -> None:
    bench.runtime.mkdir()
    (bench.runtime / "requests").touch()
    ended = bench.command("--limits", str(bench.limits))
    assert ended.returncode == 69
    assert f"{bench.runtime / 'requests'} cannot be used" in ended.stderr
    assert bench.level() == "0"


def test_the_cutoff_loads_nothing_of_the_guard() -> None:
    program = "import sys, reefguard.cli.cutoff, reefguard.cutoff.start; print(*sys.modules)"
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    loaded = ran.stdout.split()
    ours = {name.split(".")[1] for name in loaded if name.startswith("reefguard.")}
    assert ours == {"cli", "cutoff"}
    assert not {"apscheduler", "w1thermsensor"} & set(loaded)
