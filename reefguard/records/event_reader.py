"""The events database, as others read it."""

import json
from pathlib import Path
from typing import Any

from reefguard.records.database_reader import Unread, opened
from reefguard.records.events import COLUMNS, FILE_NAME, Event, Recorded


class NoEvents(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """The events cannot be read; the message says why."""


class EventReader:
    """Reads the events that the guard has written."""

    def __init__(self, directory: Path) -> None:
        """Take note of the guard's state directory; nothing is opened yet."""
        self._path = directory / FILE_NAME

    def events_after(self, seq: int, limit: int) -> tuple[Recorded, ...]:
        """Return the first `limit` events after the one with `seq`, in order.

        Raises:
            NoEvents: there is no database, or it cannot be read.
        """
        return self._asked("WHERE seq > ? ORDER BY seq LIMIT ?", (seq, limit))

    def history(self, count: int) -> tuple[Recorded, ...]:
        """Return the newest `count` events, the newest last.

        Raises:
            NoEvents: there is no database, or it cannot be read.
        """
        return self._asked("ORDER BY seq DESC LIMIT ?", (count,))[::-1]

    def of_kind(self, kind: str, count: int) -> tuple[Recorded, ...]:
        """Return the newest `count` events of a kind, the newest last.

        Raises:
            NoEvents: there is no database, or it cannot be read.
        """
        return self._asked("WHERE kind = ? ORDER BY seq DESC LIMIT ?", (kind, count))[::-1]

    def between(self, from_s: float, until_s: float) -> tuple[Recorded, ...]:
        """Return the events of a stretch of time by the wall clock, in order of their writing.

        Args:
            from_s: Unix seconds.
            until_s: Unix seconds; an event of that second is not in it.

        Raises:
            NoEvents: there is no database, or it cannot be read.
        """
        # Their times carry offsets: as texts, those of a night with a change of clocks would be out of order.
        at_s = "CAST(strftime('%s', at_wall) AS INTEGER)"
        return self._asked(f"WHERE {at_s} >= ? AND {at_s} < ? ORDER BY seq", (from_s, until_s))

    def last_seq(self) -> int:
        """Return the place of the newest event, 0 where there is none.

        A reader whose own place is higher has another database's: it begins anew.

        Raises:
            NoEvents: there is no database, or it cannot be read.
        """
        newest = self.history(1)
        return newest[0].seq if newest else 0

    def _asked(self, which: str, values: tuple[float | str, ...]) -> tuple[Recorded, ...]:
        try:
            with opened(self._path) as database:
                rows = database.execute(
                    f"SELECT seq, {COLUMNS} FROM events {which}",  # noqa: S608  our own words
                    values,
                ).fetchall()
                return tuple(_recorded(row) for row in rows)
        except Unread as error:
            raise NoEvents(str(error)) from error


def _recorded(row: tuple[Any, ...]) -> Recorded:
    seq, boot_id, at_boot_s, at_wall, trusted, kind, subject, change, priority, what, who, details = row
    return Recorded(
        seq,
        Event(
            boot_id=boot_id,
            at_boot_s=at_boot_s,
            at_wall=at_wall,
            clock_trusted=bool(trusted),
            kind=kind,
            subject=subject,
            change=change,
            what=what,
            priority=priority,
            who=who,
            details=None if details is None else json.loads(details),
        ),
    )
