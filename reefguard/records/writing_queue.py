"""Things on their way to a database: in order, in the background, so that a dying disk never holds up a tick.

While the disk fails they wait in memory, the newest of them, and are written
once it is back; what had to be dropped is counted, and told.
"""

import threading
from abc import ABC, abstractmethod
from collections import deque
from pathlib import Path
from typing import Final, Generic, Protocol, TypeVar

from reefguard.records.database import Broken


class Closable(Protocol):
    """An open store."""

    def close(self) -> None:
        """Let go of it."""
        ...


Item = TypeVar("Item")
Store = TypeVar("Store", bound=Closable)


class WritingQueue(ABC, Generic[Item, Store]):
    """One thread that writes the items given to it, oldest first.

    Attributes:
        _changed: held while what waits is looked at or changed.
    """

    def __init__(self, name: str, *, retry_after_s: float, most_waiting: int, at_once: int) -> None:
        """Begin to open the store; a subclass is ready for that before it calls this.

        Args:
            name: of the thread.
            retry_after_s: how long to wait after a failure (stopwatch seconds).
            most_waiting: how many items memory may hold.
            at_once: how many are written in one go.
        """
        self._retry_after_s: Final = retry_after_s
        self._most_waiting: Final = most_waiting
        self._at_once: Final = at_once
        self._changed = threading.Condition()
        self._waiting: deque[Item] = deque(maxlen=most_waiting)
        self._stop = False
        self._dropped = 0
        self._trouble: str | None = None
        self._damage: tuple[Path, str] | None = None
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)
        self._thread.start()

    @property
    def trouble(self) -> str | None:
        """Why nothing can be written now, or `None`."""
        return self._trouble

    @property
    def dropped(self) -> int:
        """How many items were given up since the start because too many waited."""
        return self._dropped

    def add(self, *items: Item) -> None:
        """Take items; returns at once."""
        with self._changed:
            self._queue(items)

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

    # What a subclass says.

    @abstractmethod
    def _open(self) -> Store:
        """Open the store; may raise anything."""

    @abstractmethod
    def _set_aside(self) -> Path:
        """Put a damaged store out of the way; return where to.

        Raises:
            OSError: it could not be moved.
        """

    @abstractmethod
    def _write(self, store: Store, batch: list[Item]) -> None:
        """Write them, or raise anything and write none."""

    def _waits_more(self) -> bool:
        """Return whether there is something to write beside the items; `_changed` is held."""
        return False

    def _take_more(self, *, last: bool) -> None:
        """Take what is to be written beside the items, the last of them or not; `_changed` is held."""

    def _wrote_more(self) -> None:
        """Forget what was taken, for it is written; `_changed` is held."""

    def _failed(self) -> None:
        """Take note of a failure."""

    def _queue(self, items: tuple[Item, ...]) -> None:
        for item in items:
            self._dropped += len(self._waiting) == self._most_waiting
            self._waiting.append(item)
        self._changed.notify_all()

    def _run(self) -> None:
        store: Store | None = None
        while True:
            is_last_try = self._stop
            try:
                if store is None:
                    store = self._open()
                    self._trouble = None
                if not self._wrote_next(store):
                    store.close()
                    return
                self._trouble = None
            # Whatever it is, it may be over at the next try; a dead thread would write nothing more.
            except Exception as error:  # noqa: BLE001  see above
                if store is not None:
                    store.close()
                store = None
                if not self._put_aside(error):
                    self._rests(error)
                    # A try that began before the end was asked for is followed by one more.
                    if is_last_try:
                        return

    def _put_aside(self, error: Exception) -> bool:
        """Put a database that is damaged out of the way; return whether that is so, and done."""
        if not isinstance(error, Broken):
            return False
        try:
            aside = self._set_aside()
        except OSError:
            return False
        with self._changed:
            self._damage = (aside, str(error))
        return True

    def _wrote_next(self, store: Store) -> bool:
        """Wait for something to write and write it; return `False` when there is no more to come."""
        with self._changed:
            while not self._waiting and not self._waits_more() and not self._stop:
                self._changed.wait()
            if not self._waiting and not self._waits_more():
                return False
            batch = [self._waiting[place] for place in range(min(len(self._waiting), self._at_once))]
            self._take_more(last=len(batch) == len(self._waiting))
            dropped_before = self._dropped
        self._write(store, batch)
        with self._changed:
            # What was dropped meanwhile was the oldest: part of what is now on the disk.
            dropped = self._dropped - dropped_before
            rescued = min(dropped, len(batch))
            self._dropped -= rescued
            for _ in range(len(batch) - rescued):
                self._waiting.popleft()
            self._wrote_more()
        return True

    def _rests(self, error: Exception) -> None:
        """Wait a while after a failure, unless the end has come."""
        self._trouble = (error.strerror if isinstance(error, OSError) else None) or str(error)
        self._failed()
        with self._changed:
            # Not `notify`-driven: each new item would try the sick disk again.
            self._changed.wait_for(lambda: self._stop, self._retry_after_s)
