"""Proof tests of the cutoff: when one is due, and what the guard does while one is made."""

from datetime import timedelta

import pytest
from builders import NOON, Life, bench_settings
from hypothesis import given
from hypothesis import strategies as st

from reefguard.control.chiller import PROOF_TEST_S, is_proof_test
from reefguard.control.findings import find
from reefguard.control.proof_tests import due_at, proof_findings
from reefguard.cutoff.limits import _REST  # the shortest rest that a limits file may name
from reefguard.cutoff.quantities import Wrong
from reefguard.vocabulary import CutoffReport, ProofTests, Reason, Wall

DAY = timedelta(days=1)


def names(tests: ProofTests, every_days: float | None = 90.0, *, trusted: bool = True) -> list[str]:
    return [one.name for one in proof_findings(tests, Wall(NOON, trusted), every_days)]


@pytest.mark.parametrize(
    ("tests", "found"),
    [
        (ProofTests(), ["proof test overdue"]),
        (ProofTests(passed=NOON), []),
        (ProofTests(passed=NOON - 90 * DAY + timedelta(seconds=1)), []),
        (ProofTests(passed=NOON - 90 * DAY), ["proof test overdue"]),
        (ProofTests(passed=NOON - 5 * DAY, failed=NOON - DAY), ["proof test failed"]),
        (ProofTests(failed=NOON - DAY), ["proof test failed", "proof test overdue"]),
        (ProofTests(passed=NOON + timedelta(hours=23)), []),
        (ProofTests(passed=NOON + 2 * DAY), ["proof test overdue"]),
    ],
)
def test_when_a_proof_test_is_due(tests: ProofTests, found: list[str]) -> None:
    assert names(tests) == found


def test_whoever_asks_for_none_is_told_of_a_failed_one_only() -> None:
    assert names(ProofTests(), None) == []
    assert names(ProofTests(failed=NOON), None) == ["proof test failed"]
    assert due_at(ProofTests(passed=NOON), None) is None
    assert due_at(ProofTests(passed=NOON), 90.0) == NOON + 90 * DAY


def test_a_clock_that_is_not_known_to_be_right_reminds_all_the_same() -> None:
    assert names(ProofTests(passed=NOON - 91 * DAY), trusted=False) == ["proof test overdue"]
    # At a boot without a network the clock may lag behind the last test.
    assert names(ProofTests(passed=NOON + 30 * DAY), trusted=False) == []


def test_the_guard_tells_of_them_once_it_has_read_the_record() -> None:
    def told(known: ProofTests | None) -> list[str]:
        life = Life()
        life.tick(25.5, proof_tests=known)
        found = find(life.memory, life.decision, life.last_inputs, bench_settings())
        return [one.name for one in found if one.name.startswith("proof test")]

    assert told(ProofTests()) == ["proof test overdue"]
    # Not read yet is not the same as never passed.
    assert told(None) == []


def under_test(now_s: float, since_s: float) -> CutoffReport:
    return CutoffReport("held off", permits=False, why="a proof test", at_s=now_s, proof_test_since_s=since_s)


def running() -> Life:
    life = Life()
    life.last(600.0, 27.5)
    assert life.command("chiller").on
    return life


def test_the_guard_leaves_its_contact_closed_for_the_test_and_no_longer() -> None:
    life = running()
    begun_s = life.now_s
    while life.now_s - begun_s + 5.0 <= PROOF_TEST_S:
        life.tick(27.5, cutoff=under_test(life.now_s + 5.0, begun_s))
        assert life.command("chiller").on
    life.tick(27.5, cutoff=under_test(life.now_s + 5.0, begun_s))
    chiller = life.command("chiller")
    assert not chiller.on
    assert chiller.blocked is not None
    assert chiller.blocked.reason is Reason.CUTOFF_HOLDS


def test_no_chiller_starts_because_of_a_test() -> None:
    life = Life()
    for _ in range(200):
        life.tick(27.5, cutoff=under_test(life.now_s + 5.0, life.now_s))
        assert not life.command("chiller").on


@pytest.mark.parametrize("what", ["cold", "lost", "silent"])
def test_every_other_protection_stops_it_during_a_test(what: str) -> None:
    life = running()
    for _ in range(15):
        # A cutoff that says at every tick that a test has just begun.
        report = under_test(life.now_s, life.now_s)
        match what:
            case "cold":
                life.tick(23.9, cutoff=report)
            case "lost":
                life.tick({}, cutoff=report)
            case "silent":
                life.tick(27.5, cutoff=report._replace(at_s=life.now_s - 31.0))
    assert not life.command("chiller").on


@given(st.floats(allow_nan=True, allow_infinity=True), st.floats(0.0, 1e6))
def test_only_a_test_of_the_last_moments_is_one(since_s: float, now_s: float) -> None:
    watched = is_proof_test(under_test(now_s, since_s), now_s)
    assert watched == (0.0 <= now_s - since_s <= PROOF_TEST_S)
    assert not is_proof_test(under_test(now_s, now_s)._replace(permits=True), now_s)
    assert not is_proof_test(None, now_s)


def test_the_guards_contact_is_open_before_any_cutoff_may_close_its_own() -> None:
    _REST("180 s")
    with pytest.raises(Wrong):
        _REST("179 s")
    assert PROOF_TEST_S < 180.0


def test_a_test_raises_no_alarm_of_its_own() -> None:
    life = running()
    # Long enough for a chiller that stands to be worth a finding of its own.
    life.last(700.0, 27.5)
    life.tick(27.5, cutoff=under_test(life.now_s + 5.0, life.now_s), chiller_running=False)
    found = [one.name for one in find(life.memory, life.decision, life.last_inputs, bench_settings())]
    assert found == ["proof test"]
    long_ago = under_test(life.now_s + 5.0, life.now_s - 1_000.0)
    life.tick(27.5, cutoff=long_ago)
    assert "cutoff holds" in [
        one.name for one in find(life.memory, life.decision, life.last_inputs, bench_settings())
    ]
