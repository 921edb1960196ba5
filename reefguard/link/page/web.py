"""The page over HTTP: which addresses there are, who may ask, and what every answer carries.

Only GET and HEAD, a fixed set of addresses, nothing read from the disk by a
name that somebody asks for.  A Host that is none of the machine's names is
refused: that is what keeps a web site somewhere else from reading the page
through its visitor's browser (DNS rebinding).  The headers follow OWASP's
"HTTP Security Response Headers Cheat Sheet".
"""

import logging
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from hashlib import sha256
from importlib.resources import files
from threading import Lock
from typing import Final

from flask import Flask, Response, render_template, request
from werkzeug.exceptions import HTTPException

from reefguard.link.notes import Now
from reefguard.link.page.charts import Limits
from reefguard.link.page.past_view import Asked, PastView, past_view
from reefguard.link.page.said import View
from reefguard.link.page.sight import sight
from reefguard.link.page.spans import REACHES, Reach, reach_of
from reefguard.link.page.view import view
from reefguard.link.readout import Table
from reefguard.records.event_reader import NoEvents
from reefguard.records.events import Recorded
from reefguard.records.history import Past
from reefguard.records.status_file import NoStatus
from reefguard.report.look import STYLE
from reefguard.settings.model import Unit

_LOG = logging.getLogger(__name__)

_HEADERS: Final = {
    "Content-Security-Policy": "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "X-Frame-Options": "DENY",
    "Cache-Control": "no-cache",
}
_HOST: Final = re.compile(r"(?P<name>\[[0-9a-f:.]+\]|[a-z0-9][a-z0-9._-]*?)\.?(?::[0-9]{1,5})?", re.ASCII)
_NOBODY_HERE: Final = (
    "421: nobody of that name is here.\n"
    "mend: ask for the page by one of this machine's names, or write the name under "
    "`hosts` in the section `page` of the settings' `link`.\n"
)


@dataclass(frozen=True, slots=True)
class Sources:
    """Where the page has it from.

    Attributes:
        now: tells the time.
        status: reads the guard's status.
        past: reads the history: from, until, and how many spans a series at most; raises `NoHistory`.
        alarms: reads the events of alarms, oldest first; raises `NoEvents`.
    """

    now: Callable[[], Now]
    status: Callable[[], Table | NoStatus]
    past: Callable[[float, float, int], Past]
    alarms: Callable[[], Sequence[Recorded]]


@dataclass(frozen=True, slots=True)
class Tank:
    """What the settings say that the page needs.

    Attributes:
        name: of the tank.
        unit: of temperatures, where the status says none.
        limits: what the water is held against.
        silent_after_s: how old a status may be.
        version: of the program.
        zone: whose clock names the times.
        hosts: names the page answers to, in small letters.
    """

    name: str
    unit: Unit
    limits: Limits
    silent_after_s: float
    version: str
    zone: tzinfo
    hosts: frozenset[str]


def host_name(header: str | None) -> str | None:
    """Return the name in a Host header, in small letters and without port; `None` for what is none.

    >>> host_name("Reef.lan:8377"), host_name("[::1]:8377"), host_name("a b"), host_name(None)
    ('reef.lan', '[::1]', None, None)
    """
    found = _HOST.fullmatch((header or "").lower())
    return found["name"] if found else None


def application(sources: Sources, tank: Tank) -> Flask:
    """Return the page as a WSGI application."""
    app = Flask("reefguard.link.page", static_folder=None, template_folder="templates")
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    rooms = _Rooms(sources, tank)
    style = STYLE + _static("page.css")
    script, icon = _static("page.js"), _static("icon.svg")

    def whole() -> Response:
        reach = reach_of(request.args.get("span"))
        if reach is None:
            return _plain(404, "404: there is no such span; mend: take one of those on the page.\n")
        said, past = rooms.now(), rooms.past(reach)
        return _html(
            render_template("page.html", view=said, past=past, reaches=REACHES, version=tank.version)
        )

    def now() -> Response:
        return _html(render_template("now.html", view=rooms.now()))

    def past() -> Response:
        reach = reach_of(request.args.get("span"))
        if reach is None:
            return _plain(404, "404: there is no such span.\n")
        return _html(render_template("past.html", past=rooms.past(reach), reaches=REACHES))

    for address, answer in (
        ("/", whole),
        ("/now", now),
        ("/past", past),
        ("/look.css", lambda: Response(style, mimetype="text/css")),
        ("/page.js", lambda: Response(script, mimetype="text/javascript")),
        ("/icon.svg", lambda: Response(icon, mimetype="image/svg+xml")),
    ):
        app.add_url_rule(address, address, answer, methods=["GET", "HEAD"], provide_automatic_options=False)
    app.before_request(lambda: _refused(tank.hosts))
    app.after_request(_dressed)
    app.register_error_handler(HTTPException, _told)
    app.register_error_handler(Exception, _failed)
    return app


class _Rooms:
    """What the page says, and the charts that need not be drawn anew for everybody who looks."""

    def __init__(self, sources: Sources, tank: Tank) -> None:
        self._sources, self._tank = sources, tank
        self._drawn: dict[str, tuple[float, PastView]] = {}
        self._drawing = Lock()

    def now(self) -> View:
        seen = sight(self._sources.status(), self._sources.now(), self._tank.silent_after_s)
        return view(seen, self._tank.name, self._tank.unit)

    def past(self, reach: Reach) -> PastView:
        # One drawing at a time: a hundred who ask at once wait for one, and get the same.
        with self._drawing:
            now = self._sources.now()
            known = self._drawn.get(reach.key)
            if known is not None and 0.0 <= now.boot_s - known[0] < reach.fresh_s:
                return known[1]
            drawn = self._draw(reach, now)
            self._drawn[reach.key] = now.boot_s, drawn
            return drawn

    def _draw(self, reach: Reach, now: Now) -> PastView:
        status = self._sources.status()
        shown_in = None if isinstance(status, NoStatus) else status.get("show_temperatures_in")
        unit = next((one for one in Unit if one.value == shown_in), self._tank.unit)
        asked = Asked(reach, now.local.timestamp(), self._tank.limits, unit, self._tank.zone)
        trouble = ""
        alarms: Sequence[Recorded] = ()
        try:
            alarms = self._sources.alarms()
        except NoEvents as error:
            trouble = f"Alarms are not marked: {error}."
        try:
            return past_view(asked, self._sources.past, alarms, trouble)
        except Exception as error:  # noqa: BLE001  whatever is wrong with the past, the present is shown
            _LOG.warning("the history cannot be shown: %s: %s", type(error).__name__, error)
            return PastView(reach, "The history cannot be shown; the link's log says why.")


def _static(name: str) -> str:
    return files("reefguard.link.page").joinpath("static", name).read_text(encoding="utf-8")


def _refused(hosts: frozenset[str]) -> Response | None:
    """Refuse who asks for another's page, and other sites' scripts and pictures."""
    if host_name(request.headers.get("Host")) not in hosts:
        return _plain(421, _NOBODY_HERE)
    follows_a_link = request.headers.get("Sec-Fetch-Mode") == "navigate" and request.path == "/"
    if request.headers.get("Sec-Fetch-Site") in {"cross-site", "same-site"} and not follows_a_link:
        return _plain(403, "403: this is for the page itself.\n")
    return None


def _dressed(response: Response) -> Response:
    response.headers.update(_HEADERS)
    if response.status_code == 200:
        response.set_etag(sha256(response.get_data()).hexdigest()[:32])
        response.make_conditional(request)
    return response


def _html(text: str) -> Response:
    return Response(text, mimetype="text/html")


def _plain(code: int, text: str) -> Response:
    return Response(text, status=code, mimetype="text/plain")


def _told(error: HTTPException) -> Response:
    """Say what is wrong in a line; nothing of the request is repeated."""
    response = _plain(error.code or 500, f"{error.code}: {error.name}\n")
    if error.code == 405:
        response.headers["Allow"] = "GET, HEAD"
    return response


def _failed(error: Exception) -> Response:
    _LOG.error("the page failed: %s: %s", type(error).__name__, error)
    return _plain(500, "500: the page failed; the link's log says why. The guard is not touched by it.\n")
