"""Events on their way to the disk: in order, in the background, so that a dying disk never holds up a tick.

While the disk fails they wait in memory, the newest ten thousand of them, and
are written once it is back; what had to be dropped is counted, and told.
"""

import threading
from collections import deque
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from reefguard.records.databases import Broken
from reefguard.records.event_store import EventStore, set_aside
from reefguard.records.events import Event

MOST_WAITING: Final = 10_000
_AT_ONCE: Final = 500


class EventQueue:
    """One thread that writes the events given to it, oldest first."""

    def __init__(self, directory: Path, *, retry_after_s: float, remember: str) -> None:
        """Begin to open the database.

        Args:
            directory: where it is.
            retry_after_s: how long to wait after a failure (stopwatch seconds).
            remember: the name of the text to read back before anything is written.
        """
        self._directory = directory
        self._retry_after_s = retry_after_s
        self._remember = remember
        self._changed = threading.Condition()
        self._waiting: deque[Event] = deque(maxlen=MOST_WAITING)
        self._keep: dict[str, str] = {}
        self._left_behind: str | None = None
        self._opened = threading.Event()
        self._stop = False
        self._dropped = 0
        self._trouble: str | None = None
        self._damage: tuple[Path, str] | None = None
        self._thread = threading.Thread(target=self._run, name="events", daemon=True)
        self._thread.start()

    @property
    def trouble(self) -> str | None:
        """Why events cannot be written now, or `None`."""
        return self._trouble

    @property
    def dropped(self) -> int:
        """How many events were given up since the start because too many waited."""
        return self._dropped

    def left_behind(self, patience_s: float) -> str | None:
        """Return the text that was kept last; `None` if none was, or the disk has not given it by then."""
        self._opened.wait(patience_s)
        return self._left_behind

    def add(self, *events: Event, keep: Mapping[str, str] | None = None) -> None:
        """Take events, and texts to keep by name with them; returns at once."""
        with self._changed:
            for event in events:
                self._dropped += len(self._waiting) == MOST_WAITING
                self._waiting.append(event)
            self._keep.update(keep or {})
            self._changed.notify_all()

    def finish(self, patience_s: float) -> None:
        """Write what waits and end, but wait no longer than `patience_s` (stopwatch seconds)."""
        with self._changed:
            self._stop = True
            self._changed.notify_all()
        self._thread.join(patience_s)

    def take_damage(self) -> tuple[Path, str] | None:
        """Return, once, where a damaged database was put, and what was wrong with it."""
        with self._changed:
            found, self._damage = self._damage, None
        return found

    def _run(self) -> None:
        store: EventStore | None = None
        while True:
            try:
                if store is None:
                    store = self._open()
                if not self._wrote_next(store):
                    store.close()
                    return
                self._trouble = None
            # Whatever it is, it may be over at the next try; a dead thread would write no event more.
            except Exception as error:  # noqa: BLE001  see above
                if store is not None:
                    store.close()
                store = None
                if not self._put_aside(error) and self._rests(error):
                    return

    def _open(self) -> EventStore:
        store = EventStore(self._directory)
        try:
            if not self._opened.is_set():
                self._left_behind = store.remembered(self._remember)
        except BaseException:
            store.close()
            raise
        self._opened.set()
        self._trouble = None
        return store

    def _put_aside(self, error: Exception) -> bool:
        """Put a database that is damaged out of the way; return whether that is so, and done."""
        if not isinstance(error, Broken):
            return False
        try:
            aside = set_aside(self._directory)
        except OSError:
            return False
        with self._changed:
            self._damage = (aside, str(error))
        return True

    def _wrote_next(self, store: EventStore) -> bool:
        """Wait for something to write and write it; return `False` when there is no more to come."""
        with self._changed:
            while not self._waiting and not self._keep and not self._stop:
                self._changed.wait()
            batch = [self._waiting[place] for place in range(min(len(self._waiting), _AT_ONCE))]
            keep = dict(self._keep) if len(batch) == len(self._waiting) else {}
            dropped_before = self._dropped
        if not batch and not keep:
            return False
        store.append(batch, keep)
        with self._changed:
            # What was dropped meanwhile was the oldest: part of what is now on the disk.
            dropped = self._dropped - dropped_before
            rescued = min(dropped, len(batch))
            self._dropped -= rescued
            for _ in range(len(batch) - rescued):
                self._waiting.popleft()
            for name, value in keep.items():
                if self._keep.get(name) == value:
                    del self._keep[name]
        return True

    def _rests(self, error: Exception) -> bool:
        """Wait a while after a failure; return whether to give up because the end has come."""
        self._trouble = (error.strerror if isinstance(error, OSError) else None) or str(error)
        self._opened.set()
        with self._changed:
            if self._stop:
                return True
            # Not `notify`-driven: each new event would try the sick disk again.
            self._changed.wait_for(lambda: self._stop, self._retry_after_s)
        return False
