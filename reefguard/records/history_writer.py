"""The thread that keeps the history: the guard hands it batches, and never waits for a disk.

While the disk fails batches wait in memory, the newest two hundred of them: a
day and a half.
"""

import threading
from collections import deque
from pathlib import Path
from typing import Final

from reefguard.records import databases
from reefguard.records.databases import Broken
from reefguard.records.gathering import Batch
from reefguard.records.history import FILE_NAME, HOUR_S
from reefguard.records.history_store import HistoryStore

MOST_WAITING: Final = 200


class HistoryWriter:
    """Writes batches in their order, from a thread of its own."""

    def __init__(self, directory: Path, *, retry_after_s: float) -> None:
        """Start the thread.

        Args:
            directory: the guard's state directory.
            retry_after_s: how long after a failure the next attempt is made, stopwatch seconds.
        """
        self._directory, self._retry_after_s = directory, retry_after_s
        self._waiting: deque[Batch] = deque(maxlen=MOST_WAITING)
        self._changed = threading.Condition()
        self._ended = False
        self._trouble: str | None = None
        self._aside: Path | None = None
        self._tidied_s = float("-inf")
        self._thread = threading.Thread(target=self._run, name="history", daemon=True)
        self._thread.start()

    @property
    def trouble(self) -> str | None:
        """Why the latest attempt failed, `None` when it did not."""
        return self._trouble

    def take_damage(self) -> Path | None:
        """Return, once, where a damaged database was put; `None` when there was none."""
        with self._changed:
            aside, self._aside = self._aside, None
        return aside

    def add(self, batch: Batch) -> None:
        """Take a batch; returns at once."""
        with self._changed:
            self._waiting.append(batch)
            self._changed.notify_all()

    def finish(self, patience_s: float) -> None:
        """Write what waits and end, but wait no longer than `patience_s` (stopwatch seconds)."""
        with self._changed:
            self._ended = True
            self._changed.notify_all()
        self._thread.join(patience_s)

    def _run(self) -> None:
        store: HistoryStore | None = None
        while True:
            try:
                if store is None:
                    store = HistoryStore(self._directory)
                    self._trouble = None
                if not self._wrote_next(store):
                    store.close()
                    return
            # Whatever it is, it may be over at the next try; a dead thread would keep nothing more.
            except Exception as error:  # noqa: BLE001  see above
                if store is not None:
                    store.close()
                store = None
                if not self._put_aside(error) and self._rests(error):
                    return

    def _wrote_next(self, store: HistoryStore) -> bool:
        """Wait for a batch and keep it; return `False` when there is none to come."""
        with self._changed:
            while not self._waiting and not self._ended:
                self._changed.wait()
            if not self._waiting:
                return False
            batch = self._waiting[0]
        store.append(batch)
        self._trouble = None
        with self._changed:
            # It may have made way for newer ones meanwhile.
            if self._waiting and self._waiting[0] is batch:
                self._waiting.popleft()
        if not self._ended and abs(batch.at_s - self._tidied_s) >= HOUR_S:
            store.tidy(batch.at_s)
            self._tidied_s = batch.at_s
        return True

    def _put_aside(self, error: Exception) -> bool:
        if not isinstance(error, Broken):
            return False
        try:
            aside = databases.set_aside(self._directory / FILE_NAME)
        except OSError:
            return False
        with self._changed:
            self._aside = aside
        return True

    def _rests(self, error: Exception) -> bool:
        """Wait a while after a failure; return whether to give up because the end has come."""
        self._trouble = (error.strerror if isinstance(error, OSError) else None) or str(error)
        with self._changed:
            if self._ended:
                return True
            # Not `notify`-driven: each new batch would try the sick disk again.
            self._changed.wait_for(lambda: self._ended, self._retry_after_s)
        return False
