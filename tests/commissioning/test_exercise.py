"""What is made of what a person saw."""

import pytest

from reefguard.commissioning.exercise import Move, Seen, judge


@pytest.mark.parametrize(
    ("moves", "outcome", "what"),
    [
        ([(True, Seen.RUNS), (False, Seen.STANDS)], "passed", "seen to run when on"),
        ([(False, Seen.STANDS), (True, Seen.RUNS)], "passed", "seen to run when on"),
        ([(True, Seen.STANDS), (False, Seen.RUNS)], "failed", "the wrong way round"),
        ([(True, Seen.STANDS), (False, Seen.STANDS)], "failed", "never ran"),
        ([(True, Seen.RUNS), (False, Seen.RUNS)], "failed", "never stopped"),
        ([(True, Seen.ANOTHER)], "failed", "another load moved"),
        ([(True, Seen.RUNS)], "inconclusive", "not seen both ways"),
        ([(True, Seen.UNSURE), (False, Seen.STANDS)], "inconclusive", "not seen both ways"),
        ([], "inconclusive", "not seen both ways"),
        (
            [(True, Seen.RUNS), (False, Seen.STANDS), (True, Seen.STANDS)],
            "failed",
            "not do the same each time",
        ),
    ],
)
def test_a_verdict(moves: list[tuple[bool, Seen]], outcome: str, what: str) -> None:
    verdict = judge("fan1", [Move(*move) for move in moves])
    assert verdict.outcome == outcome
    assert what in verdict.what
    assert bool(verdict.mend) == (outcome != "passed")
