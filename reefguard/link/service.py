"""The link's rounds: read what the guard wrote, decide what is told, keep it, hand it on."""

import logging
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from reefguard.link import hearing, policy, watch
from reefguard.link.carrier import Carrier
from reefguard.link.deliver import Delivery, Means
from reefguard.link.heartbeat import HeartbeatSender, why_not
from reefguard.link.message_words import Voice
from reefguard.link.notes import Memory, Now
from reefguard.link.outbox import Kept, Outbox
from reefguard.link.ports import Outlet, Snapshot
from reefguard.link.secrets import Secrets
from reefguard.records import status_file
from reefguard.records.event_reader import EventReader, NoEvents
from reefguard.records.events import Recorded
from reefguard.settings.link_model import LinkSettings
from reefguard.settings.model import Settings

_LOG = logging.getLogger(__name__)

SCHEMA: Final = "reefguard.link-status/1"
_STATUS_EVERY_S: Final = 10.0
_GOODBYE_WITHIN_S: Final = 3.0


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the link works with.

    Attributes:
        outbox: open.
        carrier: what carries letters.
        now: tells the time.
        outlets: other systems that are shown the tank.
        deadline_s: how long one attempt to deliver may take.
    """

    outbox: Outbox
    carrier: Carrier
    now: Callable[[], Now]
    outlets: Sequence[Outlet] = ()
    deadline_s: float = 120.0


class Link:
    """The link at work with one set of settings."""

    def __init__(self, settings: Settings, link: LinkSettings, around: Surroundings) -> None:
        """Start the deliveries; the first round is the caller's.

        Raises:
            sqlite3.Error: the outbox cannot be read.
        """
        now = around.now()
        self._link, self._around = link, around
        self._voice = Voice(settings.tank, settings.shown_in)
        self._status_path = Path(settings.runtime_directory) / status_file.FILE_NAME
        self._reader = EventReader(Path(settings.state_directory))
        self._kept = around.outbox.kept(now)
        self._fresh_s = self._read_s = now.boot_s
        self._trouble: str | None = None
        self._status_s = now.boot_s - _STATUS_EVERY_S
        secrets = Secrets(Path(link.secrets_directory))
        means = Means(around.outbox, secrets, around.carrier, around.now, deadline_s=around.deadline_s)
        self._deliveries = {channel.name: Delivery(channel, means) for channel in link.channels}
        self._heartbeat = None if link.heartbeat is None else HeartbeatSender(link.heartbeat, secrets)
        for delivery in self._deliveries.values():
            delivery.start()
        if self._heartbeat is not None:
            self._heartbeat.start()

    def round(self) -> str:
        """Make one round; return how things stand, in a sentence.

        Trouble with a disk is told, not raised.
        """
        now = self._around.now()
        seen = hearing.snapshot(self._status_path, now, self._link.guard_silent_after_s)
        if seen.fresh:
            self._fresh_s = now.boot_s
        unreadable: str | None = None
        news: tuple[Recorded, ...] = ()
        try:
            news = self._take_in(seen, now)
        except NoEvents as error:
            unreadable = str(error)
        except sqlite3.Error as error:
            unreadable = f"the outbox cannot be written: {error}"
        if unreadable is None:
            self._read_s = now.boot_s
        self._note(unreadable)
        if unreadable is not None:
            with suppress(sqlite3.Error):
                self._keep((), seen, now, unreadable=unreadable)
        self._hand_on(seen, news, now)
        return self._said(seen)

    def close(self) -> None:
        """End the deliveries after the attempts they are in, and say goodbye everywhere."""
        for delivery in self._deliveries.values():
            delivery.end()
        if self._heartbeat is not None:
            self._heartbeat.end(_GOODBYE_WITHIN_S)
        for outlet in self._around.outlets:
            outlet.close()
        for delivery in self._deliveries.values():
            delivery.join(_GOODBYE_WITHIN_S)
        status_file.remove(Path(self._link.runtime_directory))

    def _take_in(self, seen: Snapshot, now: Now) -> tuple[Recorded, ...]:
        """Read the guard's events, and keep what follows; return them."""
        place = self._kept.seen
        if place is None:
            self._keep((), seen, now, place=self._reader.last_seq())
            return ()
        events, anew = hearing.events_since(self._reader, place)
        self._keep(events, seen, now, place=events[-1].seq if events else place, anew=anew)
        return events

    def _keep(
        self,
        events: tuple[Recorded, ...],
        seen: Snapshot,
        now: Now,
        *,
        place: int | None = None,
        anew: bool = False,
        unreadable: str | None = None,
    ) -> None:
        """Decide what follows from events and time, and keep it in one transaction."""
        own = self._own_events(seen, now, unreadable)
        memories: dict[str, Memory] = {}
        messages: dict[str, tuple[policy.Message, ...]] = {}
        waiting = self._around.outbox.counts()
        for channel in self._link.channels:
            known = self._kept.memories.get(channel.name)
            memory = known or Memory()
            before = () if known else tuple(self._kept.own.values())
            if not memory.caught_up and not unreadable:
                before += self._past(events, place)
                memory = memory._replace(caught_up=True)
            memories[channel.name], messages[channel.name] = policy.step(
                memory,
                (*before, *events, *own),
                now=now,
                channel=channel,
                voice=self._voice,
                unacknowledged=hearing.unacknowledged(seen),
                backlog=channel.name in waiting,
            )
        kept = Kept(
            seen=self._kept.seen if place is None else place,
            memories=memories,
            own=watch.after(self._kept.own, own),
            own_seq=self._kept.own_seq - len(own),
        )
        if kept != self._kept or anew:
            self._around.outbox.keep(kept, messages, now, anew=anew)
            self._kept = kept
            for name, sent in messages.items():
                if sent:
                    self._deliveries[name].wake()

    def _past(self, events: Sequence[Recorded], place: int | None) -> tuple[Recorded, ...]:
        """Return what a channel that is new must know of the past: the alarms that stand."""
        until = events[0].seq - 1 if events else place
        return () if until is None else policy.still_standing(hearing.history(self._reader, until))

    def _own_events(self, seen: Snapshot, now: Now, unreadable: str | None) -> tuple[Recorded, ...]:
        heads = {name: self._around.outbox.first(name) for name in self._deliveries}
        sight = watch.Seen(
            snapshot=seen,
            fresh_s=self._fresh_s,
            silent_after_s=self._link.guard_silent_after_s,
            unreadable=unreadable,
            read_s=self._read_s,
            heads=heads,
            standing=frozenset(self._kept.own),
        )
        wrong = watch.conditions(sight, now.boot_s)
        return watch.events(self._kept.own, wrong, now, self._kept.own_seq)

    def _hand_on(self, seen: Snapshot, news: tuple[Recorded, ...], now: Now) -> None:
        shown = Snapshot(seen.status, seen.fresh, seen.age_s, news)
        for outlet in self._around.outlets:
            outlet.publish(shown)
        if self._heartbeat is not None:
            failing = {name for name in self._kept.own if name.startswith("delivery to ")}
            delivering = not self._deliveries or len(failing) < len(self._deliveries)
            self._heartbeat.round(why_not(seen, hearing=self._trouble is None, delivering=delivering))
        if now.boot_s - self._status_s >= _STATUS_EVERY_S:
            self._status_s = now.boot_s
            self._write_status(seen, now)

    def _write_status(self, seen: Snapshot, now: Now) -> None:
        with suppress(OSError, sqlite3.Error):
            waiting = self._around.outbox.counts()
            status: Mapping[str, object] = {
                "schema": SCHEMA,
                "boot_id": now.boot_id,
                "written_s": round(now.boot_s, 3),
                "guard_fresh": seen.fresh,
                "trouble": self._trouble,
                "heartbeat": None if self._heartbeat is None else {"trouble": self._heartbeat.trouble},
                "channels": {name: {"waiting": waiting.get(name, 0)} for name in self._deliveries},
                "alarms": sorted(self._kept.own),
            }
            status_file.write(Path(self._link.runtime_directory), status)

    def _note(self, trouble: str | None) -> None:
        """Say trouble once, and once that it is over."""
        if (trouble is None) is not (self._trouble is None):
            _LOG.warning("%s", trouble or "over: the events are read and kept again")
        self._trouble = trouble

    def _said(self, seen: Snapshot) -> str:
        if self._trouble is not None:
            return self._trouble
        if self._kept.own:
            return "; ".join(sorted(self._kept.own))
        return "the guard is fresh; all that is to be told is told" if seen.fresh else "waiting for the guard"
