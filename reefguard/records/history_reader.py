"""The history database, as others read it: while the guard writes, after its end, after it was killed."""

from pathlib import Path

from reefguard.records.history import DayTotals, Past


class NoHistory(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """The history cannot be read; the message says why."""


class HistoryReader:
    """Reads the history that the guard has written."""

    def __init__(self, directory: Path) -> None:
        """Take note of the guard's state directory; nothing is opened yet."""
        self._directory = directory

    def past(self, from_s: float, until_s: float, most_spans: int) -> Past:
        """Return a stretch of time, as finely as `most_spans` a series allow and as it is still kept.

        Raises:
            NoHistory: there is no database, or it cannot be read.
        """
        raise NotImplementedError

    def days(self, first: str, last: str) -> tuple[DayTotals, ...]:
        """Return the totals of the local days from `first` to `last`, both included (ISO 8601).

        Raises:
            NoHistory: there is no database, or it cannot be read.
        """
        raise NotImplementedError
