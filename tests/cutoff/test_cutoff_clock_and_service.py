"""The clock it goes by, and what it tells its service manager."""

import os
import signal
import socket
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from reefguard.cutoff.clock import BenchError, BootClock, boot_id, clock_from, wall_text
from reefguard.cutoff.service import ServiceManager, StopSignal, say


def test_the_clock_is_the_boot_clock() -> None:
    before_s = time.clock_gettime(time.CLOCK_BOOTTIME)
    now_s = clock_from({}).now_s()
    assert before_s <= now_s <= time.clock_gettime(time.CLOCK_BOOTTIME)


def test_a_bench_may_speed_it_up() -> None:
    clock = clock_from({"REEFGUARD_BENCH": "/bench", "REEFGUARD_BENCH_SPEED": "60"})
    assert clock == BootClock(60.0)
    before_s = time.clock_gettime(time.CLOCK_BOOTTIME)
    now_s = clock.now_s()
    assert before_s * 60.0 <= now_s <= time.clock_gettime(time.CLOCK_BOOTTIME) * 60.0
    assert clock.real_s(120.0) == 2.0


@pytest.mark.parametrize("speed", ["", "1", "1.0"])
def test_a_bench_may_leave_it(speed: str) -> None:
    assert clock_from({"REEFGUARD_BENCH": "/b", "REEFGUARD_BENCH_SPEED": speed}) == BootClock(1.0)


@pytest.mark.parametrize("speed", ["fast", "0.5", "0", "-1", "inf", "nan"])
def test_what_is_no_speed_is_refused(speed: str) -> None:
    with pytest.raises(BenchError, match="which is no speed\n  mend: write a number from 1 up"):
        clock_from({"REEFGUARD_BENCH": "/b", "REEFGUARD_BENCH_SPEED": speed})


@pytest.mark.parametrize("bench", [{}, {"REEFGUARD_BENCH": ""}])
def test_a_real_tanks_time_is_never_sped_up(bench: dict[str, str]) -> None:
    with pytest.raises(BenchError, match="a real tank's time is never sped up"):
        clock_from(bench | {"REEFGUARD_BENCH_SPEED": "60"})


def test_the_boot_has_a_name() -> None:
    assert boot_id() == Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()


def test_the_wall_time_has_its_offset() -> None:
    assert wall_text()[-6] in "+-"


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(str(tmp_path / "notify"))
        listening.setblocking(False)
        yield listening


def heard(manager: socket.socket) -> list[bytes]:
    messages = []
    while True:
        try:
            messages.append(manager.recv(4096))
        except BlockingIOError:
            return messages


def test_what_a_service_manager_hears(manager: socket.socket) -> None:
    service = ServiceManager(manager.getsockname())
    service.ready()
    service.status("one")
    service.status("one")
    service.status("two")
    service.healthy()
    service.healthy()
    service.stopping()
    assert heard(manager) == [
        b"READY=1",
        b"STATUS=one",
        b"STATUS=two",
        b"WATCHDOG=1",
        b"WATCHDOG=1",
        b"STOPPING=1",
    ]


# sd_notify(3): an address that begins with @ is in the abstract name space.
def test_an_abstract_address() -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(f"\0reefguard-test-{os.getpid()}")
        ServiceManager(f"@reefguard-test-{os.getpid()}").ready()
        assert listening.recv(100) == b"READY=1"


@pytest.mark.parametrize("address", [None, "", "/nowhere"])
def test_nobody_listening_is_no_reason_to_stop(address: str | None) -> None:
    ServiceManager(address).healthy()


def test_a_full_socket_is_no_reason_to_wait(manager: socket.socket) -> None:
    service = ServiceManager(manager.getsockname())
    for _ in range(10_000):
        service.healthy()


def test_a_line_for_the_log(capsys: pytest.CaptureFixture[str]) -> None:
    say("so it stands")
    assert capsys.readouterr().err == "so it stands\n"


def test_a_log_that_is_gone_is_no_reason_to_stop(monkeypatch: pytest.MonkeyPatch) -> None:
    with open(os.devnull, "w", encoding="utf-8") as gone:  # noqa: PTH123  a file to close
        pass
    monkeypatch.setattr(sys, "stderr", gone)
    say("to nobody")


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_stop_is_noticed_within_a_wait(number: signal.Signals) -> None:
    kept = {each: signal.getsignal(each) for each in (signal.SIGTERM, signal.SIGINT)}
    try:
        stop = StopSignal()
        assert not stop.asked
        os.kill(os.getpid(), number)
        assert os.read(stop.descriptor, 1) == bytes([number])
        assert stop.asked
    finally:
        for each, handler in kept.items():
            signal.signal(each, handler)
        os.close(stop.descriptor)
        os.close(signal.set_wakeup_fd(-1))
