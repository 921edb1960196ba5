"""Only a chiller that stands while the guard's own contact is closed proves anything of the cutoff's."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reefguard.commissioning.proof_test import (
    FOLLOWS_WITHIN_S,
    Answer,
    Look,
    by_feedback,
    by_person,
    look_at,
)
from reefguard.control.chiller import PROOF_TEST_S

BEFORE = Look(at_s=1_000.0, on=True, on_since_s=400.0, running=True)
OPENED_S = 1_002.0


def look(after_s: float, *, running: bool | None = True, on: bool = True, on_since_s: float = 400.0) -> Look:
    return Look(OPENED_S + after_s, on, on_since_s, running)


@pytest.mark.parametrize(
    ("seen", "outcome"),
    [
        (look(-1.0, running=False), None),
        (look(3.0), None),
        (look(3.0, running=False), "passed"),
        (look(59.9), None),
        (look(FOLLOWS_WITHIN_S), "failed"),
        (look(110.0, running=False), "passed"),
        (look(3.0, running=None), "inconclusive"),
        (look(3.0, running=False, on=False, on_since_s=1_003.0), "inconclusive"),
        # Off and on again since: nobody saw what stopped it.
        (look(3.0, running=False, on_since_s=1_001.0), "inconclusive"),
    ],
)
def test_the_feedbacks_verdict(seen: Look, outcome: str | None) -> None:
    verdict = by_feedback(seen, BEFORE, OPENED_S)
    assert (None if verdict is None else verdict.outcome) == outcome


@pytest.mark.parametrize("running", [False, None])
def test_a_chiller_that_its_own_thermostat_had_stopped_before_proves_nothing(running: bool | None) -> None:
    verdict = by_feedback(look(3.0, running=False), BEFORE._replace(running=running), OPENED_S)
    assert verdict is not None
    assert verdict.outcome == "inconclusive"


@pytest.mark.parametrize(
    ("answer", "seen", "outcome"),
    [
        (Answer.STANDS, look(30.0), "passed"),
        (Answer.STANDS, look(PROOF_TEST_S), "passed"),
        (Answer.STANDS, look(PROOF_TEST_S + 0.1), "inconclusive"),
        (Answer.STANDS, look(125.0, on=False, on_since_s=1_122.0), "inconclusive"),
        (Answer.STANDS, None, "inconclusive"),
        (Answer.STANDS, look(-0.1), "inconclusive"),
        (Answer.RUNS, look(30.0), "failed"),
        (Answer.RUNS, None, "failed"),
        (Answer.UNSURE, look(30.0), "inconclusive"),
    ],
)
def test_a_persons_verdict(answer: Answer, seen: Look | None, outcome: str) -> None:
    assert by_person(answer, seen, BEFORE, OPENED_S).outcome == outcome


looks = st.builds(
    Look,
    st.floats(900.0, 1_500.0),
    st.booleans(),
    st.sampled_from([400.0, 1_001.0, 1_050.0]),
    st.none() | st.booleans(),
)


@given(looks, st.sampled_from(Answer))
def test_nothing_passes_while_the_guards_contact_is_open(seen: Look, answer: Answer) -> None:
    verdict = by_feedback(seen, BEFORE, OPENED_S)
    passed = (verdict is not None and verdict.outcome == "passed") or (
        by_person(answer, seen, BEFORE, OPENED_S).outcome == "passed"
    )
    if passed:
        assert seen.on
        assert seen.on_since_s == 400.0


@pytest.mark.parametrize(
    "status",
    [
        {},
        {"outputs": {}},
        {"outputs": {"chiller": 3}},
        {"outputs": {"chiller": {"on": True}}, "written_s": "x"},
    ],
)
def test_a_status_without_a_chiller_shows_none(status: dict[str, object]) -> None:
    assert look_at(status) is None
