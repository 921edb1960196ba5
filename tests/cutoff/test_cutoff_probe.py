"""The child that reads the probe: what it tells, what hangs it, and that it never outlives its parent."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO

import pytest
from cutoff_bench import DEADLINE_S, CutoffBench, w1_at

from reefguard.cutoff import probe_child
from reefguard.cutoff.clock import BootClock
from reefguard.cutoff.ds18b20 import Failed, Fault, Measured, Sample
from reefguard.cutoff.limits import Setup, read
from reefguard.cutoff.probe import Probe, ProbeReaderEndedError


def started(bench: CutoffBench, speed: float = 100.0, **changes: str) -> Probe:
    bench.write_limits(**changes)
    setup = read(bench.limits.read_text(encoding="utf-8"))
    assert isinstance(setup, Setup)
    return Probe(setup, BootClock(speed))


@pytest.fixture
def quiet() -> Iterator[int]:
    """A descriptor on which nothing comes."""
    reading, writing = os.pipe()
    yield reading
    os.close(reading)
    os.close(writing)


def first(probe: Probe, quiet: int) -> Sample:
    until_s = time.monotonic() + DEADLINE_S
    while time.monotonic() < until_s:
        samples = probe.wait(100.0, quiet)
        if samples:
            return samples[0]
    raise AssertionError("no sample came")


@pytest.fixture
def probe(bench: CutoffBench) -> Iterator[Probe]:
    bench.water(25.0)
    made = started(bench, probe_offset="-0.5 °C")
    yield made
    made.stop()


def test_a_reading_is_corrected_by_the_offset(probe: Probe, quiet: int) -> None:
    assert first(probe, quiet) == Measured(24.5)


@pytest.mark.parametrize(
    ("text", "fault"), [("", Fault.EMPTY), (w1_at(85.0), Fault.POWER_ON), ("\xff\xfe", Fault.MALFORMED)]
)
def test_a_fault_is_told(bench: CutoffBench, quiet: int, text: str, fault: Fault) -> None:
    bench.probe_says(text)
    probe = started(bench, probe_offset="0.5 °C")
    assert first(probe, quiet) == Failed(fault)
    probe.stop()


def test_an_absent_probe_and_an_unreadable_one_are_told_apart(bench: CutoffBench, quiet: int) -> None:
    probe = started(bench)
    assert first(probe, quiet) == Failed(Fault.ABSENT)
    probe.stop()
    bench.probe_file.mkdir()
    probe = started(bench)
    assert first(probe, quiet) == Failed(Fault.UNREADABLE)
    probe.stop()


def test_a_read_that_hangs_is_silence_and_then_too_late(bench: CutoffBench, quiet: int) -> None:
    os.mkfifo(bench.probe_file)
    # A second of the stopwatch is 100 of the clock: the time-out passes within it.
    probe = started(bench, probe_timeout="1 min")
    began_s = time.monotonic()
    while time.monotonic() - began_s < 1.0:
        assert probe.wait(10.0, quiet) == []
    bench.probe_file.write_text(w1_at(25.0), encoding="ascii")
    assert first(probe, quiet) == Failed(Fault.LATE)
    probe.stop()


def test_a_wait_ends_when_interrupted(bench: CutoffBench) -> None:
    os.mkfifo(bench.probe_file)
    probe = started(bench, speed=1.0)
    reading, writing = os.pipe()
    os.write(writing, b"\0")
    assert probe.wait(1e6, reading) == []
    probe.stop()
    os.close(reading)
    os.close(writing)


def read_on(probe: Probe, quiet: int) -> None:
    while True:
        probe.wait(10.0, quiet)


def test_a_child_that_ended_is_an_error(bench: CutoffBench, quiet: int) -> None:
    bench.water(25.0)
    probe = started(bench)
    first(probe, quiet)
    probe._child.kill()
    with pytest.raises(ProbeReaderEndedError):
        read_on(probe, quiet)
    probe.stop()


def test_lines_that_come_in_pieces_are_put_together(
    probe: Probe, quiet: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = os.read
    monkeypatch.setattr(os, "read", lambda descriptor, _: read(descriptor, 7))
    seen: list[Sample] = []
    while len(seen) < 3:
        seen += probe.wait(100.0, quiet)
    assert seen == [Measured(24.5)] * 3


class Child:
    """The script by itself."""

    def __init__(self, path: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-I", "-S", probe_child.__file__, path, "0.01"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )

    @property
    def out(self) -> IO[bytes]:
        assert self.process.stdout is not None
        return self.process.stdout

    def parent_goes(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.close()

    def ended_by(self) -> int:
        ended = self.process.wait(timeout=DEADLINE_S)
        self.out.close()
        return ended


def test_the_child_stamps_each_read_with_when_it_began(bench: CutoffBench) -> None:
    bench.water(25.0)
    before_ns = time.clock_gettime_ns(time.CLOCK_BOOTTIME)
    child = Child(bench.probe_file)
    lines = [child.out.readline() for _ in range(3)]
    after_ns = time.clock_gettime_ns(time.CLOCK_BOOTTIME)
    stamps = [int(line.split(b" ")[0]) for line in lines]
    assert before_ns < stamps[0] < stamps[1] < stamps[2] < after_ns
    assert [line.split(b" ")[1:] for line in lines] == [
        [b"text", w1_at(25.0).encode().hex().encode() + b"\n"]
    ] * 3
    child.parent_goes()
    assert child.ended_by() == -signal.SIGIO


def test_the_child_ends_with_its_parent_even_within_a_read(bench: CutoffBench) -> None:
    os.mkfifo(bench.probe_file)
    child = Child(bench.probe_file)
    writer = hold_in_a_read(bench.probe_file)
    child.parent_goes()
    assert child.ended_by() == -signal.SIGIO
    os.close(writer)


def hold_in_a_read(fifo: Path) -> int:
    """Wait until somebody opens the FIFO for reading, and hold its other end without writing."""
    until_s = time.monotonic() + DEADLINE_S
    while True:
        try:
            return os.open(fifo, os.O_WRONLY | os.O_NONBLOCK)
        except OSError:
            assert time.monotonic() < until_s
            time.sleep(0.01)


def test_the_child_leaves_a_stop_to_its_parent(bench: CutoffBench) -> None:
    bench.water(25.0)
    child = Child(bench.probe_file)
    child.out.readline()
    child.process.send_signal(signal.SIGTERM)
    child.process.send_signal(signal.SIGINT)
    for _ in range(5):
        assert child.out.readline()
    child.parent_goes()
    assert child.ended_by() == -signal.SIGIO


def test_the_child_ends_quietly_when_nobody_reads(bench: CutoffBench) -> None:
    bench.water(25.0)
    child = Child(bench.probe_file)
    child.out.readline()
    child.out.close()
    assert child.process.wait(timeout=DEADLINE_S) == 0
    child.parent_goes()


def test_a_child_whose_parent_went_first_does_not_begin(bench: CutoffBench) -> None:
    ran = subprocess.run(
        [sys.executable, "-I", "-S", probe_child.__file__, bench.probe_file, "0.01"],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        timeout=DEADLINE_S,
        check=False,
    )
    assert (ran.returncode, ran.stdout) == (0, b"")


def test_the_child_loads_next_to_nothing() -> None:
    program = (
        f"import runpy, sys; sys.argv = ['', '/nowhere', '1']; runpy.run_path({probe_child.__file__!r})\n"
        "print(*sorted(sys.modules))"
    )
    ran = subprocess.run(
        [sys.executable, "-I", "-S", "-c", program], capture_output=True, text=True, check=True
    )
    assert not {"yaml", "gpiozero", "subprocess", "threading", "socket", "reefguard"} & set(
        ran.stdout.split()
    )
