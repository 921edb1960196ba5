"""What a person asks of an output: one session at a time, and it ends by itself."""

from typing import TYPE_CHECKING, cast

import pytest
from builders import NOON, bench_settings

from reefguard.guard.chronicle import Chronicle, Moment
from reefguard.guard.commands import AskedOfOutput
from reefguard.guard.wishes import LONGEST_SESSION_S, WishDesk
from reefguard.records.events import Event
from reefguard.vocabulary import Wall

if TYPE_CHECKING:
    from reefguard.records.event_queue import EventQueue


class Queue:
    def __init__(self) -> None:
        self.events: list[Event] = []

    def add(self, event: Event) -> None:
        self.events.append(event)


class Desk:
    """A desk, and what it noted."""

    def __init__(self) -> None:
        self.queue = Queue()
        self.desk = WishDesk(Chronicle(cast("EventQueue", self.queue), "boot"))

    def ask(
        self,
        at_s: float,
        on: bool | None,
        *,
        output: str = "fan1",
        session: str = "a",
        for_s: float = 60.0,
        renews: bool = False,
    ) -> str:
        asked = AskedOfOutput(output, on, for_s, session, renews)
        answer = self.desk.obey(asked, "ann", moment(at_s), bench_settings())
        return answer.get("error") or answer["said"]

    def on(self, at_s: float) -> bool | None:
        wish = self.desk.current(moment(at_s))
        return None if wish is None else wish.on

    def noted(self) -> list[str]:
        return [event.what for event in self.queue.events]


def moment(at_s: float) -> Moment:
    return Moment(at_s, Wall(NOON, trusted=True))


def test_it_lasts_as_long_as_was_asked_and_ends_by_itself() -> None:
    desk = Desk()
    assert desk.on(0.0) is None
    assert desk.ask(0.0, True) == "fan1 shall run for 1 min"
    assert desk.on(59.9) is True
    assert desk.on(60.0) is None
    assert desk.noted() == ["ann asks for fan1 to run", "what ann asked of fan1 has ended by itself"]
    assert {event.who for event in desk.queue.events} == {"ann"}


def test_renewing_is_no_event_and_changing_is_one() -> None:
    desk = Desk()
    for at_s in range(0, 300, 20):
        desk.ask(float(at_s), True)
    desk.ask(300.0, False)
    assert desk.on(310.0) is False
    assert desk.ask(320.0, None) == "nothing is asked of fan1 any more"
    assert desk.on(320.0) is None
    assert desk.noted() == [
        "ann asks for fan1 to run",
        "ann asks for fan1 to rest",
        "what ann asked of fan1 is over",
    ]


def test_a_session_that_was_lost_cannot_be_taken_up_again() -> None:
    desk = Desk()
    desk.ask(0.0, True)
    assert "has ended" in desk.ask(61.0, True)
    assert desk.on(61.0) is None
    assert "shall run" in desk.ask(62.0, True, session="b")


def test_a_forgotten_terminal_begins_nothing_after_another_persons_session() -> None:
    desk = Desk()
    desk.ask(0.0, False)
    assert desk.on(61.0) is None
    desk.ask(62.0, True, session="b")
    desk.ask(70.0, None, session="b")
    assert "has ended" in desk.ask(80.0, False, renews=True)
    assert desk.on(80.0) is None


def test_a_forgotten_terminal_begins_nothing_in_a_guard_that_has_restarted() -> None:
    assert "has ended" in Desk().ask(0.0, False, renews=True)


def test_a_renewal_lasts_as_long_as_any_wish() -> None:
    desk = Desk()
    desk.ask(0.0, True)
    assert desk.ask(50.0, True, renews=True) == "fan1 shall run for 1 min"
    assert desk.on(109.0) is True


def test_however_often_it_is_renewed_it_ends() -> None:
    desk = Desk()
    for at_s in range(0, int(LONGEST_SESSION_S), 30):
        desk.ask(float(at_s), True)
        assert desk.on(at_s + 29.0) is True
    assert desk.on(LONGEST_SESSION_S) is None
    assert "has ended" in desk.ask(LONGEST_SESSION_S, True)


@pytest.mark.parametrize(
    ("output", "session", "why"),
    [
        ("fan1", "b", "ann is exercising fan1; try again"),
        ("fan2", "a", "this session is about fan1"),
        ("heater", "a", "there is no output 'heater'; there are fan1, fan2, chiller"),
    ],
)
def test_only_one_thing_is_asked_at_a_time(output: str, session: str, why: str) -> None:
    desk = Desk()
    desk.ask(0.0, True)
    assert why in desk.ask(1.0, True, output=output, session=session)
    assert desk.on(2.0) is True


def test_another_session_cannot_let_go_what_is_not_its_own() -> None:
    desk = Desk()
    desk.ask(0.0, True)
    desk.ask(1.0, None, session="b")
    assert desk.on(2.0) is True
