"""Persons' commands: what is understood, and a socket that nobody can hold up."""

import grp
import json
import os
import pwd
import select
import socket
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reefguard.guard import command_socket
from reefguard.guard.command_socket import FILE_NAME, CommandSocket, short_address
from reefguard.guard.commands import Asked, AskedOfOutput, Refused, parse

json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=5,
)


@given(
    st.binary()
    | json_values.map(lambda value: json.dumps(value).encode())
    | st.fixed_dictionaries(
        {"command": st.sampled_from(["acknowledge", "shelve", "unshelve"]) | json_values},
        optional={"alarm": json_values, "for_s": json_values | st.floats(0.0, 1e5)},
    ).map(lambda value: json.dumps(value).encode())
    | st.fixed_dictionaries(
        {"command": st.just("exercise"), "output": json_values | st.just("fan1"), "session": json_values},
        optional={"on": json_values, "for_s": json_values | st.floats(0.0, 200.0)},
    ).map(lambda value: json.dumps(value).encode())
)
def test_whatever_is_sent_is_a_command_or_refused_in_words(line: bytes) -> None:
    asked = parse(line)
    if isinstance(asked, Refused):
        assert asked.why
        return
    if isinstance(asked, AskedOfOutput):
        assert asked.session
        assert 5.0 <= asked.for_s <= 120.0
        return
    assert asked.command in ("acknowledge", "shelve", "unshelve")
    assert asked.alarm is not None or asked.command == "acknowledge"
    assert 60.0 <= asked.for_s <= 86_400.0


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (b"acknowledge", "it is not JSON"),
        (b"[" * 100_000, "it is not JSON"),
        (b"[]", "no JSON object"),
        (b'{"command": "reset", "alarm": "a"}', "no such command"),
        (b'{"command": "shelve"}', "takes one alarm's name"),
        (b'{"command": "shelve", "alarm": 3}', "is a text"),
        (b'{"command": "shelve", "alarm": "a", "for_s": 59}', "1 min to 24 h"),
        (b'{"command": "shelve", "alarm": "a", "for_s": 86401}', "1 min to 24 h"),
        (b'{"command": "shelve", "alarm": "a", "for_s": NaN}', "1 min to 24 h"),
        (b'{"command": "shelve", "alarm": "a", "for_s": "2h"}', "a number of seconds"),
        (b'{"command": "exercise", "output": "fan1", "on": true}', "an output's name and a session"),
        (b'{"command": "exercise", "output": "fan1", "on": 1, "session": "t"}', "true, false or null"),
        (b'{"command": "exercise", "output": "f", "on": true, "session": "t", "for_s": 121}', "5 s to 120 s"),
        (b'{"command": "exercise", "output": "f", "on": true, "session": "t", "for_s": NaN}', "5 s to 120 s"),
        (b'{"command": "exercise", "output": "f", "on": true, "session": "t", "for_s": true}', "a number"),
        (b'{"command": "exercise", "output": "f", "on": true, "session": "t", "renew": 1}', "true or false"),
    ],
)
def test_a_wrong_command_is_refused_and_why(line: bytes, why: str) -> None:
    refused = parse(line)
    assert isinstance(refused, Refused)
    assert why in refused.why


def test_a_shelf_is_two_hours_when_nobody_says() -> None:
    assert parse(b'{"command": "shelve", "alarm": "water high"}') == Asked("shelve", "water high", 7_200.0)


class Guard:
    """What is behind the socket here: it notes what it is asked, and says so."""

    def __init__(self, directory: Path) -> None:
        self.heard: list[tuple[bytes, str]] = []
        self.socket = CommandSocket(directory, self._answer)
        self.path = directory / FILE_NAME

    def _answer(self, line: bytes, who: str) -> dict[str, Any]:
        self.heard.append((line, who))
        return {"said": line.decode()}

    def turn(self, times: int = 3) -> None:
        """Look around a few times, without waiting."""
        for _ in range(times):
            readable, writable, _ = select.select(self.socket.readable(), self.socket.writable(), [], 0.0)
            self.socket.serve([*readable, *writable])

    def client(self) -> socket.socket:
        one = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        one.settimeout(60.0)
        with short_address(self.path) as address:
            one.connect(address)
        return one


@pytest.fixture
def guard(tmp_path: Path) -> Iterator[Guard]:
    one = Guard(tmp_path)
    yield one
    one.socket.close()
    assert not one.path.exists()


def test_a_line_is_answered_with_a_line_and_the_kernel_says_who_asked(guard: Guard) -> None:
    with guard.client() as client:
        client.sendall(b"hello\n")
        guard.turn()
        assert client.makefile("rb").read() == b'{"said": "hello"}\n'
    assert guard.heard == [(b"hello", pwd.getpwuid(os.getuid()).pw_name)]


def test_the_group_decides_who_may_ask(guard: Guard) -> None:
    assert stat.S_IMODE(guard.path.stat().st_mode) == 0o660


def _other_group() -> str:
    """Return a group that this process can give a file to, and that is not its own."""
    numbers = [grp.getgrall()[-1].gr_gid] if os.geteuid() == 0 else os.getgroups()
    others = [number for number in numbers if number != os.getegid()]
    if not others:
        pytest.skip("needs to be root, or in two groups")
    return grp.getgrgid(others[0]).gr_name


def test_it_is_given_to_a_group_of_its_own(tmp_path: Path) -> None:
    name = _other_group()
    commands = CommandSocket(tmp_path, lambda *_: {"said": "done"}, group=name)
    there = (tmp_path / FILE_NAME).stat()
    commands.close()
    assert grp.getgrgid(there.st_gid).gr_name == name
    assert stat.S_IMODE(there.st_mode) == 0o660


def test_a_group_that_is_not_there_opens_it_to_nobody(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="there is no group"):
        CommandSocket(tmp_path, lambda *_: {"said": "done"}, group="no-such-group")


def test_a_line_may_come_in_pieces_or_without_its_end(guard: Guard) -> None:
    with guard.client() as client:
        for piece in (b"he", b"llo"):
            client.sendall(piece)
            guard.turn()
        assert guard.heard == []
        client.shutdown(socket.SHUT_WR)
        guard.turn()
        assert client.recv(100) == b'{"said": "hello"}\n'


def test_one_that_says_nothing_or_too_much_is_told(guard: Guard) -> None:
    with guard.client() as silent, guard.client() as talker:
        silent.shutdown(socket.SHUT_WR)
        talker.sendall(b"a" * 20_000)
        guard.turn(10)
        assert b"nothing was asked" in silent.recv(100)
        assert b"4096 bytes at most" in talker.recv(100)
    assert guard.heard == []


def test_slow_ones_hold_up_nobody_and_the_eldest_makes_way(guard: Guard) -> None:
    slow = [guard.client() for _ in range(8)]
    for one in slow:
        one.sendall(b"I th")
        guard.turn()
    with guard.client() as quick:
        quick.sendall(b"hello\n")
        guard.turn()
        assert quick.recv(100) == b'{"said": "hello"}\n'
    # The eldest reads its end (what it had not been heard of goes with it), the next still listens.
    assert slow[0].recv(100) == b""
    slow[1].sendall(b"ink\n")
    guard.turn()
    assert slow[1].recv(100) == b'{"said": "I think"}\n'
    for one in slow:
        one.close()


def test_one_that_never_ends_is_let_go(guard: Guard, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(command_socket, "_PATIENCE_S", 0.0)
    with guard.client() as slow:
        guard.turn()
        assert slow.recv(100) == b""


def test_one_that_has_gone_is_forgotten(guard: Guard) -> None:
    client = guard.client()
    client.sendall(b"hello\n")
    client.close()
    guard.turn()
    assert guard.heard
    assert guard.socket.writable() == []
    assert len(guard.socket.readable()) == 1


def test_a_socket_left_by_a_kill_is_taken_over_and_a_path_may_be_long(tmp_path: Path) -> None:
    deep = tmp_path / ("d" * 100) / ("e" * 100)
    deep.mkdir(parents=True)
    left = Guard(deep)
    left.socket._listening.close()
    assert left.path.exists()
    guard = Guard(deep)
    with guard.client() as client:
        client.sendall(b"hello\n")
        guard.turn()
        assert client.recv(100) == b'{"said": "hello"}\n'
    guard.socket.close()
