"""The guard's alarms: from a tick's findings to events on disk, across restarts and boots."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from reefguard.alarms.excursion import Excursion, followed
from reefguard.alarms.machine import State
from reefguard.guard.alarm_desk import AlarmDesk
from reefguard.guard.alarm_memory import NAME, from_text
from reefguard.guard.chronicle import Chronicle, Moment
from reefguard.guard.commands import Asked
from reefguard.records.event_queue import EventQueue
from reefguard.records.event_reader import EventReader
from reefguard.records.events import Event
from reefguard.settings.model import SafeBand, Unit
from reefguard.vocabulary import Finding, Severity, Wall, WaterEstimate

BAND = SafeBand(24.0, 27.0)
BEGUN = datetime(2031, 7, 14, 20, 0, tzinfo=UTC)
PATIENCE_S = 60.0


def moment(now_s: float) -> Moment:
    return Moment(now_s, Wall(BEGUN + timedelta(seconds=now_s), trusted=True))


class Run:
    """One run of the guard, as its alarms see it."""

    def __init__(self, directory: Path, *, boot_id: str = "boot-1", now_s: float = 0.0) -> None:
        self.directory = directory
        self.queue = EventQueue(directory, retry_after_s=0.02, remember=NAME)
        left = self.queue.left_behind(PATIENCE_S)
        self.desk = AlarmDesk(self.queue, Chronicle(self.queue, boot_id), boot_id, left)
        self.now_s = now_s
        self.desk.begin(moment(now_s), "1.0")

    def tick(self, water_c: float | None, *more: str, for_s: float = 0.0) -> None:
        """Make ticks, one every 5 s, with water at this temperature."""
        for _ in range(round(for_s / 5.0) + 1):
            names = list(more)
            water = None if water_c is None else WaterEstimate(water_c, "left", water_c, "left", self.now_s)
            if water_c is not None and water_c > BAND.high_c:
                names.append("water high")
            if water_c is not None and water_c < BAND.low_c:
                names.append("water low")
            findings = [Finding(Severity.CRITICAL, name, f"{name}: {water_c}", "mend it") for name in names]
            self.desk.tick(findings, water, BAND, moment(self.now_s), Unit.CELSIUS)
            self.now_s += 5.0

    def asks(self, command: str, alarm: str | None, for_s: float = 7_200.0) -> dict[str, str]:
        return self.desk.obey(Asked(command, alarm, for_s), "mara", moment(self.now_s), Unit.CELSIUS)

    def state(self, name: str) -> str | None:
        return next((one["state"] for one in self.desk.listed() if one["name"] == name), None)

    def killed(self) -> None:
        self.queue.finish(PATIENCE_S)

    def stopped(self) -> None:
        self.desk.end(moment(self.now_s))
        self.queue.finish(PATIENCE_S)


def events(directory: Path) -> list[Event]:
    return [one.event for one in EventReader(directory).history(1_000)]


def changes(directory: Path, kind: str = "alarm") -> list[tuple[str, str]]:
    return [(one.subject, one.change) for one in events(directory) if one.kind == kind]


@pytest.fixture
def run(tmp_path: Path) -> Iterator[Run]:
    one = Run(tmp_path)
    yield one
    one.killed()


def test_an_excursion_is_raised_told_and_on_its_return_measured(tmp_path: Path, run: Run) -> None:
    run.tick(26.0)
    run.tick(28.0, for_s=3_600.0)  # one hour a degree above the band
    listed = run.desk.listed()
    assert [one["name"] for one in listed] == ["water high"]
    assert listed[0]["state"] == "unacknowledged"
    assert listed[0]["priority"] == 3
    assert listed[0]["since_s"] == 5.0
    assert listed[0]["raised_wall"] == "2031-07-14T20:00:05+00:00"
    assert listed[0]["first"]
    assert listed[0]["means"]
    assert listed[0]["shelved_until_s"] is None
    run.asks("acknowledge", "water high")
    run.tick(26.0, for_s=2_000.0)
    assert run.desk.listed() == []
    run.killed()
    assert changes(tmp_path) == [("water high", one) for one in ("raised", "acknowledged", "returned")]
    returned = events(tmp_path)[-1]
    assert returned.details is not None
    assert returned.details["lasted_s"] == 3_605.0
    assert returned.details["peak_c"] == 28.0
    # An hour a degree above, and the way back counted as straight: half a degree for 5 s.
    assert returned.details["degree_hours"] == pytest.approx((3_600.0 + 2.5) / 3_600.0, abs=1e-3)
    assert "after 1 h" in returned.what
    assert "28.00 °C" in returned.what
    assert returned.priority == 3


def test_a_command_is_an_event_before_it_is_obeyed_and_names_who(tmp_path: Path, run: Run) -> None:
    run.tick(28.0, for_s=60.0)
    assert run.asks("shelve", "water high", 600.0) == {"said": "shelved for 10 min: water high"}
    assert run.state("water high") == State.SHELVED.value
    assert run.asks("unshelve", "water high")["said"] == "unshelved: water high"
    assert run.asks("acknowledge", None)["said"] == "acknowledged: water high"
    run.killed()
    told = [(one.kind, one.subject, one.change, one.who) for one in events(tmp_path)[2:]]
    assert told == [
        ("command", "shelve", "asked", "mara"),
        ("alarm", "water high", "shelved", "mara"),
        ("command", "unshelve", "asked", "mara"),
        ("alarm", "water high", "unshelved", "mara"),
        ("alarm", "water high", "raised", None),
        ("command", "acknowledge", "asked", "mara"),
        ("alarm", "water high", "acknowledged", "mara"),
    ]
    assert events(tmp_path)[2].details == {"alarms": ["water high"], "for_s": 600.0}


def test_what_cannot_be_done_is_said_and_is_no_event(tmp_path: Path, run: Run) -> None:
    assert run.asks("acknowledge", None) == {"error": "no alarm waits to be acknowledged"}
    run.tick(28.0, for_s=60.0)
    assert "what there is: 'water high'" in run.asks("acknowledge", "water low")["error"]
    assert "no alarm named 'water low' stands" in run.asks("shelve", "water low")["error"]
    assert "is shelved" in run.asks("unshelve", "water high")["error"]
    run.killed()
    assert changes(tmp_path, "command") == []


def test_a_shelf_ends_by_itself_and_what_stands_is_raised(tmp_path: Path, run: Run) -> None:
    run.tick(28.0, for_s=60.0)
    run.asks("shelve", "water high", 60.0)
    run.tick(28.0, for_s=70.0)
    assert run.state("water high") == "unacknowledged"
    run.killed()
    assert [change for _, change in changes(tmp_path)] == ["raised", "shelved", "unshelved", "raised"]


@pytest.mark.parametrize("stopped", [True, False])
def test_within_a_boot_alarms_go_on_as_they_were_and_a_restart_is_told_if_nobody_asked_for_it(
    tmp_path: Path, stopped: bool
) -> None:
    first = Run(tmp_path)
    first.tick(28.5, for_s=600.0)
    first.asks("acknowledge", "water high")
    first.stopped() if stopped else first.killed()
    second = Run(tmp_path, now_s=first.now_s)
    second.tick(28.0, for_s=60.0)
    assert second.state("water high") == "acknowledged"
    assert (second.state("guard restarted unexpectedly") is None) is stopped
    second.tick(26.0, for_s=2_400.0)
    second.killed()
    assert [change for name, change in changes(tmp_path) if name == "water high"] == [
        "raised",
        "acknowledged",
        "returned",
    ]
    returned = next(
        one for one in events(tmp_path) if (one.subject, one.change) == ("water high", "returned")
    )
    assert returned.details is not None
    assert returned.details["peak_c"] == 28.5
    assert returned.details["lasted_s"] == 670.0
    started = [one for one in events(tmp_path) if one.change == "started"]
    ended = [one.details["last_run_ended"] for one in started if one.details]
    assert ended == [None, "cleanly" if stopped else "unexpectedly"]


def test_an_unexpected_restart_waits_to_be_acknowledged_and_is_then_forgotten(tmp_path: Path) -> None:
    Run(tmp_path).killed()
    run = Run(tmp_path, boot_id="boot-2")
    run.tick(26.0, for_s=2_400.0)
    assert run.state("guard restarted unexpectedly") == "returned, unacknowledged"
    assert "a power cut?" in run.desk.listed()[0]["what"]
    run.asks("acknowledge", None)
    assert run.desk.listed() == []
    run.stopped()
    assert ("guard", "stopped") in changes(tmp_path, "guard")


def test_across_a_boot_nothing_is_forgotten_and_no_old_time_counts(tmp_path: Path) -> None:
    first = Run(tmp_path, now_s=50_000.0)
    first.tick(28.5, "cutoff tripped", "storage failing", for_s=120.0)
    first.asks("acknowledge", "water high")
    first.asks("shelve", "storage failing", 86_400.0)
    first.stopped()
    second = Run(tmp_path, boot_id="boot-2", now_s=20.0)
    assert second.state("water high") == "acknowledged"
    assert second.state("cutoff tripped") == "unacknowledged"
    assert next(one for one in second.desk.listed() if one["name"] == "water high")["since_s"] is None
    second.tick(28.0, "storage failing")
    # The shelf has ended, for nobody knows how long the machine was down.
    assert second.state("storage failing") == "unacknowledged"
    second.tick(26.0, "storage failing", for_s=2_000.0)
    assert second.state("cutoff tripped") == "returned, unacknowledged"
    second.killed()
    returned = next(
        one for one in events(tmp_path) if (one.subject, one.change) == ("water high", "returned")
    )
    assert returned.details is not None
    assert "lasted_s" not in returned.details
    assert returned.details["peak_c"] == 28.5


def _damaged(text: str) -> Iterator[str]:
    for place in range(0, len(text), 7):
        yield text[:place] + chr(ord(text[place]) ^ 1) + text[place + 1 :]
    yield ""
    yield "\n"
    yield text[:-1]


def test_a_text_that_was_damaged_or_is_of_another_version_is_not_believed(tmp_path: Path) -> None:
    run = Run(tmp_path)
    run.tick(28.0, for_s=60.0)
    run.killed()
    queue = EventQueue(tmp_path, retry_after_s=0.02, remember=NAME)
    text = queue.left_behind(PATIENCE_S)
    queue.finish(PATIENCE_S)
    assert text is not None
    assert from_text(text, boot_id="boot-1", now_s=0.0) is not None
    for damaged in _damaged(text):
        assert from_text(damaged, boot_id="boot-1", now_s=0.0) is None


def test_of_water_that_is_not_known_nothing_is_counted() -> None:
    def look(before: dict[str, Excursion], water_c: float | None, now_s: float) -> dict[str, Excursion]:
        water = None if water_c is None else WaterEstimate(water_c, "left", water_c, "left", now_s)
        return followed(before, ["water low", "storage failing"], water=water, band=BAND, now_s=now_s)

    seen: dict[str, Excursion] = look({}, None, 0.0)
    assert seen == {}
    seen = look(seen, 23.0, 100.0)
    seen = look(seen, 22.0, 200.0)  # 1.5 degrees below on the way: 150 degree-seconds
    seen = look(seen, None, 300.0)
    seen = look(seen, 22.0, 400.0)
    seen = look(seen, 22.0, 500.0)  # and 2 degrees below: 200 more
    assert seen.keys() == {"water low"}
    assert seen["water low"].peak_c == 22.0
    assert seen["water low"].degree_hours == pytest.approx(350.0 / 3_600.0)


def test_the_list_is_json(run: Run) -> None:
    run.tick(28.0, "chiller no flow", "no water", for_s=120.0)
    listed: list[dict[str, Any]] = json.loads(json.dumps(run.desk.listed()))
    assert [one["priority"] for one in listed] == sorted((one["priority"] for one in listed), reverse=True)
    assert {one["name"] for one in listed} == {"water high", "chiller no flow", "no water"}
