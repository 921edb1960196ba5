"""The alarm's state machine, explored over every reachable state and every input.

The rules are those of ANSI/ISA-18.2-2016 and IEC 62682 as texts that quote them give them (the standards
themselves were not at hand), and of OPC UA part 9 (v1.05) for shelving.
"""

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import product

import pytest

from reefguard.alarms.machine import (
    Acknowledge,
    Alarm,
    Command,
    Happened,
    Reset,
    Rule,
    Shelve,
    State,
    Transition,
    Unshelve,
    step,
)

RULES = [
    Rule(on_delay_s=on_delay_s, off_delay_s=off_delay_s, latching=latching)
    for on_delay_s, off_delay_s, latching in product((0.0, 2.0), (0.0, 2.0), (False, True))
]
SHELF_S = 3.0


@dataclass(frozen=True)
class Given:
    """One step's inputs."""

    condition: bool | None
    command: str | None
    suppressed: bool
    out_of_service: bool


GIVEN = [
    Given(*given)
    for given in product(
        (True, False, None),
        (None, "acknowledge", "reset", "shelve", "unshelve"),
        (False, True),
        (False, True),
    )
]


def command_of(name: str | None, now_s: float) -> Command | None:
    return {
        None: None,
        "acknowledge": Acknowledge(),
        "reset": Reset(),
        "shelve": Shelve(now_s + SHELF_S),
        "unshelve": Unshelve(),
    }[name]


def stepped(alarm: Alarm, given: Given, now_s: float, rule: Rule) -> Happened:
    return step(
        alarm,
        condition=given.condition,
        now_s=now_s,
        rule=rule,
        command=command_of(given.command, now_s),
        suppressed=given.suppressed,
        out_of_service=given.out_of_service,
    )


def now(alarm: Alarm, now_s: float) -> Alarm:
    """Return the alarm with its times as ages, so that the same state at another time is the same."""
    return alarm._replace(
        turning_since_s=None if alarm.turning_since_s is None else alarm.turning_since_s - now_s,
        shelved_until_s=None if alarm.shelved_until_s is None else alarm.shelved_until_s - now_s,
        raised_s=None,
    )


# Older than every delay is old: else the ages of what nobody can tell would never end.
OLD_S = 4.0


def a_second_later(alarm: Alarm) -> Alarm:
    return alarm._replace(
        turning_since_s=None if alarm.turning_since_s is None else max(-OLD_S, alarm.turning_since_s - 1.0),
        shelved_until_s=None if alarm.shelved_until_s is None else alarm.shelved_until_s - 1.0,
    )


def everything(rule: Rule) -> Iterator[tuple[Alarm, Given, Happened]]:
    """Yield every step from every reachable state, a second apart; times are as seen from the step."""
    first = Alarm()
    seen = {first}
    waiting = deque([first])
    while waiting:
        before = a_second_later(waiting.popleft())
        for given in GIVEN:
            happened = stepped(before, given, 0.0, rule)
            yield before, given, happened
            after = now(happened.alarm, 0.0)
            if after not in seen:
                seen.add(after)
                waiting.append(after)


# The alarm before, what is given, the alarm after, what is told, the kind's rule -> kept or not.
Law = Callable[[Alarm, Given, Alarm, tuple[Transition, ...], Rule], bool]


def acknowledging_never_clears(
    before: Alarm, given: Given, after: Alarm, told: tuple[Transition, ...], rule: Rule
) -> bool:
    return given.command != "acknowledge" or after.active or not before.active or Transition.RETURNED in told


def only_a_person_makes_it_known(
    before: Alarm, given: Given, after: Alarm, told: tuple[Transition, ...], rule: Rule
) -> bool:
    known = before.unacknowledged and not after.unacknowledged
    return not known or given.command in ("acknowledge", "reset", "shelve") or given.out_of_service


def a_reset_does_nothing_while_the_cause_lasts(
    before: Alarm, given: Given, after: Alarm, told: tuple[Transition, ...], rule: Rule
) -> bool:
    return not before.active or Transition.RESET not in told


def a_latch_is_left_by_a_reset_only(
    before: Alarm, given: Given, after: Alarm, told: tuple[Transition, ...], rule: Rule
) -> bool:
    left = before.latched and not after.latched
    return (not left or given.command == "reset") and (rule.latching or not after.latched)


def what_is_kept_quiet_asks_for_nothing_new(
    before: Alarm, given: Given, after: Alarm, told: tuple[Transition, ...], rule: Rule
) -> bool:
    return not after.quiet or before.unacknowledged or not after.unacknowledged


def shelves_end(before: Alarm, given: Given, after: Alarm, told: tuple[Transition, ...], rule: Rule) -> bool:
    return after.shelved_until_s is None or 0.0 < after.shelved_until_s <= SHELF_S


def the_unknown_changes_nothing(
    before: Alarm, given: Given, after: Alarm, told: tuple[Transition, ...], rule: Rule
) -> bool:
    same = (after.active, after.turning_since_s) == (before.active, before.turning_since_s)
    return given.condition is not None or same


def delays_are_kept(
    before: Alarm, given: Given, after: Alarm, told: tuple[Transition, ...], rule: Rule
) -> bool:
    if given.condition is None or given.condition is before.active:
        return after.active is before.active
    age_s = 0.0 if before.turning_since_s is None else -before.turning_since_s
    delay_s = rule.on_delay_s if given.condition else rule.off_delay_s
    return (after.active is given.condition) == (age_s >= delay_s)


def what_is_new_to_know_was_raised(
    before: Alarm, given: Given, after: Alarm, told: tuple[Transition, ...], rule: Rule
) -> bool:
    new = after.unacknowledged and not before.unacknowledged
    return (not new or Transition.RAISED in told) and (Transition.RAISED not in told or after.unacknowledged)


def a_return_is_told_once(
    before: Alarm, given: Given, after: Alarm, told: tuple[Transition, ...], rule: Rule
) -> bool:
    return (Transition.RETURNED in told) == (before.active and not after.active)


def nothing_is_told_twice_or_for_nothing(
    before: Alarm, given: Given, after: Alarm, told: tuple[Transition, ...], rule: Rule
) -> bool:
    return len(set(told)) == len(told) and (after != before or not told)


def what_stands_is_announced_when_nothing_keeps_it_quiet_any_more(
    before: Alarm, given: Given, after: Alarm, told: tuple[Transition, ...], rule: Rule
) -> bool:
    freed = before.quiet and not after.quiet
    return not freed or not after.active or after.unacknowledged


LAWS: list[Law] = [
    acknowledging_never_clears,
    only_a_person_makes_it_known,
    a_reset_does_nothing_while_the_cause_lasts,
    a_latch_is_left_by_a_reset_only,
    what_is_kept_quiet_asks_for_nothing_new,
    shelves_end,
    the_unknown_changes_nothing,
    delays_are_kept,
    what_is_new_to_know_was_raised,
    a_return_is_told_once,
    nothing_is_told_twice_or_for_nothing,
    what_stands_is_announced_when_nothing_keeps_it_quiet_any_more,
]


@pytest.mark.parametrize("rule", RULES, ids=str)
def test_every_law_holds_in_every_reachable_state(rule: Rule) -> None:
    states = set()
    for before, given, (after, told) in everything(rule):
        states.add(after.state)
        for law in LAWS:
            assert law(before, given, after, told, rule), (law.__name__, before, given, after, told)
    unreachable = {State.RETURNED} if rule.latching else set()
    if not rule.latching:
        unreachable = {State.LATCHED_UNACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED}
    assert states == set(State) - unreachable


def raised(rule: Rule = RULES[0]) -> Alarm:
    return step(Alarm(), condition=True, now_s=0.0, rule=rule).alarm


def test_a_flicker_shorter_than_the_on_delay_is_never_heard_of() -> None:
    rule = Rule(on_delay_s=60.0)
    alarm = Alarm()
    for second in range(600):
        alarm, told = step(alarm, condition=second % 60 < 59, now_s=float(second), rule=rule)
        assert told == ()


def test_the_exact_second_of_the_on_delay_raises() -> None:
    rule = Rule(on_delay_s=60.0)
    alarm = step(Alarm(), condition=True, now_s=0.0, rule=rule).alarm
    assert step(alarm, condition=True, now_s=59.9, rule=rule).transitions == ()
    assert step(alarm, condition=True, now_s=60.0, rule=rule).transitions == (Transition.RAISED,)


def test_a_raised_alarm_says_since_when_it_was_so_not_since_when_it_was_told() -> None:
    rule = Rule(on_delay_s=60.0)
    alarm = step(Alarm(), condition=True, now_s=100.0, rule=rule).alarm
    assert step(alarm, condition=True, now_s=160.0, rule=rule).alarm.raised_s == 100.0


def test_a_return_acknowledged_before_is_normal_at_once() -> None:
    known = step(raised(), condition=True, now_s=1.0, rule=RULES[0], command=Acknowledge()).alarm
    assert known.state is State.ACKNOWLEDGED
    assert step(known, condition=False, now_s=2.0, rule=RULES[0]).alarm.state is State.NORMAL


def test_a_return_nobody_acknowledged_waits_to_be_seen() -> None:
    gone = step(raised(), condition=False, now_s=2.0, rule=RULES[0]).alarm
    assert gone.state is State.RETURNED
    assert step(gone, condition=False, now_s=3.0, rule=RULES[0], command=Acknowledge()).alarm == Alarm(
        raised_s=0.0
    )


def test_an_acknowledgement_in_the_tick_of_a_new_alarm_is_not_for_it() -> None:
    """The command comes first: nobody can have seen what happens in the same moment."""
    both = step(Alarm(), condition=True, now_s=0.0, rule=RULES[0], command=Acknowledge())
    assert both.alarm.unacknowledged
    assert both.transitions == (Transition.RAISED,)


def test_a_shelved_alarm_comes_back_by_itself_while_its_cause_lasts() -> None:
    rule = RULES[0]
    away = step(raised(), condition=True, now_s=1.0, rule=rule, command=Shelve(100.0)).alarm
    assert away.state is State.SHELVED
    assert step(away, condition=True, now_s=99.0, rule=rule).transitions == ()
    back = step(away, condition=True, now_s=100.0, rule=rule)
    assert back.transitions == (Transition.UNSHELVED, Transition.RAISED)
    assert back.alarm.state is State.UNACKNOWLEDGED


def test_a_shelf_that_ends_in_the_past_is_none() -> None:
    assert step(raised(), condition=True, now_s=5.0, rule=RULES[0], command=Shelve(5.0)).transitions == ()


def test_what_is_suppressed_is_raised_when_what_explained_it_has_gone() -> None:
    rule = RULES[0]
    quiet = step(Alarm(), condition=True, now_s=0.0, rule=rule, suppressed=True)
    assert quiet.transitions == (Transition.SUPPRESSED,)
    free = step(quiet.alarm, condition=True, now_s=1.0, rule=rule)
    assert free.transitions == (Transition.UNSUPPRESSED, Transition.RAISED)


def test_a_latched_alarm_is_held_until_a_reset() -> None:
    rule = Rule(latching=True)
    held = step(raised(rule), condition=False, now_s=1.0, rule=rule).alarm
    assert held.state is State.LATCHED_UNACKNOWLEDGED
    known = step(held, condition=False, now_s=2.0, rule=rule, command=Acknowledge()).alarm
    assert known.state is State.LATCHED_ACKNOWLEDGED
    free = step(known, condition=False, now_s=3.0, rule=rule, command=Reset())
    assert free.transitions == (Transition.RESET,)
    assert free.alarm.state is State.NORMAL


def test_a_latched_alarm_whose_cause_comes_back_is_raised_again() -> None:
    rule = Rule(latching=True)
    held = step(raised(rule), condition=False, now_s=1.0, rule=rule).alarm
    known = step(held, condition=False, now_s=2.0, rule=rule, command=Acknowledge()).alarm
    again = step(known, condition=True, now_s=3.0, rule=rule)
    assert again.transitions == (Transition.RAISED,)
    assert again.alarm.state is State.UNACKNOWLEDGED
