"""One channel's deliveries, in a thread of its own: a receiver that hangs holds up no other channel."""

import hashlib
import logging
import random
import sqlite3
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from reefguard.link.backoff import given_up, pause_s
from reefguard.link.carrier import Answer, Carrier, Letter
from reefguard.link.message_words import late
from reefguard.link.notes import Now
from reefguard.link.outbox import Outbox, Waiting
from reefguard.link.secrets import NoSecret, Secrets
from reefguard.settings.link_model import Channel

_LOG = logging.getLogger(__name__)

# Apprise gives up by itself well before; this is for what it does not foresee.
DEADLINE_S: Final = 120.0
_MOST_HANGING: Final = 3
_DISK_PAUSE_S: Final = 10.0
# A rehearsal's clock may run faster than the stopwatch that waits.
_LOOK_AGAIN_S: Final = 10.0


@dataclass(frozen=True, slots=True)
class Means:
    """What every channel delivers with.

    Attributes:
        outbox: where messages wait.
        secrets: where addresses are.
        carrier: what carries a letter.
        now: tells the time.
        chance: draws evenly from 0 to 1.
        deadline_s: how long one attempt may take.
    """

    outbox: Outbox
    secrets: Secrets
    carrier: Carrier
    now: Callable[[], Now]
    chance: Callable[[], float] = random.random
    deadline_s: float = DEADLINE_S


class Delivery:
    """Delivers what waits in one channel, oldest first."""

    def __init__(self, channel: Channel, means: Means) -> None:
        """Take what is needed; nothing is sent before `start`."""
        self._channel = channel
        self._means = means
        self._woken, self._ended = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"channel {channel.name}", daemon=True)
        # What was carried, should the disk not take down that it was: it is not carried twice.
        self._carried: dict[int, frozenset[str]] = {}
        self._hanging: list[threading.Thread] = []

    def start(self) -> None:
        """Begin to deliver."""
        self._thread.start()

    def wake(self) -> None:
        """Say that there may be something to deliver."""
        self._woken.set()

    def end(self) -> None:
        """Ask it to end after the attempt it may be in."""
        self._ended.set()
        self._woken.set()

    def join(self, within_s: float) -> None:
        """Wait for its end, not for ever: what hangs ends with the program."""
        self._thread.join(within_s)

    def _run(self) -> None:
        while not self._ended.is_set():
            self._woken.clear()
            try:
                wait_s = self._turn()
            except sqlite3.Error as error:
                _LOG.warning("channel %s: the outbox: %s", self._channel.name, error)
                wait_s = _DISK_PAUSE_S
            if wait_s is None or wait_s > 0.0:
                self._woken.wait(None if wait_s is None else min(wait_s, _LOOK_AGAIN_S))

    def _turn(self) -> float | None:
        """Deliver what is due; return how long there is nothing to do, `None` for until woken."""
        outbox, waiting = self._means.outbox, self._means.outbox.first(self._channel.name)
        if waiting is None:
            return None
        now = self._means.now()
        if waiting.next_s > now.boot_s:
            return waiting.next_s - now.boot_s
        if given_up(now.boot_s - waiting.enqueued_s) and waiting.failures:
            _LOG.error("channel %s: gave up after a week: %s", self._channel.name, waiting.title)
            outbox.give_up(waiting.number, "gave up after a week")
            return 0.0
        answer = self._attempted(waiting, now)
        if answer.taken:
            outbox.delivered(waiting.number, answer.said)
            self._carried.pop(waiting.number, None)
            return 0.0
        failures = waiting.failures + 1
        wait_s = pause_s(failures, self._means.chance())
        if failures in {1, 3} or failures % 10 == 0:
            _LOG.warning(
                "channel %s: not delivered (attempt %d): %s", self._channel.name, failures, answer.said
            )
        taken = self._taken(waiting)
        outbox.failed(
            waiting.number, next_s=self._means.now().boot_s + wait_s, taken=taken, answer=answer.said
        )
        return wait_s

    def _attempted(self, waiting: Waiting, now: Now) -> Answer:
        """Make one attempt, within the deadline."""
        self._hanging = [thread for thread in self._hanging if thread.is_alive()]
        if len(self._hanging) >= _MOST_HANGING:
            return Answer(taken=False, said=f"{_MOST_HANGING} earlier attempts still hang")
        answers: list[Answer] = []
        attempt = threading.Thread(
            target=lambda: answers.append(self._carry(waiting, now)), name="attempt", daemon=True
        )
        attempt.start()
        attempt.join(self._means.deadline_s)
        if answers:
            return answers[0]
        self._hanging.append(attempt)
        return Answer(taken=False, said=f"no answer within {self._means.deadline_s:.0f} s")

    def _carry(self, waiting: Waiting, now: Now) -> Answer:
        """Carry a message to each address that has not taken it yet."""
        try:
            addresses = self._means.secrets.lines(self._channel.secret)
        except NoSecret as error:
            return Answer(taken=False, said=str(error))
        letter = Letter(
            waiting.id, waiting.priority, waiting.title, late(lateness_s(waiting, now)) + waiting.body
        )
        refused = []
        for address in addresses:
            mark = hashlib.sha256(address.encode()).hexdigest()[:16]
            if mark in self._taken(waiting):
                continue
            answer = self._means.carrier.carry(letter, address)
            if answer.taken:
                self._carried[waiting.number] = self._taken(waiting) | {mark}
            else:
                refused.append(answer)
        return refused[0] if refused else Answer(taken=True, said="taken")

    def _taken(self, waiting: Waiting) -> frozenset[str]:
        return waiting.taken | self._carried.get(waiting.number, frozenset())


def lateness_s(waiting: Waiting, now: Now) -> float:
    """Return how late a message is.

    By the wall clock where it can be trusted: that runs on while the power is out.
    """
    before_s = max(0.0, waiting.enqueued_s - waiting.due_s)
    waited_s = now.boot_s - waiting.enqueued_s
    if waiting.clock_trusted and now.trusted:
        since = datetime.fromisoformat(waiting.enqueued_wall)
        waited_s = max(waited_s, (now.local - since) / timedelta(seconds=1))
    return before_s + max(0.0, waited_s)
