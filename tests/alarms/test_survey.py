"""All alarms of a tank, from findings to events."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.alarms.catalogue import CATALOGUE, Kind, Priority, delivery_failing, explained, kind_of
from reefguard.alarms.machine import Acknowledge, Shelve, State, Transition
from reefguard.alarms.survey import NOTHING, Event, Memory, survey
from reefguard.vocabulary import Finding, Severity


def finding(name: str) -> Finding:
    return Finding(Severity.CRITICAL, name, f"{name}, in a sentence", "mend it")


class Life:
    """Findings from second to second."""

    def __init__(self) -> None:
        self.memory: Memory = NOTHING
        self.now_s = 0.0
        self.events: list[Event] = []

    def last(self, seconds: float, *names: str, **more: object) -> list[Event]:
        """Let these findings stand for so long, a tick every 5 s; return what happened."""
        happened: list[Event] = []
        until_s = self.now_s + seconds
        while self.now_s < until_s:
            self.memory, events = survey(
                self.memory,
                [finding(name) for name in names],
                now_s=self.now_s,
                **more,  # type: ignore[arg-type]  # a test names what it changes
            )
            happened.extend(events)
            self.now_s += 5.0
        return happened


def gist(events: list[Event]) -> list[tuple[str, Transition]]:
    return [(event.alarm, event.transition) for event in events]


def test_warm_water_is_told_after_a_minute_and_once() -> None:
    life = Life()
    assert life.last(60, "water high") == []
    assert gist(life.last(600, "water high")) == [("water high", Transition.RAISED)]


def test_a_return_says_how_long_it_stood() -> None:
    life = Life()
    life.last(605, "water high")
    (event,) = life.last(2_000)
    assert event.transition is Transition.RETURNED
    assert event.lasted_s == 605.0


def test_what_nobody_acknowledged_is_kept_and_what_somebody_did_is_forgotten() -> None:
    life = Life()
    life.last(600, "water high")
    life.last(2_000)
    assert life.memory.alarms["water high"].alarm.state is State.RETURNED
    life.last(5, commands={"water high": Acknowledge()})
    assert life.memory.alarms == {}


def test_far_too_high_explains_high() -> None:
    life = Life()
    told = life.last(600, "water high", "water far too high")
    raised = [event.alarm for event in told if event.transition is Transition.RAISED]
    assert raised == ["water far too high"]
    assert life.memory.alarms["water high"].alarm.state is State.SUPPRESSED


def test_probes_are_alarms_of_their_own() -> None:
    life = Life()
    told = life.last(300, "probe display not used", "probe sump not used")
    assert {event.alarm for event in told} == {"probe display not used", "probe sump not used"}


def test_a_finding_nobody_is_woken_for_is_no_alarm() -> None:
    life = Life()
    assert life.last(3_600, "water awaited") == []
    assert life.memory.alarms == {}


def test_a_shelved_alarm_is_quiet_and_comes_back() -> None:
    life = Life()
    life.last(100, "water high")
    assert gist(life.last(5, "water high", commands={"water high": Shelve(1_000.0)})) == [
        ("water high", Transition.SHELVED)
    ]
    assert life.last(890, "water high") == []
    assert gist(life.last(20, "water high")) == [
        ("water high", Transition.UNSHELVED),
        ("water high", Transition.RAISED),
    ]


def test_a_kind_out_of_service_is_quiet_altogether() -> None:
    life = Life()
    told = life.last(600, "probe display not used", out_of_service=frozenset({"probe * not used"}))
    assert gist(told) == [("probe display not used", Transition.TAKEN_OUT)]


def test_the_most_urgent_comes_first() -> None:
    life = Life()
    told = life.last(5, "fan1 all day", "no water", "chiller long run")
    assert [event.priority for event in told] == [Priority.URGENT, Priority.MEDIUM, Priority.LOW]


NAMES = [kind.name.replace("*", "left") for kind in CATALOGUE]


@settings(deadline=None)
@given(st.lists(st.tuples(st.sets(st.sampled_from(NAMES), max_size=4), st.integers(1, 200)), max_size=12))
def test_nothing_returns_that_was_not_raised_or_kept_quiet(life: list[tuple[set[str], int]]) -> None:
    lived = Life()
    standing: set[str] = set()
    for names, ticks in life:
        for event in lived.last(5.0 * ticks, *sorted(names)):
            if event.transition in (Transition.RAISED, Transition.SUPPRESSED):
                standing.add(event.alarm)
            if event.transition is Transition.RETURNED:
                assert event.alarm in standing
                assert event.lasted_s is not None
                assert event.lasted_s > 0.0


@settings(deadline=None, max_examples=50)
@given(st.lists(st.tuples(st.sets(st.sampled_from(NAMES), max_size=4), st.integers(1, 60)), max_size=8))
def test_what_is_settled_stays_what_it_was(life: list[tuple[set[str], int]]) -> None:
    """The short way of a settled memory and the long way come out the same."""
    short, long = NOTHING, NOTHING
    now_s = 0.0
    for names, ticks in life:
        findings = [finding(name) for name in sorted(names)]
        for _ in range(ticks):
            now_s += 5.0
            short, told = survey(short, findings, now_s=now_s)
            long, told_too = survey(long._replace(settled=None), findings, now_s=now_s)
            assert (told, short.alarms) == (told_too, long.alarms)


@pytest.mark.parametrize("kind", CATALOGUE, ids=lambda kind: kind.name)
def test_every_alarm_says_what_it_means_and_what_to_do_first(kind: Kind) -> None:
    assert len(kind.means) > 15
    assert len(kind.first) > 15
    assert kind.priority.within
    assert kind_of(kind.name.replace("*", "x")) is kind
    names = {one.name for one in CATALOGUE}
    assert set(kind.explained_by) <= names
    assert not explained(kind, [])


def test_the_shares_of_priorities_are_not_upside_down() -> None:
    """ISA-18.2 wants few alarms of the highest priority in use; in the catalogue they are a minority."""
    urgent = sum(kind.priority is Priority.URGENT for kind in CATALOGUE)
    assert urgent <= len(CATALOGUE) / 3


def test_a_channel_that_fails_has_a_kind_by_whatever_name_it_goes() -> None:
    kind = kind_of(delivery_failing("mail-2"))
    assert kind is not None
    assert (kind.name, kind.priority) == ("delivery to * failing", Priority.HIGH)
