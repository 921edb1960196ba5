"""A sign of life to a service outside, for as long as the tank is in good hands.

It stays away, and the service calls, when the guard's last tick is not fresh,
when what the guard found keeps it from doing its work or from telling of it,
and when no channel of the link delivers.  Warm water does not stop it: of that
the alarms tell.
"""

import http.client
import logging
import threading
import urllib.error
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic
from typing import Final

from reefguard.link.ports import Snapshot
from reefguard.link.redaction import redacted
from reefguard.link.secrets import NoSecret, Secrets
from reefguard.settings.link_model import Heartbeat

_LOG = logging.getLogger(__name__)

_TIMEOUT_S: Final = 10.0
_AGAIN_AFTER_S: Final = 60.0
# A round that is older says nothing of the present: the link itself may hang.
_STALE_S: Final = 30.0
_DISABLING: Final = frozenset({"cutoff silent", "storage failing", "status not written"})
_DISABLING_END: Final = " not driven"


def why_not(snapshot: Snapshot, *, hearing: bool, delivering: bool) -> str | None:
    """Return why no heartbeat may go out, or `None` when one may.

    Args:
        snapshot: of this round.
        hearing: the guard's events can be read, and what follows from them be kept.
        delivering: not every channel fails.
    """
    if not snapshot.fresh or snapshot.status is None:
        return "the guard is silent"
    if not hearing:
        return "the guard's events cannot be read, or messages not be kept"
    if not delivering:
        return "no channel delivers"
    found = snapshot.status.get("findings")
    for finding in found if isinstance(found, list) else ():
        name = finding.get("name") if isinstance(finding, dict) else None
        if isinstance(name, str) and (name in _DISABLING or name.endswith(_DISABLING_END)):
            return name
    return None


@dataclass(frozen=True, slots=True)
class _Round:
    why_not: str | None
    at_s: float


class HeartbeatSender:
    """Sends heartbeats from a thread of its own.

    Attributes:
        trouble: why the latest one did not go out, or `None`.
    """

    def __init__(
        self, settings: Heartbeat, secrets: Secrets, *, stopwatch: Callable[[], float] = monotonic
    ) -> None:
        """Take what is needed; nothing is sent before `start`."""
        self.trouble: str | None = "none was due yet"
        self._settings, self._secrets, self._stopwatch = settings, secrets, stopwatch
        self._latest: _Round | None = None
        self._first, self._ended = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="heartbeat", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def round(self, why_not: str | None) -> None:
        """Take in what a round found: why none may go out, or `None`."""
        self._latest = _Round(why_not, self._stopwatch())
        self._first.set()

    def end(self, within_s: float) -> None:
        """Send no more."""
        self._ended.set()
        self._first.set()
        self._thread.join(within_s)

    def _run(self) -> None:
        self._first.wait()
        while not self._ended.is_set():
            trouble = self._beat()
            if trouble != self.trouble:
                _LOG.warning("heartbeat: %s", trouble or "it goes out")
            self.trouble = trouble
            every_s = self._settings.every_s
            self._ended.wait(every_s if trouble is None else min(every_s, _AGAIN_AFTER_S))

    def _beat(self) -> str | None:
        """Send one if one may go out; return why it did not, or `None`."""
        latest = self._latest
        if latest is None or self._stopwatch() - latest.at_s > _STALE_S:
            return "the link's own rounds have stopped"
        if latest.why_not is not None:
            return f"held back: {latest.why_not}"
        try:
            return called(self._secrets.one(self._settings.secret), post=self._settings.post)
        except NoSecret as error:
            return str(error)


def called(address: str, *, post: bool, timeout_s: float = _TIMEOUT_S) -> str | None:
    """Call an address; return what went wrong, or `None`.

    Args:
        address: http or https.
        post: POST instead of GET, without content.
        timeout_s: of each wait for the network.
    """
    if not address.startswith(("http://", "https://")):
        return "its address begins with neither http:// nor https://"
    try:
        asked = urllib.request.Request(  # noqa: S310  http or https, see above
            address, data=b"" if post else None, method="POST" if post else "GET"
        )
        with urllib.request.urlopen(asked, timeout=timeout_s) as answer:  # noqa: S310  the same
            answer.read(1024)
    except (OSError, http.client.HTTPException, ValueError) as error:
        reason = getattr(error, "reason", None) or error
        return redacted(f"not delivered: {reason}", address)
    return None
