"""The page's server under attack, with bare sockets: it answers or refuses, and goes on."""

import socket
from collections.abc import Iterator
from contextlib import ExitStack, closing

import pytest
from page_rig import World
from real_broker import free_port, until

from reefguard.link.page.server import CONNECTIONS, PageOutlet, Serving, names_of
from reefguard.link.ports import Snapshot
from reefguard.settings.link_model import Listen, Page

NOTHING = Snapshot(None, fresh=False, age_s=None)
HEAD = b"GET /now HTTP/1.1\r\nHost: localhost\r\n"


@pytest.fixture(scope="module")
def serving() -> Iterator[Serving]:
    served = Serving(Listen("127.0.0.1", 0), World().application(), lives_s=2.0)
    yield served
    served.close()


def opened(serving: Serving) -> socket.socket:
    return socket.create_connection(("127.0.0.1", serving.port), timeout=60.0)


def answer(serving: Serving, request: bytes) -> bytes:
    """Send a request, and read until the other side closes; nothing where it hangs up without a word."""
    with closing(opened(serving)) as one:
        return exchanged(one, request)


def exchanged(one: socket.socket, request: bytes) -> bytes:
    read = b""
    try:
        one.sendall(request)
        while part := one.recv(65_536):
            read += part
    except (ConnectionResetError, BrokenPipeError):
        pass
    return read


def is_well(serving: Serving) -> bool:
    return b"26.1" in answer(serving, HEAD + b"Connection: close\r\n\r\n")


def test_it_answers_and_names_no_server(serving: Serving) -> None:
    said = answer(serving, HEAD + b"Connection: close\r\n\r\n")
    head = said.partition(b"\r\n\r\n")[0].lower()
    assert said.startswith(b"HTTP/1.1 200 OK\r\n")
    assert b"\r\nserver:" not in head
    assert b"waitress" not in head
    assert b"werkzeug" not in head
    assert b"python" not in head


HERE = b" HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
ELSEWHERE = b" HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n"


@pytest.mark.parametrize(
    ("request_", "codes"),
    [
        (b"GET /now" + ELSEWHERE, (b"421",)),
        (b"GET /now HTTP/1.1\r\nConnection: close\r\n\r\n", (b"400", b"421")),
        (b"GET /now HTTP/1.0\r\n\r\n", (b"400", b"421")),
        (HEAD + b"Host: evil.example\r\nConnection: close\r\n\r\n", (b"400", b"421")),
        (
            b"GET http://evil.example/now HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n",
            (b"421",),
        ),
        (HEAD + b"X-Forwarded-Host: evil.example\r\nConnection: close\r\n\r\n", (b"200",)),
        (b"GET /../../etc/passwd" + HERE, (b"400", b"404")),
        (
            b"GET /%2e%2e/%2e%2e/etc/passwd HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n",
            (b"400", b"404"),
        ),
        (
            b"GET /static/../page.js HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n",
            (b"400", b"404"),
        ),
        (b"DELETE /" + HERE, (b"405",)),
        (b"BREW /" + HERE, (b"400", b"405")),
        (b"GET / SPDY/9\r\nHost: localhost\r\n\r\n", (b"400",)),
        (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03\r\n\r\n", (b"400", b"")),
        (HEAD + b"X: " + b"a" * 20_000 + b"\r\n\r\n", (b"431", b"400", b"")),
        (b"GET /" + b"a" * 20_000 + b" HTTP/1.1\r\nHost: localhost\r\n\r\n", (b"431", b"414", b"400", b"")),
        (HEAD + b"".join(b"X-%d: y\r\n" % n for n in range(2_000)) + b"\r\n", (b"431", b"400", b"")),
        (
            b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 999999999\r\n\r\n" + b"x" * 5_000,
            (b"413", b"405", b"400", b""),
        ),
        (
            HEAD + b"Content-Length: 5\r\nTransfer-Encoding: chunked\r\nConnection: close\r\n\r\n0\r\n\r\n",
            (b"400", b"200"),
        ),
        (HEAD + b"Content-Length: -1\r\n\r\n", (b"400",)),
        (HEAD + b"Bad Header\r\nConnection: close\r\n\r\n", (b"400",)),
    ],
)
def test_it_answers_or_refuses_and_goes_on(
    serving: Serving, request_: bytes, codes: tuple[bytes, ...]
) -> None:
    said = answer(serving, request_)
    assert said[9:12] in codes, said[:200]
    assert b"Traceback" not in said
    assert b"root:" not in said
    assert b"evil.example" not in said
    assert is_well(serving)


def test_a_request_that_never_ends_ends(serving: Serving) -> None:
    with closing(opened(serving)) as one:
        ended = False

        def trickled() -> bool:
            nonlocal ended
            try:
                one.sendall(b"X")
                one.settimeout(0.05)
                ended = ended or one.recv(1) == b""
            except TimeoutError:
                pass
            except OSError:
                ended = True
            return ended

        one.sendall(HEAD + b"X-Slow: ")
        until(trickled, "the slow connection is closed, though a letter comes all the time")
    assert is_well(serving)


def test_a_connection_that_says_nothing_is_closed(serving: Serving) -> None:
    with closing(opened(serving)) as one:
        assert one.recv(1) == b""


def test_two_hundred_at_once(serving: Serving, caplog: pytest.LogCaptureFixture) -> None:
    """More than it holds: each is answered or refused, none waits for ever, and the journal is not filled."""
    assert CONNECTIONS < 200
    request = b"GET /?span=year HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
    with ExitStack() as stack:
        ones = []
        for _ in range(200):
            one = socket.socket()
            stack.enter_context(closing(one))
            one.settimeout(0.0)
            one.connect_ex(("127.0.0.1", serving.port))
            ones.append(one)
        answered = 0
        for one in ones:
            one.settimeout(60.0)
            try:
                answered += exchanged(one, request).startswith(b"HTTP/1.1 200")
            except OSError:
                continue
        assert answered >= CONNECTIONS // 2
    assert is_well(serving)
    assert not caplog.records


def test_idle_connections_hold_nobody_up_for_long(serving: Serving) -> None:
    with ExitStack() as stack:
        for _ in range(CONNECTIONS + 20):
            one = socket.socket()
            stack.enter_context(closing(one))
            one.settimeout(0.0)
            one.connect_ex(("127.0.0.1", serving.port))
        assert is_well(serving)


def test_a_reader_who_reads_nothing_is_let_go(serving: Serving) -> None:
    with closing(opened(serving)) as one:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4_096)
        one.sendall(b"GET /?span=year HTTP/1.1\r\nHost: localhost\r\n\r\n" * 20)
        assert is_well(serving)


def test_a_port_that_is_taken_is_told_and_tried_again(caplog: pytest.LogCaptureFixture) -> None:
    now_s = 0.0
    port = free_port()
    outlet = PageOutlet(Listen("127.0.0.1", port), World().application(), stopwatch=lambda: now_s)
    with closing(socket.socket()) as taken:
        taken.bind(("127.0.0.1", port))
        taken.listen()
        outlet.publish(NOTHING)
        assert f"127.0.0.1:{port} cannot be opened" in str(outlet.trouble)
        now_s = 10.0
        outlet.publish(NOTHING)
    assert caplog.text.count("cannot be opened") == 1
    now_s = 20.0
    outlet.publish(NOTHING)
    assert outlet.trouble is None
    with closing(socket.create_connection(("127.0.0.1", port), timeout=60.0)) as one:
        assert b"26.1" in exchanged(one, HEAD + b"Connection: close\r\n\r\n")
    outlet.close()
    with closing(socket.socket()) as free:
        free.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        free.bind(("127.0.0.1", port))


def test_it_ends_while_somebody_is_connected() -> None:
    serving = Serving(Listen("127.0.0.1", 0), World().application())
    with closing(opened(serving)) as one:
        one.sendall(HEAD)
        serving.close()
        assert exchanged(one, b"") == b""
    until(lambda: not _listens(serving.port), "the port is closed")


def _listens(port: int) -> bool:
    with closing(socket.socket()) as one:
        return one.connect_ex(("127.0.0.1", port)) == 0


def test_names_of_the_machine() -> None:
    assert "tankpi.local" in names_of(Page(), "TankPi.lan")
    assert "192.0.2.7" in names_of(Page(Listen("192.0.2.7", 80)), "tankpi")
    assert "[2001:db8::7]" in names_of(Page(Listen("2001:db8::7", 80)), "tankpi")
    assert "0.0.0.0" not in names_of(Page(Listen("0.0.0.0", 80)), "tankpi")  # noqa: S104  no socket is opened
    assert "" not in names_of(Page(), "")


def test_a_server_that_ends_at_once_is_closed_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    serving = Serving(Listen("127.0.0.1", 0), World().application())
    set_it = serving._end.set

    def set_and_let_it_end() -> None:
        # The thread may be quicker than whoever asks it to end, and closes all it had open.
        set_it()
        serving._thread.join(60.0)

    monkeypatch.setattr(serving._end, "set", set_and_let_it_end)
    serving.close()
    assert not serving._thread.is_alive()
