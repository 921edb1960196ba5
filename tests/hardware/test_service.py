"""What systemd hears, on a real datagram socket."""

import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from reefguard.hardware.service import NotifySocket


@pytest.fixture
def listener() -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as bound:
        bound.settimeout(60)
        yield bound


def heard(listener: socket.socket) -> list[str]:
    """Return what has been said so far."""
    messages = []
    listener.setblocking(False)
    try:
        while True:
            messages.append(listener.recv(4096).decode())
    except BlockingIOError:
        return messages


def test_it_says_how_things_stand(listener: socket.socket, tmp_path: Path) -> None:
    address = str(tmp_path / "notify")
    listener.bind(address)
    manager = NotifySocket({"NOTIFY_SOCKET": address})
    manager.ready()
    manager.status("25.4 °C; fans off, cool enough")
    manager.healthy()
    manager.stopping()
    assert heard(listener) == [
        "READY=1",
        "STATUS=25.4 °C; fans off, cool enough",
        "WATCHDOG=1",
        "STOPPING=1",
    ]


def test_a_leading_at_sign_is_an_abstract_address(listener: socket.socket) -> None:
    name = f"reefguard-test-{os.getpid()}"
    listener.bind(f"\0{name}")
    NotifySocket({"NOTIFY_SOCKET": f"@{name}"}).ready()
    assert heard(listener) == ["READY=1"]


def test_a_status_is_said_when_it_changes_and_the_watchdog_fed_each_time(
    listener: socket.socket, tmp_path: Path
) -> None:
    listener.bind(str(tmp_path / "notify"))
    manager = NotifySocket({"NOTIFY_SOCKET": str(tmp_path / "notify")})
    for sentence in ("calm", "calm", "warm", "warm", "calm"):
        manager.status(sentence)
        manager.healthy()
    said = heard(listener)
    assert [message for message in said if message != "WATCHDOG=1"] == [
        "STATUS=calm",
        "STATUS=warm",
        "STATUS=calm",
    ]
    assert said.count("WATCHDOG=1") == 5


def test_a_status_of_several_lines_is_one_assignment(listener: socket.socket, tmp_path: Path) -> None:
    listener.bind(str(tmp_path / "notify"))
    NotifySocket({"NOTIFY_SOCKET": str(tmp_path / "notify")}).status("calm\nWATCHDOG=trigger")
    assert heard(listener) == ["STATUS=calm WATCHDOG=trigger"]


def test_a_manager_that_is_gone_changes_nothing_and_hears_the_status_when_it_is_back(
    listener: socket.socket, tmp_path: Path
) -> None:
    manager = NotifySocket({"NOTIFY_SOCKET": str(tmp_path / "notify")})
    manager.ready()
    manager.status("calm")
    manager.healthy()
    listener.bind(str(tmp_path / "notify"))
    manager.status("calm")
    assert heard(listener) == ["STATUS=calm"]


def test_without_a_manager_nothing_is_said() -> None:
    manager = NotifySocket({})
    manager.ready()
    manager.status("calm")
    manager.healthy()
    manager.stopping()
    assert manager.watchdog_s is None


@pytest.mark.parametrize(
    ("environ", "watchdog_s"),
    [
        ({"WATCHDOG_USEC": "10000000"}, 10.0),
        ({"WATCHDOG_USEC": "10000000", "WATCHDOG_PID": str(os.getpid())}, 10.0),
        ({"WATCHDOG_USEC": "10000000", "WATCHDOG_PID": str(os.getpid() + 1)}, None),
        ({"WATCHDOG_USEC": "0"}, None),
        ({"WATCHDOG_USEC": "soon"}, None),
        ({"WATCHDOG_PID": str(os.getpid())}, None),
    ],
)
def test_the_watchdogs_time_is_for_the_process_it_names(
    environ: dict[str, str], watchdog_s: float | None
) -> None:
    assert NotifySocket(environ).watchdog_s == watchdog_s
