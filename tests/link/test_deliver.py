"""At least once, in order; a receiver that hangs holds up no other channel."""

import logging
import sqlite3
import threading
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from link_rig import NOON, now_at, wait_for

from reefguard.link.carrier import Answer, Letter
from reefguard.link.deliver import Delivery, Means, lateness_s
from reefguard.link.notes import Memory, Now
from reefguard.link.outbox import Kept, Outbox, Waiting, opened
from reefguard.link.policy import Message
from reefguard.link.secrets import Secrets
from reefguard.settings.link_model import Channel


class Carried:
    """A carrier that remembers, and answers as it is told."""

    def __init__(self, answer: Callable[[str], Answer]) -> None:
        self.letters: list[tuple[str, str]] = []
        self.answer = answer

    def carry(self, letter: Letter, address: str) -> Answer:
        self.letters.append((letter.title, address))
        return self.answer(address)


class Bed:
    """An outbox, secrets, and a clock that a test moves."""

    def __init__(self, directory: Path) -> None:
        self.outbox, _ = opened(directory / "state")
        self.secrets = directory / "secrets"
        self.secrets.mkdir()
        self.now: Now = now_at(0.0)
        self.deliveries: list[Delivery] = []
        self._seq = 0

    def secret(self, name: str, text: str) -> None:
        (self.secrets / name).write_text(text, encoding="utf-8")
        (self.secrets / name).chmod(0o600)

    def put(self, channel: str, count: int = 1) -> None:
        messages = []
        for _ in range(count):
            self._seq += 1
            messages.append(Message(((self._seq, "raised"),), 3, f"m{self._seq}", "body", self.now.boot_s))
        self.outbox.keep(Kept(self._seq, {channel: Memory()}), {channel: messages}, self.now, anew=False)

    def deliver(self, channel: str, carrier: Carried, deadline_s: float = 60.0) -> Delivery:
        means = Means(
            self.outbox, Secrets(self.secrets, {}), carrier, lambda: self.now, lambda: 0.5, deadline_s
        )
        delivery = Delivery(Channel(channel, channel), means)
        self.deliveries.append(delivery)
        delivery.start()
        return delivery


@pytest.fixture(name="bed")
def _bed(tmp_path: Path) -> Iterator[Bed]:
    bed = Bed(tmp_path)
    yield bed
    for delivery in bed.deliveries:
        delivery.end()
        delivery.join(30.0)
    bed.outbox.close()


def takes(_: str) -> Answer:
    return Answer(taken=True, said="taken")


def refuses(_: str) -> Answer:
    return Answer(taken=False, said="not now")


def test_all_that_waits_is_delivered_in_order(bed: Bed) -> None:
    bed.secret("mail", "# to the keeper\njson://one\n")
    carrier = Carried(takes)
    bed.put("mail", 5)
    bed.deliver("mail", carrier)
    wait_for(lambda: not bed.outbox.counts(), "the deliveries")
    assert [title for title, _ in carrier.letters] == ["m1", "m2", "m3", "m4", "m5"]


def test_a_failed_delivery_is_tried_again_after_its_pause_and_holds_up_what_follows(bed: Bed) -> None:
    bed.secret("mail", "json://one\n")
    carrier = Carried(refuses)
    bed.put("mail", 2)
    delivery = bed.deliver("mail", carrier)
    wait_for(lambda: _head(bed.outbox).failures == 1, "the first failure")
    assert _head(bed.outbox).next_s == 10.0
    carrier.answer = takes
    delivery.wake()
    bed.now = now_at(10.0)
    delivery.wake()
    wait_for(lambda: not bed.outbox.counts(), "the deliveries")
    assert [title for title, _ in carrier.letters] == ["m1", "m1", "m2"]


def test_an_address_that_took_it_is_not_sent_it_again_with_the_one_that_did_not(bed: Bed) -> None:
    bed.secret("mail", "json://one\njson://two\n")
    carrier = Carried(lambda address: Answer(taken=address == "json://one", said="x"))
    bed.put("mail")
    delivery = bed.deliver("mail", carrier)
    wait_for(lambda: _head(bed.outbox).failures == 1, "the first failure")
    carrier.answer = takes
    bed.now = now_at(60.0)
    delivery.wake()
    wait_for(lambda: not bed.outbox.counts(), "the delivery")
    assert [address for _, address in carrier.letters] == ["json://one", "json://two", "json://two"]


def test_one_that_hangs_holds_up_no_other_and_is_tried_again(bed: Bed) -> None:
    bed.secret("mail", "json://one\n")
    bed.secret("phone", "json://two\n")
    release = threading.Event()

    def hangs(_: str) -> Answer:
        release.wait()
        return Answer(taken=True, said="at last")

    stuck, well = Carried(hangs), Carried(takes)
    bed.put("mail")
    bed.deliver("mail", stuck, deadline_s=0.05)
    wait_for(lambda: _head(bed.outbox).failures == 1, "the deadline")
    bed.put("phone", 3)
    bed.deliver("phone", well)
    wait_for(lambda: set(bed.outbox.counts()) == {"mail"}, "the other channel")
    # What comes through in the end is not sent once more.
    release.set()
    wait_for(lambda: bool(bed.deliveries[0]._carried), "the late answer")
    bed.now = now_at(60.0)
    bed.deliveries[0].wake()
    wait_for(lambda: not bed.outbox.counts(), "the settlement")
    assert len(stuck.letters) == 1


def test_a_disk_that_does_not_take_down_a_delivery_sends_nothing_twice(
    bed: Bed, monkeypatch: pytest.MonkeyPatch
) -> None:
    bed.secret("mail", "json://one\n")
    carrier = Carried(takes)
    failures: list[int] = []
    settle = bed.outbox.delivered

    def fails_twice(number: int, answer: str) -> None:
        if len(failures) < 2:
            failures.append(number)
            raise sqlite3.OperationalError("database or disk is full")
        settle(number, answer)

    monkeypatch.setattr(bed.outbox, "delivered", fails_twice)
    bed.put("mail")
    delivery = bed.deliver("mail", carrier)
    for count in (1, 2):
        wait_for(lambda count=count: len(failures) == count, "the failure")  # type: ignore[misc]  # bound at once
        delivery.wake()
    wait_for(lambda: not bed.outbox.counts(), "the settlement")
    assert len(carrier.letters) == 1


def test_after_a_week_it_is_given_up_with_a_line_in_the_log(
    bed: Bed, caplog: pytest.LogCaptureFixture
) -> None:
    bed.secret("mail", "json://one\n")
    carrier = Carried(refuses)
    bed.put("mail")
    delivery = bed.deliver("mail", carrier)
    wait_for(lambda: _head(bed.outbox).failures == 1, "the first failure")
    with caplog.at_level(logging.ERROR):
        bed.now = now_at(7 * 86_400.0)
        delivery.wake()
        wait_for(lambda: not bed.outbox.counts(), "the end")
    assert "channel mail: gave up after a week: m1" in caplog.text
    assert len(carrier.letters) == 1


def test_a_week_without_power_is_no_attempt(bed: Bed) -> None:
    bed.secret("mail", "json://one\n")
    carrier = Carried(takes)
    bed.put("mail")
    bed.now = now_at(30 * 86_400.0)
    bed.deliver("mail", carrier)
    wait_for(lambda: not bed.outbox.counts(), "the delivery")
    assert len(carrier.letters) == 1


def test_a_secret_that_is_mended_is_used_without_a_restart(
    bed: Bed, caplog: pytest.LogCaptureFixture
) -> None:
    carrier = Carried(takes)
    bed.put("mail")
    delivery = bed.deliver("mail", carrier)
    wait_for(lambda: _head(bed.outbox).failures == 1, "the failure")
    assert "the secret `mail` is not there" in caplog.text
    bed.secret("mail", "json://one\n")
    bed.now = now_at(60.0)
    delivery.wake()
    wait_for(lambda: not bed.outbox.counts(), "the delivery")


def _head(outbox: Outbox) -> Waiting:
    waiting = outbox.first("mail")
    assert waiting is not None
    return waiting


def test_lateness_counts_the_hours_without_power_where_the_clock_tells() -> None:
    waiting = Waiting(1, "x", 3, "t", "b", 90.0, 100.0, NOON.isoformat(), True, 0.0, 0, frozenset())
    later = now_at(160.0, local=NOON + timedelta(hours=5))
    assert lateness_s(waiting, later) == 10.0 + 18_000.0
    assert lateness_s(waiting, now_at(160.0, local=NOON + timedelta(hours=5), trusted=False)) == 70.0
    assert lateness_s(waiting, now_at(160.0, local=NOON - timedelta(hours=5))) == 70.0
