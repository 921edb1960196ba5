"""Promise 10: on disk before it is told, once per event, channel and purpose."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from link_rig import alarm, now_at

from reefguard.link.backoff import FIRST_S, LONGEST_S, SPREAD, given_up, pause_s
from reefguard.link.notes import Memory
from reefguard.link.outbox import Kept, Outbox, Waiting, opened
from reefguard.link.policy import Message


def message(seq: int, purpose: str = "raised", title: str = "") -> Message:
    return Message(((seq, purpose),), 3, title or f"message {seq}", "body", 0.0)


def put(
    outbox: Outbox, *messages: Message, at_s: float = 0.0, channel: str = "mail", anew: bool = False
) -> int:
    kept = Kept(seen=messages[-1].covers[0][0], memories={channel: Memory()})
    return outbox.keep(kept, {channel: messages}, now_at(at_s), anew=anew)


def head(outbox: Outbox, channel: str = "mail") -> Waiting:
    waiting = outbox.first(channel)
    assert waiting is not None
    return waiting


@pytest.fixture(name="outbox")
def _outbox(tmp_path: Path) -> Outbox:
    return opened(tmp_path)[0]


def test_messages_come_out_in_the_order_they_went_in_each_channel_by_itself(outbox: Outbox) -> None:
    put(outbox, message(1), message(2))
    put(outbox, message(1), channel="phone")
    assert head(outbox).title == "message 1"
    outbox.delivered(head(outbox).number, "taken")
    assert head(outbox).title == "message 2"
    assert head(outbox, "phone").title == "message 1"
    assert outbox.counts() == {"mail": 1, "phone": 1}
    assert outbox.first("none") is None


def test_the_same_event_and_purpose_is_put_in_once_a_channel(outbox: Outbox) -> None:
    assert put(outbox, message(1)) == 1
    outbox.delivered(head(outbox).number, "taken")
    assert put(outbox, message(1)) == 0
    assert put(outbox, message(1, "over")) == 1
    assert put(outbox, message(1), channel="phone") == 1


def test_events_that_began_anew_are_other_events(outbox: Outbox) -> None:
    put(outbox, message(1), message(-1))
    assert put(outbox, message(1), message(-1), anew=True) == 1


def test_an_id_stays_the_same_over_attempts_and_restarts(outbox: Outbox, tmp_path: Path) -> None:
    put(outbox, message(1), message(2))
    first = head(outbox)
    outbox.failed(first.number, next_s=10.0, taken=frozenset({"a"}), answer="away")
    outbox.close()
    again = opened(tmp_path)[0]
    assert head(again) == first._replace(next_s=10.0, failures=1, taken=frozenset({"a"}))
    again.give_up(first.number, "a week")
    assert head(again).id != first.id


def test_a_new_message_is_a_reason_to_try_again_at_once(outbox: Outbox) -> None:
    put(outbox, message(1))
    outbox.failed(head(outbox).number, next_s=3_600.0, taken=frozenset(), answer="away")
    put(outbox, message(2), at_s=5.0)
    assert head(outbox).next_s == 5.0


def test_what_was_known_is_known_again(outbox: Outbox, tmp_path: Path) -> None:
    own = alarm(-1, "raised", "guard silent", details={"channel": "mail"})
    kept = Kept(7, {"mail": Memory(caught_up=True)}, {"guard silent": own}, -1)
    outbox.keep(kept, {}, now_at(5.0), anew=False)
    outbox.close()
    assert opened(tmp_path)[0].kept(now_at(9.0)) == kept


def test_before_the_first_round_nothing_is_known_and_a_link_that_hears_nothing_knows_no_place(
    outbox: Outbox,
) -> None:
    assert outbox.kept(now_at(0.0)) == Kept()
    outbox.keep(Kept(None, {"mail": Memory()}), {}, now_at(0.0), anew=False)
    assert outbox.kept(now_at(0.0)).seen is None


def test_after_a_reboot_times_go_on_as_if_the_machine_had_paused(outbox: Outbox) -> None:
    put(outbox, message(1), at_s=1_000.0)
    outbox.failed(head(outbox).number, next_s=1_040.0, taken=frozenset(), answer="away")
    outbox.kept(now_at(30.0, boot_id="boot-2"))
    waiting = head(outbox)
    assert (waiting.enqueued_s, waiting.due_s) == (30.0, -970.0)
    assert waiting.next_s == 30.0, "tried at once"
    outbox.kept(now_at(50.0, boot_id="boot-2"))
    assert head(outbox) == waiting


def test_a_round_that_cannot_be_kept_whole_is_not_kept_at_all(outbox: Outbox) -> None:
    put(outbox, message(1))
    broken = Message(((2, "raised"),), 3, "title", None, 0.0)  # type: ignore[arg-type]  # the disk refuses it
    with pytest.raises(Exception, match="NOT NULL"):
        put(outbox, message(3), broken)
    assert outbox.kept(now_at(0.0)).seen == 1
    assert outbox.counts() == {"mail": 1}


def test_what_was_settled_long_ago_is_forgotten(outbox: Outbox) -> None:
    for seq in range(1, 1_004):
        put(outbox, message(seq))
        outbox.delivered(head(outbox).number, "taken")
    count = outbox._database.execute("SELECT count(*), min(number) FROM messages").fetchone()
    assert count == (1_000, 4)
    assert outbox._database.execute("SELECT min(seq) FROM told").fetchone() == (4,)


@pytest.mark.parametrize("content", [b"no database at all" * 100, b"SQLite format 3\0" + b"x" * 4_000])
def test_an_outbox_that_cannot_be_used_is_set_aside(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "outbox.db").write_bytes(content)
    outbox, told = opened(tmp_path)
    put(outbox, message(1))
    assert told is not None
    assert (tmp_path / "outbox.db.broken-1").read_bytes() == content
    assert opened(tmp_path)[1] is None


def test_a_database_of_somebody_else_is_set_aside_too(tmp_path: Path) -> None:
    import sqlite3  # noqa: PLC0415  here only
    from contextlib import closing  # noqa: PLC0415  here only

    with closing(sqlite3.connect(tmp_path / "outbox.db")) as other:
        other.execute("CREATE TABLE theirs(x)")
    _, told = opened(tmp_path)
    assert told is not None
    assert "no outbox of version 1" in told


@given(st.integers(1, 10_000), st.floats(0.0, 1.0))
def test_pauses_are_a_fifth_around_a_doubling_up_to_an_hour(failures: int, chance: float) -> None:
    plain_s = min(FIRST_S * 2.0 ** min(failures - 1, 20), LONGEST_S)
    assert plain_s * (1.0 - SPREAD) <= pause_s(failures, chance) <= plain_s * (1.0 + SPREAD) * (1.0 + 1e-12)


def test_a_week_is_seven_days() -> None:
    assert (given_up(604_799.9), given_up(604_800.0)) == (False, True)
