"""The page's server: waitress in a thread of the link, with limits for those who mean no good.

A connection lives for a limited time whatever it does, so one that sends its
request a letter at a time holds its place no longer than others.  That is
counted by a clock that cannot be set: waitress itself counts by the wall.
"""

import logging
import socket
import time
from collections.abc import Callable
from contextlib import suppress
from ipaddress import ip_address
from threading import Event, Thread
from typing import Any, Final

from flask import Flask
from waitress import wasyncore
from waitress.server import create_server

from reefguard.link.ports import Snapshot
from reefguard.settings.link_model import Listen, Page

_LOG = logging.getLogger(__name__)

CONNECTIONS: Final = 60
"""At once; who comes then waits in the kernel's queue until one ends."""

LIVES_S: Final = 20.0
"""A connection with no request at work is closed after this long, used or not."""

_LIMITS: Final[dict[str, Any]] = {
    "threads": 2,
    "connection_limit": CONNECTIONS,
    "backlog": 64,
    "channel_timeout": 10,
    "cleanup_interval": 5,
    "max_request_header_size": 8_192,
    "max_request_body_size": 1_024,
    "inbuf_overflow": 16_384,
    "asyncore_use_poll": True,
    "ident": None,
    "clear_untrusted_proxy_headers": True,
    "expose_tracebacks": False,
}
# What waitress says of each request that waits and of each flood of connections: whoever knocks often enough
# would fill the journal, and wear the card it is on.
for _talkative in ("waitress", "waitress.queue"):
    logging.getLogger(_talkative).setLevel(logging.ERROR)

_LOOK_EVERY_S: Final = 0.5
_AGAIN_EVERY_S: Final = 15.0
_GOODBYE_WITHIN_S: Final = 5.0


def names_of(page: Page, hostname: str) -> frozenset[str]:
    """Return the names that a page answers to, in small letters.

    >>> sorted(names_of(Page(hosts=("reef.lan",)), "tankpi"))
    ['127.0.0.1', '[::1]', 'localhost', 'reef.lan', 'tankpi', 'tankpi.local']
    """
    own = {"127.0.0.1", "localhost", "[::1]", *page.hosts}
    address = ip_address(page.listen.address)
    if not address.is_unspecified:
        own.add(f"[{address}]" if address.version == 6 else str(address))
    short = hostname.lower().partition(".")[0]
    return frozenset(own | {hostname.lower(), short, f"{short}.local"} - {"", ".local"})


class PageOutlet:
    """Shows the tank to browsers.  A port that is taken is tried again and again."""

    def __init__(
        self, listen: Listen, app: Flask, *, stopwatch: Callable[[], float] = time.monotonic
    ) -> None:
        """Take what is needed; the first snapshot opens the port."""
        self._listen, self._app, self._stopwatch = listen, app, stopwatch
        self._serving: Serving | None = None
        self._tried_s = stopwatch() - _AGAIN_EVERY_S
        self._trouble: str | None = None

    def publish(self, snapshot: Snapshot) -> None:
        """Open the port, if it is not open; the page reads the guard's files itself, whenever it is asked."""
        del snapshot
        now_s = self._stopwatch()
        if self._serving is not None or now_s - self._tried_s < _AGAIN_EVERY_S:
            return
        self._tried_s = now_s
        try:
            self._serving = Serving(self._listen, self._app)
        except OSError as error:
            self._note(f"{self._listen.shown} cannot be opened: {error.strerror or error}")
        else:
            self._note(None)
            _LOG.info("the page is on http://%s", self._listen.shown)

    def close(self) -> None:
        """Close the port."""
        if self._serving is not None:
            self._serving.close()
            self._serving = None

    @property
    def trouble(self) -> str | None:
        """Why the page is not served at the moment, or `None`."""
        return self._trouble

    def _note(self, trouble: str | None) -> None:
        if trouble is not None and trouble != self._trouble:
            _LOG.warning("no page: %s", trouble)
        self._trouble = trouble


class Serving:
    """An open port with a thread behind it."""

    def __init__(self, listen: Listen, app: Flask, *, lives_s: float = LIVES_S) -> None:
        """Open the port and begin to serve.

        Raises:
            OSError: the port cannot be had.
        """
        self._lives_s = lives_s
        self._map: dict[int, Any] = {}
        self._server = create_server(app, map=self._map, sockets=[_bound(listen)], **_LIMITS)
        self.port = int(self._server.effective_port)
        self._end = Event()
        self._first_seen: dict[Any, float] = {}
        self._thread = Thread(target=self._run, name="page", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Serve no longer; within seconds."""
        # The thread looks up often by itself.  Waking it by waitress's trigger could meet one that has ended:
        # the trigger's descriptor is closed then, or already another file's.
        self._end.set()
        self._thread.join(_GOODBYE_WITHIN_S)

    def _run(self) -> None:
        while not self._end.is_set():
            try:
                wasyncore.loop(timeout=_LOOK_EVERY_S, use_poll=True, map=self._map, count=1)
                self._end_the_old()
            except Exception as error:  # noqa: BLE001  one broken connection must not take the page away
                _LOG.warning("the page's server: %s: %s", type(error).__name__, error)
                self._end.wait(_LOOK_EVERY_S)
        self._server.task_dispatcher.shutdown(timeout=_GOODBYE_WITHIN_S / 2.0)
        with suppress(OSError):
            wasyncore.close_all(self._map, ignore_all=True)

    def _end_the_old(self) -> None:
        now_s = time.monotonic()
        channels = tuple(self._server.active_channels.values())
        self._first_seen = {one: self._first_seen.get(one, now_s) for one in channels}
        for one, first_s in self._first_seen.items():
            if now_s - first_s > self._lives_s and not one.requests:
                one.will_close = True


def _bound(listen: Listen) -> socket.socket:
    family = socket.AF_INET6 if ":" in listen.address else socket.AF_INET
    opened = socket.socket(family, socket.SOCK_STREAM)
    try:
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family is socket.AF_INET6:
            opened.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        opened.bind((listen.address, listen.port))
    except OSError:
        opened.close()
        raise
    return opened
