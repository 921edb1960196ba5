"""The events database, as its one writer sees it.

`synchronous=FULL`: what `append` returned from has reached the disk.  It does
not grow for ever: see `prune`.
"""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final, NamedTuple

from reefguard.records.database import Database, Kind, as_text, highest_set_aside, set_aside
from reefguard.records.events import APPLICATION_ID, COLUMNS, FILE_NAME, SCHEMA, Event

KIND: Final = Kind("events", FILE_NAME, APPLICATION_ID, (SCHEMA,), "FULL")

# A new database counts on from far above the one set aside before it, so that no reader's place lies ahead.
SEQ_STEP: Final = 1_000_000_000_000

_INSERT: Final = f"INSERT INTO events({COLUMNS}) VALUES ({', '.join('?' * 11)})"  # noqa: S608  our own columns


class Keep(NamedTuple):
    """How long events of some kinds are kept.

    Attributes:
        kinds: of events.
        years: older ones go, by the newest event's wall clock.
        most: when there are more, the oldest go.
        least: so many stay whatever a wall clock says, for it may have been wrong.
    """

    kinds: tuple[str, ...]
    years: int
    most: int
    least: int


# What a person or an insurer asks for years later, and what only explains a day.
KEPT: Final = (
    Keep(("alarm", "command", "guard"), years=5, most=50_000, least=10_000),
    Keep(("output", "mode"), years=2, most=50_000, least=10_000),
)

# An outbreak of deletions would hold up an alarm on its way to the disk.
_MOST_PRUNED: Final = 500


class EventStore:
    """An open events database.  Used from one thread."""

    def __init__(self, directory: Path) -> None:
        """Open or create it.  Everything here may block as long as the disk does.

        Raises:
            Broken: what is there is damaged, or no events database of this version.
            sqlite3.Error: it cannot be opened now.
        """
        self._database = Database(directory, KIND)
        try:
            first = SEQ_STEP * highest_set_aside(directory / FILE_NAME)
            with self._database.reading() as sql:
                counted = sql.execute("SELECT count(*) FROM sqlite_sequence WHERE name = 'events'").fetchone()
            if not counted[0]:
                with self._database.transaction() as sql:
                    sql.execute("INSERT INTO sqlite_sequence(name, seq) VALUES ('events', ?)", (first,))
        except BaseException:
            self._database.close()
            raise

    def append(self, events: Sequence[Event], remembered: Mapping[str, str] | None = None) -> None:
        """Add events in their order, and keep texts by name: all of it or none.

        Raises:
            Broken: the database turned out to be damaged.
            sqlite3.Error: it could not be written; nothing of it was.
        """
        with self._database.transaction() as sql:
            sql.executemany(_INSERT, [_row(event) for event in events])
            sql.executemany(
                "INSERT INTO remembered(name, value) VALUES (?, ?) "
                "ON CONFLICT(name) DO UPDATE SET value = excluded.value",
                [(name, as_text(value)) for name, value in (remembered or {}).items()],
            )

    def remembered(self, name: str) -> str | None:
        """Return the text kept under a name, or `None`.

        Raises:
            Broken: the database is damaged.
            sqlite3.Error: it could not be read.
        """
        with self._database.reading() as sql:
            row = sql.execute("SELECT value FROM remembered WHERE name = ?", (name,)).fetchone()
        return None if row is None else str(row[0])

    def prune(self, kept: Sequence[Keep] | None = None) -> int:
        """Delete some of what is too old or too much, the oldest first; return how many events went.

        Raises:
            Broken: the database turned out to be damaged.
            sqlite3.Error: it could not be written; nothing went.
        """
        gone = 0
        with self._database.transaction() as sql:
            newest = sql.execute("SELECT at_wall FROM events ORDER BY seq DESC LIMIT 1").fetchone()
            for keep in KEPT if kept is None else kept:
                marks = ", ".join("?" * len(keep.kinds))
                place = f"SELECT seq FROM events WHERE kind IN ({marks}) ORDER BY seq DESC LIMIT 1 OFFSET ?"  # noqa: S608  marks
                too_much = sql.execute(place, (*keep.kinds, keep.most)).fetchone()
                may_go = sql.execute(place, (*keep.kinds, keep.least)).fetchone()
                if may_go is None:
                    continue
                # ISO 8601 sorts as text; that offsets differ does not matter after years.
                oldest = f"{int(newest[0][:4]) - keep.years:04d}{newest[0][4:]}"
                gone += sql.execute(
                    f"DELETE FROM events WHERE seq IN (SELECT seq FROM events WHERE kind IN ({marks}) "  # noqa: S608  marks
                    "AND seq <= ? AND (seq <= ? OR at_wall < ?) ORDER BY seq LIMIT ?)",
                    (*keep.kinds, may_go[0], too_much[0] if too_much else -1, oldest, _MOST_PRUNED),
                ).rowcount
        return gone

    def close(self) -> None:
        """Let go of it, as well as can be."""
        self._database.close()


def set_events_aside(directory: Path) -> Path:
    """Move a damaged database out of the way; return where to.

    Raises:
        OSError: it could not be moved.
    """
    return set_aside(directory / FILE_NAME)


def _row(event: Event) -> tuple[object, ...]:
    details = None if event.details is None else json.dumps(event.details, ensure_ascii=False)
    return (
        event.boot_id,
        event.at_boot_s,
        event.at_wall,
        int(event.clock_trusted),
        event.kind,
        as_text(event.subject),
        event.change,
        event.priority,
        as_text(event.what),
        as_text(event.who),
        as_text(details),
    )
