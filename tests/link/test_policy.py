"""What is told over a channel, and when: nobody is woken for nothing, and nothing is kept from anybody."""

from collections.abc import Sequence
from datetime import timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from link_rig import NOON, alarm, now_at

from reefguard.link.message_words import Voice, late, trial
from reefguard.link.notes import Memory, Now, as_text, from_text, shifted
from reefguard.link.policy import BURST_S, Message, is_quiet, step, still_standing
from reefguard.records.events import Recorded
from reefguard.settings.link_model import Channel, Lowest, QuietHours
from reefguard.settings.model import Unit

VOICE = Voice("North reef", Unit.CELSIUS)
CHANNEL = Channel("phone", "phone", Lowest.LOW)
NIGHT = Channel("phone", "phone", Lowest.LOW, QuietHours(22 * 3600, 7 * 3600))
SILENT = Channel("phone", "phone", Lowest.LOW, repeat_after_s=None)


def told(
    events: Sequence[Recorded] = (),
    memory: Memory | None = None,
    now: Now | None = None,
    channel: Channel = CHANNEL,
    **more: object,
) -> tuple[Memory, tuple[Message, ...]]:
    return step(
        memory or Memory(), events, now=now or now_at(0.0), channel=channel, voice=VOICE, **more  # type: ignore[arg-type]  # whatever the test gives
    )  # fmt: skip


def at_night(boot_s: float, hour: int, *, trusted: bool = True) -> Now:
    return now_at(boot_s, local=NOON.replace(hour=hour), trusted=trusted)


def test_an_alarm_is_told_with_what_to_do_first() -> None:
    _, (message,) = told([alarm(7, "raised", "water far too high", priority=4, what="28.90 °C, display")])
    assert message.title == "North reef, URGENT: water far too high"
    assert message.body == (
        "28.90 °C, display.\n"
        "Do first (now): lights off, doors and lids open, fans over the water; "
        "float closed bottles of ice, slowly.\n"
        "At 2026-07-01 12:00:00+01:00"
    )
    assert (message.priority, message.covers) == (4, ((7, "raised"),))


def test_a_clock_that_was_not_known_to_be_right_is_said_to_be_so() -> None:
    _, (message,) = told([alarm(1, "raised", clock_trusted=False)])
    assert message.body.endswith("(the clock was not known to be right)")


def test_its_end_is_told_with_how_long_and_how_far() -> None:
    memory, _ = told([alarm(1, "raised")])
    details = {"lasted_s": 2_520.0, "peak_c": 28.4, "degree_hours": 0.31}
    memory, (message,) = told([alarm(2, "returned", details=details)], memory, now_at(2_600.0))
    assert message.title == "North reef, over: water high"
    assert message.body.startswith(
        "It lasted 42 min, at its worst 28.40 °C, 0.3 °C h outside the band.\nAt 2026-07-01"
    )
    assert not memory.open
    assert told((), memory, now_at(10_000.0))[1] == ()


def test_temperatures_are_told_in_the_keepers_unit() -> None:
    memory, _ = told([alarm(1, "raised")])
    fahrenheit = Voice("North reef", Unit.FAHRENHEIT)
    details = {"peak_c": 28.0, "degree_hours": 1.0}
    over = [alarm(2, "returned", details=details)]
    _, (message,) = step(memory, over, now=now_at(60.0), channel=CHANNEL, voice=fahrenheit)
    assert message.body.startswith("At its worst 82.40 °F, 1.8 °F h outside the band.")


def test_an_end_about_which_nothing_is_known_is_told_all_the_same() -> None:
    memory, _ = told([alarm(1, "raised")])
    _, (message,) = told([alarm(2, "returned", details={"lasted_s": True, "peak_c": "warm"})], memory)
    assert message.body.startswith("It is over.")


def test_the_end_of_what_was_never_told_is_not_told() -> None:
    assert told([alarm(1, "returned")])[1] == ()


@pytest.mark.parametrize(
    ("priority", "is_told"), [(1, False), (2, False), (3, True), (4, True), (None, False)]
)
def test_a_channel_has_a_lowest_priority(priority: int | None, is_told: bool) -> None:
    channel = Channel("phone", "phone", Lowest.HIGH)
    _, messages = told([alarm(1, "raised", priority=priority)], channel=channel)
    assert bool(messages) is is_told


@pytest.mark.parametrize("kind", ["mode", "output", "command", "guard"])
def test_what_is_no_alarm_is_not_told(kind: str) -> None:
    assert told([alarm(1, "raised", kind=kind)])[1] == ()


def test_a_channel_is_not_told_that_it_fails_itself() -> None:
    event = alarm(-1, "raised", "delivery to phone failing", details={"channel": "phone"})
    assert told([event])[1] == ()
    assert len(told([event], channel=Channel("mail", "mail"))[1]) == 1


def test_repeats_thin_out_and_end_with_an_acknowledgement() -> None:
    memory, _ = told([alarm(1, "raised")])
    at_s = []
    for minute in range(1, 600):
        memory, messages = told((), memory, now_at(60.0 * minute))
        at_s += [minute for message in messages if message.title == "North reef, HIGH still: water high"]
    assert at_s == [30, 90, 210, 450]
    memory, _ = told([alarm(2, "acknowledged")], memory, now_at(36_000.0))
    assert told((), memory, now_at(10 * 86_400.0))[1] == ()
    _, (over,) = told([alarm(3, "returned")], memory, now_at(10 * 86_400.0))
    assert over.title == "North reef, over: water high"


def test_a_repeat_says_so_and_how_to_end_it() -> None:
    memory, _ = told([alarm(1, "raised")])
    _, (message,) = told((), memory, now_at(1_800.0))
    assert message.covers == ((1, "repeat-1"),)
    assert 'reefguard acknowledge "water high"' in message.body
    assert message.body.endswith("Since 2026-07-01 12:00:00+01:00")


def test_repeats_are_a_day_apart_at_most() -> None:
    memory, _ = told([alarm(1, "raised")])
    at_s = []
    for hour in range(1, 24 * 14):
        memory, messages = told((), memory, now_at(3_600.0 * hour))
        at_s += [hour for _ in messages]
    assert max(later - sooner for sooner, later in pairwise(at_s)) == 24
    assert at_s[:6] == [1, 2, 4, 8, 16, 32]
    assert len(at_s) == 6 + 12


def test_nothing_is_repeated_where_that_is_not_wanted_or_cannot_arrive() -> None:
    memory, _ = told([alarm(1, "raised")], channel=SILENT)
    assert told((), memory, now_at(90_000.0), SILENT)[1] == ()
    memory, _ = told([alarm(1, "raised")])
    assert told((), memory, now_at(90_000.0), backlog=True)[1] == ()


def test_an_alarm_of_which_the_guard_knows_nothing_any_more_is_not_repeated() -> None:
    memory, _ = told([alarm(1, "raised")])
    memory, messages = told((), memory, now_at(1_800.0), unacknowledged=frozenset({"other"}))
    assert messages == ()
    assert told((), memory, now_at(90_000.0))[1] == ()
    memory, _ = told([alarm(1, "raised")])
    assert told((), memory, now_at(1_800.0), unacknowledged=frozenset({"water high"}))[1]
    memory, _ = told([alarm(-1, "raised", "guard silent")])
    assert told((), memory, now_at(1_800.0), unacknowledged=frozenset())[1], "the link's own"


@pytest.mark.parametrize("hushed", ["shelved", "suppressed", "taken_out"])
def test_what_was_put_away_is_quiet_until_it_comes_back(hushed: str) -> None:
    memory, _ = told([alarm(1, "raised")])
    memory, _ = told([alarm(2, hushed)], memory, now_at(60.0))
    assert told((), memory, now_at(90_000.0))[1] == ()
    assert told([alarm(3, "returned")], memory, now_at(120.0))[1] == ()
    back = {"shelved": "unshelved", "suppressed": "unsuppressed", "taken_out": "put_back"}[hushed]
    memory, _ = told([alarm(4, back)], memory, now_at(180.0))
    assert len(told((), memory, now_at(90_000.0))[1]) == 1
    assert len(told([alarm(5, "returned")], memory, now_at(240.0))[1]) == 1


def test_a_reset_ends_it_without_a_word() -> None:
    memory, _ = told([alarm(1, "raised")])
    memory, messages = told([alarm(2, "reset")], memory)
    assert (messages, memory.open) == ((), {})


def test_quiet_hours_hold_back_all_but_what_is_urgent() -> None:
    night = at_night(0.0, 23)
    memory, messages = told([alarm(1, "raised")], now=night, channel=NIGHT)
    assert messages == ()
    memory, (urgent,) = told([alarm(2, "raised", "no water", priority=4)], memory, at_night(60.0, 23), NIGHT)
    assert urgent.title == "North reef, URGENT: no water"
    memory, messages = told([alarm(3, "returned")], memory, at_night(1_200.0, 6), NIGHT)
    assert messages == ()
    # Nothing that is not urgent is repeated at night; what is, is.
    memory, messages = told((), memory, at_night(7_200.0, 6), NIGHT)
    assert [message.title for message in messages] == ["North reef, URGENT still: no water"]
    _, (morning,) = told((), memory, at_night(7_300.0, 7), NIGHT)
    assert morning.title == "North reef, HIGH: 1 alarm, 1 over"
    assert [line for line in morning.body.split("\n") if line.startswith(("HIGH", "over"))] == [
        "HIGH: water high",
        "over: water high",
    ]
    assert morning.due_s == 7_300.0, "where the keeper wants it, so not late"


@pytest.mark.parametrize(
    ("hour", "hours", "quiet"),
    [
        (22, (22, 7), True), (6, (22, 7), True), (7, (22, 7), False), (21, (22, 7), False),
        (13, (13, 15), True), (14, (13, 15), True), (15, (13, 15), False), (12, (13, 15), False),
    ],
)  # fmt: skip
def test_quiet_hours_begin_and_end_on_the_second(hour: int, hours: tuple[int, int], quiet: bool) -> None:
    quiet_hours = QuietHours(hours[0] * 3600, hours[1] * 3600)
    assert is_quiet(quiet_hours, at_night(0.0, hour)) is quiet
    before = now_at(0.0, local=NOON.replace(hour=hour) - timedelta(seconds=1))
    if hour in hours:
        assert is_quiet(quiet_hours, before) is not quiet


def test_a_clock_that_cannot_be_trusted_makes_no_hour_quiet() -> None:
    assert not is_quiet(NIGHT.quiet, at_night(0.0, 23, trusted=False))
    assert not is_quiet(None, at_night(0.0, 23))


def _many(count: int, first: int = 1, priority: int = 3) -> list[Recorded]:
    return [
        alarm(first + n, "raised", f"probe p{first + n} not used", priority=priority) for n in range(count)
    ]


def test_a_burst_is_one_message() -> None:
    assert len(told(_many(3))[1]) == 3
    _, (message,) = told(_many(14))
    assert message.title == "North reef, HIGH: 14 alarms"
    assert [seq for seq, _ in message.covers] == list(range(1, 15))
    assert message.body.count("Do first") == 14


def test_what_comes_after_three_within_half_a_minute_is_gathered() -> None:
    memory, first = told(_many(3))
    assert len(first) == 3
    memory, messages = told(_many(1, 4), memory, now_at(2.0))
    assert messages == ()
    memory, messages = told(_many(1, 5), memory, now_at(10.0))
    assert messages == ()
    memory, (message,) = told((), memory, now_at(2.0 + BURST_S))
    assert message.title == "North reef, HIGH: 2 alarms"
    assert memory.waiting == ()


def test_nothing_urgent_waits_for_a_burst_to_end() -> None:
    memory, _ = told(_many(3))
    memory, _ = told(_many(1, 4), memory, now_at(2.0))
    _, (message,) = told(_many(1, 5, priority=4), memory, now_at(3.0))
    assert message.title == "North reef, URGENT: 2 alarms"


def test_an_event_of_an_earlier_boot_is_as_old_as_the_wall_clock_says() -> None:
    now = now_at(50.0, local=NOON + timedelta(hours=2), boot_id="boot-2")
    _, (message,) = told([alarm(1, "raised")], now=now)
    assert message.due_s == 50.0 - 7_200.0
    _, (message,) = told([alarm(1, "raised", clock_trusted=False)], now=now)
    assert message.due_s == 50.0
    _, (message,) = told([alarm(1, "raised", at_wall="some time")], now=now)
    assert message.due_s == 50.0
    assert "LATE by 2 h" in late(7_200.0)


def test_a_channel_that_is_new_is_told_what_stands() -> None:
    past = [
        alarm(1, "raised", "water high"),
        alarm(2, "raised", "no water"),
        alarm(3, "returned", "water high"),
        alarm(4, "acknowledged", "no water"),
        alarm(5, "on", "fan", kind="output"),
        alarm(6, "raised", "time unknown"),
        alarm(7, "reset", "time unknown"),
    ]
    assert [recorded.seq for recorded in still_standing(past)] == [2, 4]


def test_a_test_says_so() -> None:
    title, body = trial("North reef", "phone", "2026-07-01T12:00:00+01:00")
    assert title == "North reef, TEST: nothing is wrong"
    assert "TEST" in body


NAMES = st.sampled_from(["water high", "no water", "probe a not used", "storage failing"])
CHANGES = st.sampled_from(["raised", "returned", "acknowledged", "shelved", "unshelved", "reset"])
# A life: how long until the next round, and what happens in it.
LIVES = st.lists(
    st.tuples(
        st.sampled_from([1.0, 5.0, 29.0, 31.0, 1_800.0, 40_000.0]),
        st.lists(st.tuples(NAMES, CHANGES, st.sampled_from([1, 2, 3, 4])), max_size=6),
    ),
    max_size=25,
)


@settings(deadline=None)
@given(LIVES, st.booleans())
def test_in_any_life_each_alarm_is_told_once_and_within_half_a_minute_of_the_end_of_quiet_hours(
    life: list[tuple[float, list[tuple[str, str, int]]]], night: bool
) -> None:
    memory, at_s, seq = Memory(), 0.0, 0
    channel = NIGHT if night else CHANNEL
    covered: list[tuple[int, str]] = []
    raised, urgent = [], []
    for wait_s, events in life:
        at_s += wait_s
        recorded = []
        for name, change, priority in events:
            seq += 1
            recorded.append(alarm(seq, change, name, at_s, priority=priority))
            if change == "raised":
                raised.append((seq, "raised"))
                urgent += [(seq, "raised")] if priority == 4 else []
        # Through the disk and back, as between two rounds of the link.
        memory, messages = told(recorded, from_text(as_text(memory)), now_at(at_s), channel)
        covered += [cover for message in messages for cover in message.covers]
        assert set(urgent) <= set(covered), "nothing urgent waits"
    for rest_s in (BURST_S, 86_400.0 - at_s % 86_400.0):
        # To the next noon.
        at_s += rest_s
        memory, messages = told((), memory, now_at(at_s), channel)
        covered += [cover for message in messages for cover in message.covers]
    assert len(covered) == len(set(covered))
    assert [cover for cover in covered if cover[1] == "raised" and cover not in urgent] == [
        cover for cover in raised if cover not in urgent
    ]


def test_memory_moves_to_another_boots_clock_whole() -> None:
    memory, _ = told([*_many(3), *_many(2, 10)], channel=NIGHT, now=at_night(100.0, 23))
    moved = shifted(memory, 50.0)
    assert moved != memory
    assert shifted(moved, -50.0) == memory
    assert from_text(as_text(memory)) == memory
