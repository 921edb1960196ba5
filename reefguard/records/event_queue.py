"""Events on their way to the disk, and the texts that are kept with them."""

import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from reefguard.records.event_store import EventStore, set_events_aside
from reefguard.records.events import Event
from reefguard.records.writing_queue import WritingQueue

MOST_WAITING: Final = 10_000
_AT_ONCE: Final = 500

# After so many events, and at each start, what is too old goes.
_PRUNE_EVERY: Final = 1_000


class EventQueue(WritingQueue[Event, EventStore]):
    """One thread that writes the events given to it, oldest first."""

    def __init__(self, directory: Path, *, retry_after_s: float, remember: str) -> None:
        """Begin to open the database.

        Args:
            directory: where it is.
            retry_after_s: how long to wait after a failure (stopwatch seconds).
            remember: the name of the text to read back before anything is written.
        """
        self._directory = directory
        self._remember = remember
        self._keep: dict[str, str] = {}
        self._taken: dict[str, str] = {}
        self._left_behind: str | None = None
        self._opened = threading.Event()
        self._since_pruned = _PRUNE_EVERY
        super().__init__("events", retry_after_s=retry_after_s, most_waiting=MOST_WAITING, at_once=_AT_ONCE)

    def left_behind(self, patience_s: float) -> str | None:
        """Return the text that was kept last; `None` if none was, or the disk has not given it by then."""
        self._opened.wait(patience_s)
        return self._left_behind

    def add(self, *events: Event, keep: Mapping[str, str] | None = None) -> None:
        """Take events, and texts to keep by name with them; returns at once."""
        with self._changed:
            self._keep.update(keep or {})
            self._queue(events)

    def _open(self) -> EventStore:
        store = EventStore(self._directory)
        try:
            if not self._opened.is_set():
                self._left_behind = store.remembered(self._remember)
        except BaseException:
            store.close()
            raise
        self._opened.set()
        return store

    def _set_aside(self) -> Path:
        return set_events_aside(self._directory)

    def _write(self, store: EventStore, batch: list[Event]) -> None:
        # Before: what fails after the events are on the disk would have them written twice.
        if self._since_pruned >= _PRUNE_EVERY and not store.prune():
            self._since_pruned = 0
        store.append(batch, self._taken)
        self._since_pruned += len(batch)

    def _waits_more(self) -> bool:
        return bool(self._keep)

    def _take_more(self, *, last: bool) -> None:
        self._taken = dict(self._keep) if last else {}

    def _wrote_more(self) -> None:
        for name, value in self._taken.items():
            if self._keep.get(name) == value:
                del self._keep[name]

    def _failed(self) -> None:
        self._opened.set()
