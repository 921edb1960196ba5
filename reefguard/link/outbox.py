"""What is to be delivered, on disk: at least once, in order per channel.

One SQLite database of the link's own.  How far the guard's events were read,
what the policy remembers and the messages that follow from it are written in one
transaction: a kill at any moment repeats none and loses none.  A message is
gone from here only after its receiver took it, so a kill between the two sends
it once more, under the same id.

Times are those of the boot clock.  After a reboot they are moved onto the new
one as if the machine had only paused: the time it was off counts for nothing.
"""

import json
import sqlite3
import threading
import uuid
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final, NamedTuple

from reefguard.link.notes import Memory, Now, as_text, from_text, shifted
from reefguard.link.policy import Message
from reefguard.records import database
from reefguard.records.events import Event, Recorded

FILE_NAME: Final = "outbox.db"
APPLICATION_ID: Final = 0x52474F42  # "RGOB"
USER_VERSION: Final = 1

_SCHEMA: Final = """
CREATE TABLE kept(name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
CREATE TABLE channels(name TEXT PRIMARY KEY, memory TEXT NOT NULL) STRICT;
CREATE TABLE messages(
 number INTEGER PRIMARY KEY AUTOINCREMENT,
 id TEXT NOT NULL UNIQUE,
 channel TEXT NOT NULL,
 priority INTEGER NOT NULL,
 title TEXT NOT NULL, body TEXT NOT NULL,
 due_s REAL NOT NULL, enqueued_s REAL NOT NULL,
 enqueued_wall TEXT NOT NULL, clock_trusted INTEGER NOT NULL,
 next_s REAL NOT NULL, failures INTEGER NOT NULL DEFAULT 0,
 state TEXT NOT NULL DEFAULT 'waiting',   -- 'waiting' | 'delivered' | 'given up'
 taken TEXT NOT NULL DEFAULT '[]',        -- marks of the addresses that took it already
 answer TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX waiting ON messages(channel, number) WHERE state = 'waiting';
CREATE TABLE told(
 channel TEXT NOT NULL, seq INTEGER NOT NULL, purpose TEXT NOT NULL, message INTEGER NOT NULL,
 PRIMARY KEY(channel, seq, purpose)
) STRICT, WITHOUT ROWID;
"""
# What was settled is kept for a person to look back at.
_KEPT_MESSAGES: Final = 1_000


class Unusable(Exception):  # noqa: N818  it names a condition of the disk, not a bug
    """The outbox is damaged, or not one; the message says why."""


class Waiting(NamedTuple):
    """The first message that waits in a channel."""

    number: int
    id: str
    priority: int
    title: str
    body: str
    due_s: float
    enqueued_s: float
    enqueued_wall: str
    clock_trusted: bool
    next_s: float
    failures: int
    taken: frozenset[str]


class Kept(NamedTuple):
    """What the link knew after its last round.

    Attributes:
        seen: the place of the last event that was taken in; `None` before the first round.
        memories: of each channel that has had a round.
        own: the link's own alarms that stand, by name, each with the event that raised it.
        own_seq: of the latest of the link's own events; they count down.
    """

    seen: int | None = None
    memories: Mapping[str, Memory] = {}
    own: Mapping[str, Recorded] = {}
    own_seq: int = 0


class Outbox:
    """An open outbox; any thread may use it, one at a time."""

    def __init__(self, directory: Path) -> None:
        """Open or create it.

        Raises:
            Unusable: what is there is damaged, or no outbox of this version.
            sqlite3.Error: it cannot be opened now.
        """
        self._lock = threading.Lock()
        self._database = sqlite3.connect(
            directory / FILE_NAME, timeout=database.PATIENCE_S, isolation_level=None, check_same_thread=False
        )
        try:
            self._prepare()
        except sqlite3.DatabaseError as error:
            self._database.close()
            if isinstance(error, sqlite3.OperationalError):
                raise
            raise Unusable(str(error)) from error
        except Unusable:
            self._database.close()
            raise

    def kept(self, now: Now) -> Kept:
        """Return what was known, with all times on this boot's clock."""
        with self._transaction() as database:
            values = dict(database.execute("SELECT name, value FROM kept").fetchall())
            memories = {
                name: from_text(text) for name, text in database.execute("SELECT name, memory FROM channels")
            }
            if values and values["boot_id"] != now.boot_id:
                by_s = now.boot_s - float(values["last_s"])
                memories = {name: shifted(memory, by_s) for name, memory in memories.items()}
                self._put_memories(memories)
                database.execute(
                    "UPDATE messages SET due_s = due_s + ?1, enqueued_s = enqueued_s + ?1, "
                    "next_s = min(next_s + ?1, ?2)",
                    (by_s, now.boot_s),
                )
                self._put({"boot_id": now.boot_id, "last_s": repr(now.boot_s)})
        if not values:
            return Kept()
        own = {name: _recorded(parts) for name, parts in json.loads(values["own"]).items()}
        return Kept(json.loads(values["seen"]), memories, own, json.loads(values["own_seq"]))

    def keep(self, kept: Kept, messages: Mapping[str, Sequence[Message]], now: Now, *, anew: bool) -> int:
        """Keep what a round came to, all of it or nothing.

        Args:
            kept: what is known after it.
            messages: new ones, by channel.
            now: the present.
            anew: the guard's events began anew, so that their places say other things than before.

        Returns:
            How many messages were put in.
        """
        with self._transaction() as database:
            if anew:
                database.execute("DELETE FROM told WHERE seq > 0")
            self._put_memories(kept.memories)
            own = {name: _parts(recorded) for name, recorded in kept.own.items()}
            values = {
                "seen": json.dumps(kept.seen),
                "own": json.dumps(own, ensure_ascii=False),
                "own_seq": json.dumps(kept.own_seq),
            }
            self._put({**values, "boot_id": now.boot_id, "last_s": repr(now.boot_s)})
            put = [
                self._put_message(channel, message, now)
                for channel, several in messages.items()
                for message in several
            ]
            if put:
                self._forget_old()
            return sum(put)

    def first(self, channel: str) -> Waiting | None:
        """Return the message whose turn it is, or `None` when none waits."""
        with self._lock:
            row = self._database.execute(
                "SELECT number, id, priority, title, body, due_s, enqueued_s, enqueued_wall, clock_trusted, "
                "next_s, failures, taken FROM messages WHERE channel = ? AND state = 'waiting' "
                "ORDER BY number LIMIT 1",
                (channel,),
            ).fetchone()
        if row is None:
            return None
        return Waiting._make(row)._replace(clock_trusted=bool(row[8]), taken=frozenset(json.loads(row[-1])))

    def delivered(self, number: int, answer: str) -> None:
        """Note that a message was taken by every receiver of its channel."""
        self._settle(number, "delivered", answer)

    def give_up(self, number: int, answer: str) -> None:
        """Note that a message will not be tried again."""
        self._settle(number, "given up", answer)

    def failed(self, number: int, *, next_s: float, taken: frozenset[str], answer: str) -> None:
        """Note that an attempt failed, and when the next one is due."""
        with self._transaction() as database:
            database.execute(
                "UPDATE messages SET failures = failures + 1, next_s = ?, taken = ?, answer = ? "
                "WHERE number = ? AND state = 'waiting'",
                (next_s, json.dumps(sorted(taken)), answer, number),
            )

    def counts(self) -> dict[str, int]:
        """Return how many messages wait in each channel that has any."""
        with self._lock:
            rows = self._database.execute(
                "SELECT channel, count(*) FROM messages WHERE state = 'waiting' GROUP BY channel"
            )
            return dict(rows.fetchall())

    def close(self) -> None:
        """Let go of it."""
        with self._lock, suppress(sqlite3.Error):
            self._database.close()

    def _settle(self, number: int, state: str, answer: str) -> None:
        with self._transaction() as database:
            database.execute(
                "UPDATE messages SET state = ?, answer = ? WHERE number = ? AND state = 'waiting'",
                (state, answer, number),
            )

    def _put_message(self, channel: str, message: Message, now: Now) -> bool:
        covers = [(channel, seq, purpose) for seq, purpose in message.covers]
        told = [
            self._database.execute(
                "SELECT 1 FROM told WHERE channel = ? AND seq = ? AND purpose = ?", cover
            ).fetchone()
            for cover in covers
        ]
        if all(told):
            return False
        # A new message is a reason to try again at once: the way may be open by now.
        self._database.execute(
            "UPDATE messages SET next_s = min(next_s, ?) WHERE channel = ? AND state = 'waiting'",
            (now.boot_s, channel),
        )
        wall = now.local.isoformat(timespec="seconds")
        number = self._database.execute(
            "INSERT INTO messages(id, channel, priority, title, body, due_s, enqueued_s, enqueued_wall, "
            "clock_trusted, next_s) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                *(uuid.uuid4().hex[:12], channel, message.priority, message.title, message.body),
                *(message.due_s, now.boot_s, wall, int(now.trusted), now.boot_s),
            ),
        ).lastrowid
        self._database.executemany(
            "INSERT OR IGNORE INTO told(channel, seq, purpose, message) VALUES (?, ?, ?, ?)",
            [(*cover, number) for cover in covers],
        )
        return True

    def _forget_old(self) -> None:
        self._database.execute(
            "DELETE FROM messages WHERE state <> 'waiting' AND number <= "
            "(SELECT max(number) FROM messages) - ?",
            (_KEPT_MESSAGES,),
        )
        self._database.execute("DELETE FROM told WHERE message < (SELECT min(number) FROM messages)")

    def _put(self, values: Mapping[str, str]) -> None:
        self._database.executemany(
            "INSERT INTO kept(name, value) VALUES (?, ?) "
            "ON CONFLICT(name) DO UPDATE SET value = excluded.value",
            list(values.items()),
        )

    def _put_memories(self, memories: Mapping[str, Memory]) -> None:
        self._database.execute("DELETE FROM channels")
        self._database.executemany(
            "INSERT INTO channels(name, memory) VALUES (?, ?)",
            [(name, as_text(memory)) for name, memory in memories.items()],
        )

    @contextmanager
    def _transaction(self) -> Iterator[sqlite3.Connection]:
        with self._lock:
            self._database.execute("BEGIN IMMEDIATE")
            try:
                yield self._database
                self._database.execute("COMMIT")
            except BaseException:
                if self._database.in_transaction:
                    self._database.execute("ROLLBACK")
                raise

    def _prepare(self) -> None:
        database = self._database
        tables = database.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
        application = database.execute("PRAGMA application_id").fetchone()[0]
        version = database.execute("PRAGMA user_version").fetchone()[0]
        if tables and (application, version) != (APPLICATION_ID, USER_VERSION):
            message = f"it is no outbox of version {USER_VERSION}"
            raise Unusable(message)
        checked = database.execute("PRAGMA quick_check(1)").fetchone()[0]
        if checked != "ok":
            raise Unusable(checked)
        database.execute("PRAGMA journal_mode=WAL")
        database.execute("PRAGMA synchronous=FULL")
        if not tables:
            database.executescript(
                f"BEGIN; PRAGMA application_id={APPLICATION_ID}; PRAGMA user_version={USER_VERSION}; "
                f"{_SCHEMA} COMMIT;"
            )


def opened(directory: Path) -> tuple[Outbox, str | None]:
    """Open the outbox; one that cannot be used is set aside, and a new one begun.

    Returns:
        The outbox, and what happened to the old one, or `None`.

    Raises:
        OSError: the directory, or what is in it, cannot be changed.
        sqlite3.Error: it cannot be opened now.
    """
    directory.mkdir(parents=True, exist_ok=True)
    try:
        return Outbox(directory), None
    except Unusable as error:
        aside = database.set_aside(directory / FILE_NAME)
        return Outbox(directory), f"the outbox cannot be used ({error}): it is set aside as {aside}"


def _parts(recorded: Recorded) -> list[object]:
    return [recorded.seq, *recorded.event]


def _recorded(parts: Sequence[object]) -> Recorded:
    seq, *event = parts
    return Recorded(seq, Event(*event))  # type: ignore[arg-type]  # as `_parts` wrote them
