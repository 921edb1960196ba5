"""Save in the background, so that a dying disk never holds up a tick.

A write to a sick SD card can block for minutes.  The tick hands over the
newest memory and goes on; only the newest one counts.
"""

import threading
from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")


class BackgroundSaver(Generic[T]):
    """One thread that saves the newest item given to it."""

    def __init__(self, save: Callable[[T], None]) -> None:
        """Start with nothing to save; `save` may block and may raise `OSError`."""
        self._save = save
        self._newest: T | None = None
        self._pending = threading.Condition()
        self._stop = False
        self._trouble: str | None = None
        self._thread = threading.Thread(target=self._run, name="saver", daemon=True)
        self._thread.start()

    @property
    def trouble(self) -> str | None:
        """What went wrong with the last save, or `None`; read it as often as you like."""
        return self._trouble

    def hand_over(self, item: T) -> None:
        """Take the newest item; returns at once."""
        with self._pending:
            self._newest = item
            self._pending.notify()

    def finish(self, patience_s: float) -> None:
        """Save what is pending and end, but wait no longer than `patience_s` (stopwatch seconds)."""
        with self._pending:
            self._stop = True
            self._pending.notify()
        self._thread.join(patience_s)

    def _run(self) -> None:
        while True:
            with self._pending:
                while self._newest is None and not self._stop:
                    self._pending.wait()
                item, self._newest = self._newest, None
                if item is None:
                    return
            try:
                self._save(item)
            except OSError as error:
                self._trouble = error.strerror or str(error)
            else:
                self._trouble = None
