"""What happened, as rows of the events database: the contract between the guard and whoever reads them."""

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

FILE_NAME: Final = "events.db"

# "RGEV", for file(1) and for ourselves: a database of somebody else's is left alone.
APPLICATION_ID: Final = 0x52474556

# What makes an empty file version 1 (`user_version`).
SCHEMA: Final = (
    """CREATE TABLE events(
 seq INTEGER PRIMARY KEY AUTOINCREMENT,
 boot_id TEXT NOT NULL, at_boot_s REAL NOT NULL,
 at_wall TEXT NOT NULL, clock_trusted INTEGER NOT NULL,
 kind TEXT NOT NULL,
 subject TEXT NOT NULL,
 change TEXT NOT NULL,
 priority INTEGER,
 what TEXT NOT NULL,
 who TEXT,
 details TEXT
) STRICT""",
    """CREATE TABLE remembered(
 name TEXT PRIMARY KEY,
 value TEXT NOT NULL
) STRICT""",
)

COLUMNS: Final = (
    "boot_id, at_boot_s, at_wall, clock_trusted, kind, subject, change, priority, what, who, details"
)


class Event(NamedTuple):
    """Something that happened.

    Attributes:
        boot_id: the boot whose clock `at_boot_s` is of.
        at_boot_s: when.
        at_wall: the same for people, ISO 8601 with offset.
        clock_trusted: whether the wall clock was known to be right.
        kind: `alarm`, `mode`, `output`, `command` or `guard`.
        subject: the alarm, `mode`, the output, the command, or `guard`.
        change: what became of it, in a word.
        what: a sentence for a person.
        priority: of alarms, 1 to 4, the higher the sooner.
        who: the user name of the person behind it, if there is one.
        details: numbers that belong to it, as JSON values.
    """

    boot_id: str
    at_boot_s: float
    at_wall: str
    clock_trusted: bool
    kind: str
    subject: str
    change: str
    what: str
    priority: int | None = None
    who: str | None = None
    details: Mapping[str, Any] | None = None


class Recorded(NamedTuple):
    """An event as it was read back, with its place: a later one has a higher `seq`."""

    seq: int
    event: Event
