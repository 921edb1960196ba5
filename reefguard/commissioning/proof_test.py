"""Did the cutoff's contact stop the chiller?

Two contacts lie in series.  While the cutoff's is open for the test, the guard
leaves its own closed for a while (`control.chiller.PROOF_TEST_S`): only then
does a chiller that stands prove anything about the cutoff.
"""

from collections.abc import Mapping
from enum import Enum
from typing import Any, Final, NamedTuple

from reefguard.commissioning.record import FAILED, INCONCLUSIVE, PASSED
from reefguard.control.chiller import PROOF_TEST_S
from reefguard.control.words import span

# A chiller without power stands at once; a current sensor and two ticks need some seconds more (common
# practice).
FOLLOWS_WITHIN_S: Final = 60.0


class Look(NamedTuple):
    """What the guard's status showed at one tick.

    Attributes:
        at_s: boot clock.
        on: whether the guard's own contact was closed.
        on_since_s: since when it was as it is.
        running: the running feedback; `None` when none is wired or it could not be read.
    """

    at_s: float
    on: bool
    on_since_s: float
    running: bool | None


class Answer(Enum):
    """What a person says of the chiller."""

    STANDS = "it stands still"
    RUNS = "it runs on"
    UNSURE = "cannot tell"


class Verdict(NamedTuple):
    """How the test came out, in a word of `record`, and in a sentence."""

    outcome: str
    what: str


def look_at(status: Mapping[str, Any]) -> Look | None:
    """Return what a status of the guard shows of the chiller, or `None` when it shows none."""
    try:
        chiller = status["outputs"]["chiller"]
        running = status["chiller_feedback"]["running"]
        return Look(
            at_s=float(status["written_s"]),
            on=chiller["on"] is True,
            on_since_s=float(chiller["since_s"]),
            running=running if isinstance(running, bool) else None,
        )
    except (KeyError, TypeError, ValueError):
        return None


def by_feedback(look: Look, before: Look, opened_s: float) -> Verdict | None:
    """Judge one look by the running feedback; `None` goes on looking.

    Args:
        look: of a tick after the contact had opened.
        before: the last one before that, when the chiller ran, with both contacts closed.
        opened_s: when the cutoff opened its contact.
    """
    after_s = look.at_s - opened_s
    if after_s < 0.0:
        return None
    if not before.running:
        return Verdict(
            INCONCLUSIVE, "the feedback did not show the chiller running just before the cutoff opened"
        )
    if not _still_closed(look, before):
        return _OPENED_TOO
    if look.running is None:
        return Verdict(INCONCLUSIVE, "the running feedback could not be read while the contact was open")
    if not look.running:
        return Verdict(
            PASSED,
            f"the feedback showed the chiller standing {span(after_s)} after the cutoff had opened, "
            "while the guard's was closed",
        )
    if after_s < FOLLOWS_WITHIN_S:
        return None
    return Verdict(
        FAILED,
        f"the feedback showed the chiller running {span(after_s)} after the cutoff had opened its contact",
    )


def by_person(answer: Answer, look: Look | None, before: Look, opened_s: float) -> Verdict:
    """Judge by what a person says, at the moment it is said.

    Args:
        answer: what they say.
        look: of the first tick after that; `None` when the guard says nothing any more.
        before: when the chiller ran, with both contacts closed.
        opened_s: when the cutoff opened its contact.
    """
    if answer is Answer.RUNS:
        return Verdict(FAILED, "the chiller was seen to run on after the cutoff had opened its contact")
    if answer is Answer.UNSURE:
        return Verdict(INCONCLUSIVE, "nobody could tell whether the chiller stood still")
    if look is None or look.at_s < opened_s:
        return Verdict(INCONCLUSIVE, "the guard did not tell how its own contact stood")
    if not _still_closed(look, before) or look.at_s - opened_s > PROOF_TEST_S:
        return _OPENED_TOO
    return Verdict(
        PASSED,
        f"the chiller was seen to stand {span(look.at_s - opened_s)} after the cutoff had opened, "
        "while the guard's was closed",
    )


def _still_closed(look: Look, before: Look) -> bool:
    """Whether the guard's contact has been closed without a break since the chiller was seen to run."""
    return look.on and look.on_since_s == before.on_since_s


_OPENED_TOO: Final = Verdict(
    INCONCLUSIVE,
    "the guard opened its own contact before the chiller was seen to stand, "
    "so nobody can tell which of the two stopped it",
)
