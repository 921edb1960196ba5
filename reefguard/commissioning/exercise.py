"""Did a load do what its output was told, each way?"""

from collections.abc import Sequence
from enum import Enum
from typing import NamedTuple

from reefguard.commissioning.record import FAILED, INCONCLUSIVE, PASSED


class Seen(Enum):
    """What a person saw of a load."""

    RUNS = "runs"
    STANDS = "stands"
    ANOTHER = "another load moved"
    UNSURE = "cannot tell"


class Move(NamedTuple):
    """An output stood on or off, and what was seen of its load."""

    on: bool
    seen: Seen


class Verdict(NamedTuple):
    """How it came out, in a word of `record`, in a sentence, and what to do."""

    outcome: str
    what: str
    mend: str


def judge(output: str, moves: Sequence[Move]) -> Verdict:
    """Judge all moves of one output together; there must be one each way for a verdict."""
    seen = {move.seen for move in moves}
    if Seen.ANOTHER in seen:
        return Verdict(
            FAILED,
            f"another load moved when {output} was switched",
            "two outputs are exchanged: compare the pins in the settings with the wires, then try each again",
        )
    if {move.on for move in moves} != {True, False} or Seen.UNSURE in seen:
        return Verdict(
            INCONCLUSIVE, f"{output} was not seen both ways", "exercise it again, and look at the load itself"
        )
    if all((move.seen is Seen.RUNS) == move.on for move in moves):
        return Verdict(PASSED, f"{output} was seen to run when on and to stand when off", "")
    if all((move.seen is Seen.RUNS) != move.on for move in moves):
        return Verdict(
            FAILED,
            f"{output} works the wrong way round: it ran when off and stood when on",
            "unplug its load now; `polarity` or `contact` in the settings is not as it is wired",
        )
    if seen == {Seen.STANDS}:
        return Verdict(
            FAILED,
            f"{output} never ran",
            "look at the load's plug and its own switch, at the wire from the pin, and at the relay's supply",
        )
    if seen == {Seen.RUNS}:
        return Verdict(
            FAILED,
            f"{output} never stopped",
            "unplug its load now, and have an electrician look: a contact is stuck, or a wire goes past it",
        )
    return Verdict(
        FAILED,
        f"{output} did not do the same each time",
        "look for a loose wire or plug, then exercise it again",
    )
