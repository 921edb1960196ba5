"""Is a proof test of the cutoff due?

A contact that has welded shut shows itself only when it must open, so somebody
has to see it open from time to time.  A quarterly test finds such a hidden
fault four times as soon as a yearly one.  The calendar decides, also where the
clock is not known to be right: a reminder at the wrong time does no harm, none
at all may.
"""

from collections.abc import Iterator
from datetime import datetime, timedelta

from reefguard.vocabulary import Finding, ProofTests, Severity, Wall

# A record dated further ahead than this was made by a clock that was wrong.
_AHEAD = timedelta(days=1)


def due_at(tests: ProofTests, every_days: float | None) -> datetime | None:
    """Return when the next test is due; `None` when none is asked for, or none was ever passed."""
    if every_days is None or tests.passed is None:
        return None
    return tests.passed + timedelta(days=every_days)


def proof_findings(tests: ProofTests, wall: Wall, every_days: float | None) -> Iterator[Finding]:
    """Return what a person should know of the proof tests on record."""
    if tests.failed is not None:
        yield Finding(
            Severity.CRITICAL,
            "proof test failed",
            f"in the proof test of {tests.failed:%Y-%m-%d} the cutoff did not stop the chiller",
            "unplug the chiller whenever nobody watches it; have an electrician look at the cutoff's relay, "
            "then run `reefguard proof-test` again",
        )
    if every_days is None:
        return
    why = _overdue(tests, wall, every_days)
    if why is not None:
        yield Finding(
            Severity.WARNING,
            "proof test overdue",
            why,
            "run `reefguard proof-test` when the chiller runs, and see it stop",
        )


def _overdue(tests: ProofTests, wall: Wall, every_days: float) -> str | None:
    if tests.passed is None:
        return "no passed proof test is on record: nobody has seen the cutoff stop the chiller"
    passed = f"{tests.passed:%Y-%m-%d}"
    elapsed = wall.local - tests.passed
    if elapsed >= timedelta(days=every_days):
        doubt = "" if wall.trusted else " (by a clock not known to be right)"
        return (
            f"the cutoff was last seen to stop the chiller on {passed}, {elapsed.days} days ago{doubt}; "
            f"that was due after {every_days:g} days"
        )
    if wall.trusted and elapsed < -_AHEAD:
        return f"the last proof test is dated {passed}, which is still to come: a clock was wrong then"
    return None
