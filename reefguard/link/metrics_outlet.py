"""Metrics where a monitoring system finds them: a text file, a port on this machine, or both."""

import logging
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Final

from prometheus_client import CollectorRegistry, generate_latest, start_http_server
from prometheus_client.core import Metric
from prometheus_client.registry import Collector

from reefguard.link.metrics import metrics
from reefguard.link.ports import Snapshot
from reefguard.records.files import replace_file
from reefguard.settings.link_model import Metrics

if TYPE_CHECKING:
    import threading
    from wsgiref.simple_server import WSGIServer

_LOG = logging.getLogger(__name__)

_LOOPBACK: Final = "127.0.0.1"
# As often as collectors look, and no oftener: the file may be on a card.
_EVERY_S: Final = 15.0


class _Latest(Collector):
    """Says what the latest snapshot says, whenever it is asked."""

    def __init__(self, tank: str, version: str) -> None:
        self.snapshot = Snapshot(None, fresh=False, age_s=None)
        self._tank, self._version = tank, version

    def collect(self) -> Iterator[Metric]:
        return metrics(self.snapshot, self._tank, self._version)


class MetricsOutlet:
    """Shows the tank as metrics.

    A file that cannot be written and a port that is taken are tried again and again.
    """

    def __init__(
        self,
        settings: Metrics,
        tank: str,
        version: str,
        *,
        stopwatch: Callable[[], float] = time.monotonic,
    ) -> None:
        """Take what is needed; the first snapshot opens the port."""
        self._port, self._troubles = settings.port, dict[Path | int, str]()
        self._served: tuple[WSGIServer, threading.Thread] | None = None
        self._file = None if settings.textfile is None else Path(settings.textfile)
        self._stopwatch = stopwatch
        self._latest = _Latest(tank, version)
        self._registry = CollectorRegistry()
        self._registry.register(self._latest)
        self._shown_s = stopwatch() - _EVERY_S

    def publish(self, snapshot: Snapshot) -> None:
        """Show a snapshot."""
        self._latest.snapshot = snapshot
        now_s = self._stopwatch()
        if now_s - self._shown_s < _EVERY_S:
            return
        self._shown_s = now_s
        if self._file is not None:
            self._write(self._file)
        if self._port is not None and self._served is None:
            self._open(self._port)

    def close(self) -> None:
        """Close the port and take the file away: a link that has ended knows nothing of the tank."""
        if self._served is not None:
            server, thread = self._served
            server.shutdown()
            server.server_close()
            thread.join()
        if self._file is not None:
            try:
                self._file.unlink(missing_ok=True)
            except OSError as error:
                _LOG.warning("%s cannot be removed: %s", self._file, error.strerror)

    @property
    def trouble(self) -> str | None:
        """Why not all is shown at the moment, or `None`."""
        return "; ".join(self._troubles.values()) or None

    def _write(self, path: Path) -> None:
        try:
            replace_file(path, generate_latest(self._registry), durable=False)
        except OSError as error:
            self._note(path, f"{path} cannot be written: {error.strerror}")
        else:
            self._note(path, None)

    def _open(self, port: int) -> None:
        try:
            self._served = start_http_server(port, addr=_LOOPBACK, registry=self._registry)
        except OSError as error:
            self._note(port, f"{_LOOPBACK}:{port} cannot be opened: {error.strerror}")
        else:
            self._note(port, None)

    def _note(self, of: Path | int, trouble: str | None) -> None:
        if trouble is None:
            self._troubles.pop(of, None)
        elif trouble != self._troubles.get(of):
            self._troubles[of] = trouble
            _LOG.warning("metrics not shown: %s", trouble)
