"""`reefguard demo`, started as a person starts it."""

import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from bench_rig import DEADLINE_S, no_traceback


@contextmanager
def _demo(tmp_path: Path, *options: str, out: int = subprocess.PIPE) -> Iterator[subprocess.Popen[bytes]]:
    """Start a demonstration that makes its bench under `tmp_path`; end whatever is left of it."""
    with subprocess.Popen(
        [sys.executable, "-m", "reefguard", "demo", *options],
        env=os.environ | {"TMPDIR": str(tmp_path), "PYTHONUNBUFFERED": "1", "TERM": "xterm"},
        stdin=subprocess.DEVNULL,
        stdout=out,
        stderr=subprocess.STDOUT,
        start_new_session=True,
    ) as program:
        try:
            yield program
        finally:
            program.kill()
            for pid in _on_benches_under(tmp_path).values():
                os.kill(pid, signal.SIGKILL)


def _on_benches_under(tmp_path: Path) -> dict[str, int]:
    """Return the programs that hold a bench there, by name."""
    found = {}
    for directory in Path("/proc").glob("[0-9]*"):
        try:
            words = (directory / "cmdline").read_bytes().decode().split("\0")
        except (OSError, UnicodeDecodeError):
            continue
        if any(word.startswith(str(tmp_path)) for word in words) and "reefguard" in words:
            found[words[words.index("reefguard") + 1]] = int(directory.name)
    return found


def _until(holds: Callable[[], object], what: str) -> None:
    until_s = time.monotonic() + DEADLINE_S
    while not holds():
        assert time.monotonic() < until_s, f"waited in vain until {what}"
        time.sleep(0.02)


def _at_work(tmp_path: Path) -> bool:
    return any((bench / "run" / "status.json").exists() for bench in tmp_path.iterdir())


def test_some_hours_pass_end_with_a_summary_and_leave_nothing_behind(tmp_path: Path) -> None:
    with _demo(tmp_path, "--hours", "1", "--speed", "600") as program:
        said = program.communicate(timeout=DEADLINE_S)[0].decode()
    assert program.returncode == 0, said
    assert re.search(
        r"^09:\d\d  water 25\.\d\d °C  room \d\d\.\d °C  lights off  fans \d  chiller off$",
        said,
        re.MULTILINE,
    )
    assert re.search(r"^simulated +\d:\d\d:\d\d$", said, re.MULTILINE)
    assert re.search(
        r"^water +25\.\d\d to 2\d\.\d\d °C, 100\.0% of the time inside 24\.0 to 27\.8 °C$", said, re.MULTILINE
    )
    assert "guard (exit 0), cutoff (exit 0)" in said
    assert list(tmp_path.iterdir()) == []
    assert not _on_benches_under(tmp_path)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
@pytest.mark.parametrize("at_work", [True, False])
def test_asked_to_end_at_any_time_it_ends_its_programs_too(
    tmp_path: Path, number: signal.Signals, at_work: bool
) -> None:
    with _demo(tmp_path) as program:
        assert program.stdout is not None
        program.stdout.readline()  # its greeting: from here on it has been asked to end, not to begin
        program.stdout.readline()
        program.stdout.readline()
        _until(lambda: "guard" in _on_benches_under(tmp_path), "the guard is started")
        if at_work:
            _until(lambda: _at_work(tmp_path), "the guard is at work")
        program.send_signal(number)
        said = program.communicate(timeout=DEADLINE_S)[0].decode()
        assert program.returncode == 0, said
        assert "stopped" in said
        assert no_traceback(said)
        assert not _on_benches_under(tmp_path)
        assert list(tmp_path.iterdir()) == []


def test_an_impatient_person_leaves_no_program_behind_either(tmp_path: Path) -> None:
    with _demo(tmp_path) as program:
        _until(lambda: _at_work(tmp_path), "the guard is at work")
        os.kill(_on_benches_under(tmp_path)["guard"], signal.SIGSTOP)  # it will not hear that it shall stop

        def ended_by_ctrl_c_again_and_again() -> bool:
            program.send_signal(signal.SIGINT)
            time.sleep(0.3)
            return program.poll() is not None

        _until(ended_by_ctrl_c_again_and_again, "the demonstration has ended")
        _until(lambda: not _on_benches_under(tmp_path), "nothing is left of it")
        assert program.stdout is not None
        assert no_traceback(program.stdout.read().decode())


def test_a_program_that_dies_in_it_is_told_with_its_last_words(tmp_path: Path) -> None:
    with _demo(tmp_path) as program:
        _until(lambda: _at_work(tmp_path), "the guard is at work")
        os.kill(_on_benches_under(tmp_path)["guard"], signal.SIGKILL)
        said = program.communicate(timeout=DEADLINE_S)[0].decode()
        assert program.returncode == 1
        assert "guard ended by itself (exit -9); its last words:\n" in said
        assert "no probe is trusted yet" in said
        assert "cutoff (exit 0)" in said
        (bench,) = tmp_path.iterdir()
        assert f"the bench is left for you to look at: {bench}" in said
        assert not _on_benches_under(tmp_path)


def test_a_bench_taken_away_under_it_is_told_and_leaves_no_program(tmp_path: Path) -> None:
    with _demo(tmp_path) as program:
        _until(lambda: _at_work(tmp_path), "the guard is at work")
        (bench,) = tmp_path.iterdir()
        (bench / "w1").rename(tmp_path / "taken")
        (bench / "w1").write_text("", encoding="utf-8")
        said = program.communicate(timeout=DEADLINE_S)[0].decode()
        assert program.returncode == 1
        assert "went away under it" in said
        assert no_traceback(said)
        assert not _on_benches_under(tmp_path)


def test_in_a_terminal_it_shows_one_screen_again_and_again(tmp_path: Path) -> None:
    keeper, terminal = pty.openpty()
    with _demo(tmp_path, "--speed", "600", out=terminal) as program:
        os.close(terminal)
        seen = ""

        def shown() -> bool:
            nonlocal seen
            if select.select([keeper], [], [], 0.05)[0]:
                seen += os.read(keeper, 65_536).decode(errors="replace")
            return all(
                words in seen for words in ("mode      automatic", "chiller   off", "cutoff    permitting")
            )

        _until(shown, "guard and cutoff are seen at work")
        program.send_signal(signal.SIGINT)
        ended = False
        while not ended:
            try:
                seen += os.read(keeper, 65_536).decode(errors="replace")
            except OSError:  # the terminal's other end is closed
                ended = True
        assert program.wait(DEADLINE_S) == 0
    os.close(keeper)
    assert "600 times faster than life" in seen
    assert "\x1b[2J" in seen, "the screen is cleared between two looks"
    assert "stopped          link (exit 0), guard (exit 0), cutoff (exit 0)" in seen


def test_a_prepared_bench_is_started_by_the_commands_it_prints(tmp_path: Path) -> None:
    prepared = subprocess.run(
        [sys.executable, "-m", "reefguard", "demo", "--prepare", "my bench"],
        cwd=tmp_path, capture_output=True, text=True, timeout=DEADLINE_S, check=True,
    )  # fmt: skip
    lines = [line.strip() for line in prepared.stdout.splitlines()]
    exports = "; ".join(line for line in lines if line.startswith("export "))
    (guard,) = [line for line in lines if line.startswith("reefguard guard")]
    (limits,) = [line for line in lines if line.startswith("reefguard cutoff")]
    command = f'reefguard() {{ {sys.executable} -m reefguard "$@"; }}; {exports}; '
    once = subprocess.run(
        ["bash", "-c", f"{command} {guard} --once"],
        capture_output=True,
        text=True,
        timeout=DEADLINE_S,
        check=True,
    )
    assert "display: 25.62 °C" in once.stdout
    in_order = subprocess.run(
        ["bash", "-c", command + limits.replace("--limits", "check")],
        capture_output=True, text=True, timeout=DEADLINE_S, check=False,
    )  # fmt: skip
    assert in_order.returncode in {0, 1}, in_order
