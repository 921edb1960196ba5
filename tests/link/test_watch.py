"""Promise 11, the other way: the link tells of a guard that is silent, and of itself."""

from dataclasses import replace
from pathlib import Path

import pytest
from link_rig import GuardFiles, alarm, now_at

from reefguard.alarms.catalogue import EVENTS_UNREADABLE
from reefguard.link import hearing, watch
from reefguard.link.outbox import Waiting
from reefguard.link.ports import Snapshot
from reefguard.link.watch import Seen
from reefguard.records.event_reader import EventReader

FRESH = Snapshot({}, fresh=True, age_s=1.0)
ABSENT = Snapshot(None, fresh=False, age_s=None)
SEEN = Seen(FRESH, fresh_s=0.0, silent_after_s=60.0, unreadable=None, read_s=0.0, heads={})
HEAD = Waiting(1, "x", 3, "t", "b", 0.0, 0.0, "", True, 0.0, 3, frozenset())


@pytest.mark.parametrize(
    ("seen", "now_s", "names"),
    [
        (SEEN, 900.0, set()),
        (replace(SEEN, snapshot=Snapshot({}, fresh=False, age_s=61.0)), 1.0, {"guard silent"}),
        (replace(SEEN, snapshot=ABSENT), 59.0, set()),
        (replace(SEEN, snapshot=ABSENT), 60.0, {"guard silent"}),
        (replace(SEEN, snapshot=ABSENT, standing=frozenset({"guard silent"})), 1.0, {"guard silent"}),
        (replace(SEEN, unreadable="broken"), 59.0, set()),
        (replace(SEEN, unreadable="broken"), 60.0, {"events unreadable"}),
        (replace(SEEN, unreadable="x", standing=frozenset({EVENTS_UNREADABLE})), 1.0, {EVENTS_UNREADABLE}),
        # One cause, one alarm.
        (replace(SEEN, snapshot=ABSENT, unreadable="not there"), 60.0, {"guard silent"}),
        (replace(SEEN, heads={"mail": HEAD}), 300.0, {"delivery to mail failing"}),
        (replace(SEEN, heads={"mail": HEAD}), 299.0, set()),
        (replace(SEEN, heads={"mail": HEAD._replace(failures=2)}), 900.0, set()),
        (replace(SEEN, heads={"mail": None}), 900.0, set()),
    ],
)  # fmt: skip
def test_what_is_wrong_and_from_when(seen: Seen, now_s: float, names: set[str]) -> None:
    assert set(watch.conditions(seen, now_s)) == names


def test_each_alarm_is_raised_once_and_returns_once() -> None:
    wrong = watch.conditions(replace(SEEN, heads={"mail": HEAD}), 300.0)
    raised = watch.events({}, wrong, now_at(300.0), 0)
    standing = watch.after({}, raised)
    assert [(one.seq, one.event.change, one.event.priority) for one in raised] == [(-1, "raised", 3)]
    assert watch.events(standing, wrong, now_at(301.0), -1) == ()
    (over,) = watch.events(standing, {}, now_at(400.0), -1)
    assert (over.seq, over.event.change) == (-2, "returned")
    assert over.event.details == {"channel": "mail", "lasted_s": 100.0}
    assert watch.after(standing, (over,)) == {}


def test_how_long_it_lasted_over_a_reboot_is_not_known() -> None:
    standing = {"guard silent": alarm(-1, "raised", "guard silent")}
    (over,) = watch.events(standing, {}, now_at(9.0, boot_id="boot-2"), -1)
    assert over.event.details == {}


def test_a_status_is_fresh_only_if_it_is_of_this_boot_and_young(tmp_path: Path) -> None:
    guard = GuardFiles(tmp_path)
    path = guard.runtime / "status.json"
    assert hearing.snapshot(path, now_at(100.0), 60.0) == ABSENT
    for boot_id, written_s, fresh, age_s in (
        ("boot-1", 40.0, True, 60.0),
        ("boot-1", 39.0, False, 61.0),
        ("boot-0", 99.0, False, None),
        ("boot-1", "soon", False, None),
        ("boot-1", True, False, None),
        ("boot-1", 104.0, True, 0.0),
        ("boot-1", 106.0, False, None),
        ("boot-1", -1.0, False, None),
    ):
        guard.status(boot_id=boot_id, written_s=written_s)
        shown = hearing.snapshot(path, now_at(100.0), 60.0)
        assert (shown.fresh, shown.age_s) == (fresh, age_s)
    path.write_text("no json", encoding="utf-8")
    assert hearing.snapshot(path, now_at(100.0), 60.0) == ABSENT


def test_the_guards_word_on_what_is_unacknowledged() -> None:
    alarms = [
        {"name": "a", "state": "unacknowledged"}, {"name": "b", "state": "acknowledged"},
        {"name": "c", "state": "latched, unacknowledged"}, "x",
    ]  # fmt: skip
    assert hearing.unacknowledged(Snapshot({"alarms": alarms}, True, 0.0)) == frozenset({"a", "c"})
    assert hearing.unacknowledged(Snapshot({"alarms": alarms}, False, 90.0)) is None
    assert hearing.unacknowledged(FRESH) is None


def test_events_that_began_anew_are_read_from_their_beginning(tmp_path: Path) -> None:
    guard = GuardFiles(tmp_path)
    reader = EventReader(guard.state)
    for _ in range(3):
        guard.event("raised")
    events, anew = hearing.events_since(reader, 1)
    assert ([one.seq for one in events], anew) == ([2, 3], False)
    assert hearing.events_since(reader, 3) == ((), False)
    events, anew = hearing.events_since(reader, 7)
    assert ([one.seq for one in events], anew) == ([1, 2, 3], True)
    assert [one.seq for one in hearing.history(reader, 2)] == [1, 2]
