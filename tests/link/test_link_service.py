"""The link's rounds, with a clock that a test moves and a carrier that remembers."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from link_rig import BOOT_ID, GuardFiles, now_at, wait_for
from settings_files import SHORTEST, accepted

from reefguard.link.carrier import Answer, Letter
from reefguard.link.outbox import Outbox, opened
from reefguard.link.ports import Snapshot
from reefguard.link.service import Link, Surroundings
from reefguard.records import status_file
from reefguard.settings.link_model import Channel, LinkSettings, Lowest


class House:
    """Guard, link and receiver in one process."""

    def __init__(self, directory: Path) -> None:
        self.guard = GuardFiles(directory)
        self.directory = directory
        (directory / "secrets").mkdir()
        (directory / "run").mkdir()
        for name in ("mail", "phone"):
            (directory / "secrets" / name).write_text(f"json://{name}", encoding="utf-8")
            (directory / "secrets" / name).chmod(0o600)
        self.now = now_at(1_000.0, boot_id=BOOT_ID)
        self.letters: list[tuple[str, str]] = []
        self.snapshots: list[Snapshot] = []
        self.refuses: set[str] = set()
        self.outbox: Outbox = opened(directory / "state")[0]
        self.link: Link | None = None

    def carry(self, letter: Letter, address: str) -> Answer:
        if address in self.refuses:
            return Answer(taken=False, said="not now")
        self.letters.append((address, letter.title.partition(", ")[2]))
        return Answer(taken=True, said="taken")

    def publish(self, snapshot: Snapshot) -> None:
        self.snapshots.append(snapshot)

    def close(self) -> None:
        self.snapshots.clear()

    def start(self, *channels: str) -> Link:
        if self.link is not None:
            self.link.close()
        text = f"{SHORTEST}state_directory: {self.guard.state}\nruntime_directory: {self.guard.runtime}\n"
        link = LinkSettings(
            channels=tuple(Channel(name, name, Lowest.LOW) for name in channels),
            state_directory=str(self.directory / "state"),
            runtime_directory=str(self.directory / "run"),
            secrets_directory=str(self.directory / "secrets"),
        )
        around = Surroundings(self.outbox, self, lambda: self.now, (self,))
        self.link = Link(accepted(text).settings, link, around)
        return self.link

    def at(self, boot_s: float) -> None:
        """Move the clock; the guard is at work."""
        self.now = now_at(boot_s, boot_id=BOOT_ID)
        self.guard.status(written_s=boot_s)

    def delivered(self, count: int) -> list[tuple[str, str]]:
        wait_for(lambda: len(self.letters) >= count and not self.outbox.counts(), f"{count} letters")
        return self.letters


@pytest.fixture(name="house")
def _house(tmp_path: Path) -> Iterator[House]:
    house = House(tmp_path)
    house.at(1_000.0)
    yield house
    if house.link is not None:
        house.link.close()
    house.outbox.close()


def test_at_its_first_start_it_tells_what_stands_and_nothing_of_the_past(house: House) -> None:
    for _ in range(600):
        house.guard.event("raised", "storage failing", 2)
        house.guard.event("returned", "storage failing", 2)
    house.guard.event("raised", "water high", 3)
    link = house.start("mail")
    link.round()
    assert house.delivered(1) == [("json://mail", "HIGH: water high")]


def test_a_channel_that_is_new_is_told_what_stands_and_the_others_nothing(house: House) -> None:
    house.guard.event("raised", "water high", 3)
    house.start("mail").round()
    house.delivered(1)
    house.start("mail", "phone").round()
    assert house.delivered(2)[1:] == [("json://phone", "HIGH: water high")]


def test_what_an_outlet_is_shown(house: House) -> None:
    link = house.start("mail")
    link.round()
    house.guard.event("on", "fan", None, kind="output")
    link.round()
    link.round()
    shown = [(one.fresh, [recorded.event.subject for recorded in one.events]) for one in house.snapshots]
    assert shown == [(True, []), (True, ["fan"]), (True, [])]


def test_a_guard_that_falls_silent_is_told_and_a_restart_of_the_link_is_no_end_of_it(house: House) -> None:
    link = house.start("mail")
    link.round()
    house.now = now_at(1_061.0, boot_id=BOOT_ID)
    assert link.round() == "guard silent"
    assert house.delivered(1) == [("json://mail", "URGENT: guard silent")]
    (house.guard.runtime / "status.json").unlink()
    link = house.start("mail")
    link.round()
    house.at(1_070.0)
    link.round()
    assert house.delivered(2)[1:] == [("json://mail", "over: guard silent")]


def test_a_channel_that_fails_is_told_over_the_others(house: House) -> None:
    house.refuses = {"json://phone"}
    link = house.start("mail", "phone")
    house.guard.event("raised", "water high", 3)
    link.round()
    for number, boot_s in enumerate((1_000.0, 1_020.0, 1_060.0), start=1):
        house.at(boot_s)
        assert house.link is not None
        house.link._deliveries["phone"].wake()
        wait_for(lambda number=number: _failures(house) >= number, f"failure {number}")  # type: ignore[misc]  # bound at once
    house.at(1_301.0)
    link.round()
    wait_for(lambda: len(house.letters) >= 2, "the alarm")
    assert house.letters == [
        ("json://mail", "HIGH: water high"),
        ("json://mail", "HIGH: delivery to phone failing"),
    ]
    house.refuses = set()
    link._deliveries["phone"].wake()
    house.at(1_400.0)
    wait_for(lambda: not house.outbox.counts(), "the delivery")
    link.round()
    assert house.delivered(4)[2:] == [
        ("json://phone", "HIGH: water high"),
        ("json://mail", "over: delivery to phone failing"),
    ]


def _failures(house: House) -> int:
    head = house.outbox.first("phone")
    return 0 if head is None else head.failures


def test_an_outbox_that_cannot_be_written_loses_nothing(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    link = house.start("mail")
    link.round()
    house.guard.event("raised", "water high", 3)

    def full(*_: object, **__: object) -> int:
        message = "database or disk is full"
        raise sqlite3.OperationalError(message)

    with monkeypatch.context() as broken:
        broken.setattr(house.outbox, "keep", full)
        assert link.round() == "the outbox cannot be written: database or disk is full"
        assert link.round() == "the outbox cannot be written: database or disk is full"
    link.round()
    assert house.delivered(1) == [("json://mail", "HIGH: water high")]


def test_events_that_cannot_be_read_are_told(house: House) -> None:
    link = house.start("mail")
    link.round()
    (house.guard.state / "events.db").rename(house.guard.state / "elsewhere")
    link.round()
    house.at(1_061.0)
    link.round()
    assert house.delivered(1) == [("json://mail", "HIGH: events unreadable")]
    (house.guard.state / "elsewhere").rename(house.guard.state / "events.db")
    house.guard.event("raised", "water high", 3)
    link.round()
    assert house.delivered(3)[1:] == [
        ("json://mail", "HIGH: water high"),
        ("json://mail", "over: events unreadable"),
    ]


def test_deaf_from_its_start_it_hears_of_what_stands_once_it_can(house: House) -> None:
    database = house.guard.state / "events.db"
    house.guard.event("raised", "water high", 3)
    database.rename(house.guard.state / "elsewhere")
    link = house.start("mail")
    link.round()
    house.at(1_100.0)
    link.round()
    assert house.delivered(1) == [("json://mail", "HIGH: events unreadable")]
    (house.guard.state / "elsewhere").rename(database)
    link.round()
    assert sorted(house.delivered(3)[1:]) == [
        ("json://mail", "HIGH: water high"),
        ("json://mail", "over: events unreadable"),
    ]


def test_its_own_status_is_there_while_it_runs(house: House) -> None:
    link = house.start("mail")
    link.round()
    status = status_file.read(house.directory / "run" / "status.json")
    assert isinstance(status, dict)
    assert (status["schema"], status["guard_fresh"], status["channels"]) == (
        "reefguard.link-status/1", True, {"mail": {"waiting": 0}},
    )  # fmt: skip
    link.close()
    house.link = None
    assert not (house.directory / "run" / "status.json").exists()
