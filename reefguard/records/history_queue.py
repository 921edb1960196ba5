"""Minutes on their way to the history: handed over in batches, written in the background."""

from pathlib import Path
from typing import Final

from reefguard.records.history import Minute
from reefguard.records.history_store import HistoryStore, set_history_aside
from reefguard.records.writing_queue import WritingQueue

# A day and a half.
MOST_WAITING: Final = 2_160
# A day that was held until the clock was known must not come in one transaction.
_AT_ONCE: Final = 60


class HistoryQueue(WritingQueue[Minute, HistoryStore]):
    """One thread that writes the minutes given to it, oldest first."""

    def __init__(self, directory: Path, *, retry_after_s: float) -> None:
        """Begin to open the database.

        Args:
            directory: where it is.
            retry_after_s: how long to wait after a failure (stopwatch seconds).
        """
        self._directory = directory
        super().__init__("history", retry_after_s=retry_after_s, most_waiting=MOST_WAITING, at_once=_AT_ONCE)

    def _open(self) -> HistoryStore:
        return HistoryStore(self._directory)

    def _set_aside(self) -> Path:
        return set_history_aside(self._directory)

    def _write(self, store: HistoryStore, batch: list[Minute]) -> None:
        # Before: what fails after the minutes are written would have them written again, and refused.
        store.tidy()
        store.write(batch)
