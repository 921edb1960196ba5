"""The page over HTTP, in process: who may ask, what every answer carries, and what is never said."""

import re
from html import unescape

import pytest
from flask.testing import FlaskClient
from guard_said import alarm, output, status
from page_rig import World, no_past
from werkzeug.test import TestResponse

from reefguard.link.page.web import host_name
from reefguard.records.event_reader import NoEvents
from reefguard.records.events import Recorded
from reefguard.records.history import Past

PAGES = ("/", "/now", "/past", "/look.css", "/page.js", "/icon.svg")


@pytest.fixture
def world() -> World:
    return World()


@pytest.fixture
def client(world: World) -> FlaskClient:
    return world.application().test_client()


def text(response: TestResponse) -> str:
    """Return an answer as a person reads it."""
    return unescape(re.sub(r"\s+", " ", response.get_data(as_text=True)))


@pytest.mark.parametrize("address", [*PAGES, "/nothing", "/?span=forever", "/past?span=forever"])
def test_every_answer_carries_the_headers_and_no_cookie(client: FlaskClient, address: str) -> None:
    answer = client.get(address)
    policy = dict(one.strip().split(" ", 1) for one in answer.headers["Content-Security-Policy"].split(";"))
    assert policy == {
        "default-src": "'none'",
        "style-src": "'self'",
        "script-src": "'self'",
        "img-src": "'self'",
        "connect-src": "'self'",
        "base-uri": "'none'",
        "form-action": "'none'",
        "frame-ancestors": "'none'",
    }
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"
    assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert answer.headers["Cache-Control"] == "no-cache"
    for absent in ("Set-Cookie", "Server", "Access-Control-Allow-Origin", "Strict-Transport-Security"):
        assert absent not in answer.headers


@pytest.mark.parametrize("address", PAGES)
def test_only_get_and_head(client: FlaskClient, address: str) -> None:
    head = client.head(address)
    assert head.status_code == 200
    assert head.get_data() == b""
    for method in ("POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "LINK"):
        refused = client.open(address, method=method)
        assert refused.status_code == 405, method
        assert refused.headers["Allow"] == "GET, HEAD"


@pytest.mark.parametrize(
    "host", ["localhost", "LOCALHOST:8377", "127.0.0.1:9000", "[::1]:8377", "tankpi.local", "tankpi."]
)
def test_the_machines_own_names_are_answered(client: FlaskClient, host: str) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "localhost.evil.example",
        "evil.example:8377",
        "127.0.0.1.evil.example",
        "127.0.0.2",
        "localhost:8377:80",
        "localhost:",
        "localhost@evil.example",
        "localhost, evil.example",
        "",
        " ",
        "[::1",
        "localhost\x00",
        "tankpi/../x",
        "\u217cocalhost",
    ],
)
@pytest.mark.parametrize("address", ["/", "/now", "/look.css", "/nothing"])
def test_nobody_else_is_answered(client: FlaskClient, host: str, address: str) -> None:
    answer = client.get(address, headers={"Host": host.encode().decode("latin-1")})
    assert answer.status_code == 421
    assert "26.1" not in text(answer)
    assert "mend:" in text(answer)
    assert not host.strip() or "evil" not in text(answer), "what was asked for is not repeated"


def test_a_host_without_a_name() -> None:
    assert host_name(None) is None
    assert host_name("x" * 10_000) == "x" * 10_000


@pytest.mark.parametrize("address", PAGES[1:])
def test_other_sites_may_link_to_the_page_and_take_nothing_else(client: FlaskClient, address: str) -> None:
    for site in ("cross-site", "same-site"):
        assert client.get(address, headers={"Sec-Fetch-Site": site}).status_code == 403
        fetch = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": "navigate"}
        assert client.get(address, headers=fetch).status_code == 403
        assert client.get("/", headers=fetch).status_code == 200
        assert client.get("/", headers={"Sec-Fetch-Site": site, "Sec-Fetch-Mode": "cors"}).status_code == 403
    for site in ("same-origin", "none"):
        assert client.get(address, headers={"Sec-Fetch-Site": site}).status_code == 200


def test_what_has_not_changed_is_not_sent_again(client: FlaskClient, world: World) -> None:
    first = client.get("/now")
    again = client.get("/now", headers={"If-None-Match": first.headers["ETag"]})
    assert again.status_code == 304
    assert again.get_data() == b""
    assert again.headers["Cache-Control"] == "no-cache"
    assert "Content-Security-Policy" in again.headers
    world.warns()
    assert client.get("/now", headers={"If-None-Match": first.headers["ETag"]}).status_code == 200


@pytest.mark.parametrize("span", ["24h", "7d", "90d", "season", "year"])
def test_every_span(client: FlaskClient, span: str) -> None:
    answer = client.get(f"/?span={span}")
    assert answer.status_code == 200
    assert f'<a href="?span={span}#past" aria-current="true">' in answer.get_data(as_text=True)
    assert len(answer.get_data()) < 100_000


@pytest.mark.parametrize("span", ["forever", "", "24h ", "<script>", "24h&span=7d"[:0] + "%00", "9" * 5_000])
def test_no_other_span(client: FlaskClient, span: str) -> None:
    answer = client.get("/", query_string={"span": span})
    assert answer.status_code == 404
    assert "script" not in text(answer)


def test_it_says_what_it_knows(client: FlaskClient) -> None:
    said = text(client.get("/"))
    for words in (
        "OK 26.1 °C - Lagoon",
        "in the safe band",
        "(24.0 to 27.8 °C)",
        "measured 4 s ago",
        "display reads 26.06 °C, below the cut-in of 26.80 °C",
        "over-cool cutoff: <strong>lets the chiller run",
        "lights: <strong>on",
        "The last 24 hours",
        "Run hours and starts",
        "The guard's last word: 13:05:20 on 14 Jul 2031.",
    ):
        assert words in said, words


def test_nothing_that_acts_or_loads_from_elsewhere_stands_on_it(client: FlaskClient, world: World) -> None:
    world.warns()
    for span in ("24h", "year"):
        said = client.get(f"/?span={span}").get_data(as_text=True)
        for never in ("<form", "<button", "<iframe", " style=", "<style", "javascript:", " on", 'src="http'):
            if never == " on":
                assert not re.search(r"<[^>]*\son[a-z]+=", said)
            else:
                assert never not in said, never
        assert re.findall(r"<script[^>]*>", said) == ['<script src="page.js" defer>']
        assert set(re.findall(r'(?:href|src)="([^"#?]*)', said)) == {"", "icon.svg", "look.css", "page.js"}
        assert set(re.findall(r"https?://[^\"' ]+", said)) == {"http://www.w3.org/2000/svg"}


def test_whatever_names_hold_is_text(client: FlaskClient, world: World) -> None:
    nasty = '<img src=x onerror="alert(1)">\'"&'
    world.read = status(
        tank=nasty,
        mode=nasty,
        outputs={nasty: output(why=nasty)},
        probes={nasty: {"shows_c": 25.0, "used": True, "cause": nasty}},
        alarms=[alarm(nasty, nasty, first=nasty, means=nasty)],
        findings=[{"severity": nasty, "what": nasty, "mend": nasty}],
        lights={"on": True, "told": nasty},
        cutoff={"state": nasty, "permits": False, "why": nasty},
        next={"what": nasty, "in_s": 60.0},
    )
    for address in ("/", "/now"):
        answer = client.get(address)
        assert answer.status_code == 200
        assert "<img" not in answer.get_data(as_text=True)
        assert "&lt;img" in answer.get_data(as_text=True)


@pytest.mark.parametrize("breaking", ["falls_silent", "loses_its_file"])
def test_stale_knowledge_is_loud(client: FlaskClient, world: World, breaking: str) -> None:
    getattr(world, breaking)()
    said = text(client.get("/"))
    assert "<title>NOT LIVE - Lagoon</title>" in said
    assert "<strong>NOT LIVE:</strong>" in said
    assert 'class="of-then"' in said
    assert "What it did then" in said
    assert '<span class="value">\N{EN DASH}</span>' in said
    assert "measure by hand" in said


def test_without_scripts_it_loads_itself_anew(client: FlaskClient) -> None:
    assert '<noscript><meta http-equiv="refresh" content="30"></noscript>' in text(client.get("/"))


def test_without_a_history_the_present_is_shown(client: FlaskClient, world: World) -> None:
    world.past = no_past
    said = text(client.get("/"))
    assert "OK 26.1 °C" in said
    assert "history.db is not there" in said


def test_a_history_that_breaks_takes_the_present_not_with_it(client: FlaskClient, world: World) -> None:
    def broken(from_s: float, until_s: float, most: int) -> Past:
        raise ZeroDivisionError

    world.past = broken
    said = text(client.get("/"))
    assert "OK 26.1 °C" in said
    assert "The history cannot be shown" in said
    assert "ZeroDivisionError" not in said


def test_events_that_cannot_be_read_are_told_beside_the_chart() -> None:
    class NoneToRead(World):
        @property
        def events(self) -> tuple[Recorded, ...]:
            raise NoEvents("events.db is locked")

        @events.setter
        def events(self, value: object) -> None:
            pass

    said = text(NoneToRead().application().test_client().get("/"))
    assert "Alarms are not marked: events.db is locked." in said
    assert "<svg" in said


def test_a_page_that_fails_says_so_without_a_traceback(world: World) -> None:
    app = world.application()
    world.read = None  # neither a status nor why there is none
    answer = app.test_client().get("/")
    assert answer.status_code == 500
    assert "Traceback" not in text(answer)
    assert "the link's log says why" in text(answer)
    assert "Content-Security-Policy" in answer.headers


def test_a_chart_is_drawn_once_for_many_who_look(world: World) -> None:
    asked: list[float] = []
    drawn = world.past

    def counted(from_s: float, until_s: float, most: int) -> Past:
        asked.append(until_s)
        return drawn(from_s, until_s, most)

    world.past = counted
    client = world.application().test_client()
    for _ in range(5):
        client.get("/past?span=year")
    assert len(asked) == 1
    world.boot_s += 301.0
    client.get("/past?span=year")
    assert len(asked) == 2
