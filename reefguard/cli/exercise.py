"""`reefguard exercise OUTPUT`: does its load run when it is on, and stand when it is off?"""

import sys
from pathlib import Path
from typing import Final

import click

from reefguard.cli.asking import AskedOutput
from reefguard.cli.conversation import Ended, NotPossible, Standing, agreed, chosen, ending_in_words, tell
from reefguard.cli.file_options import settings_option
from reefguard.cli.running_tank import RunningTank, open_tank
from reefguard.commissioning.exercise import Move, Seen, Verdict, judge
from reefguard.commissioning.record import EXERCISE, FAILED, PASSED, STOPPED
from reefguard.control.step import output_names

_SAYS: Final = {
    "runs": Seen.RUNS,
    "stands": Seen.STANDS,
    "another moved": Seen.ANOTHER,
    "cannot tell": Seen.UNSURE,
}


@click.command()
@click.argument("output")
@settings_option
def exercise(output: str, settings_file: Path) -> None:
    """Switch OUTPUT both ways under your eyes, and put on record what you saw.

    The running guard does the switching, within all its holds and the compressor's rest; you are asked
    before each move.  When you end it, or your connection does, the guard goes on as before.
    Exit code: 0 passed, 1 not done or inconclusive, 2 failed, 130 stopped.
    """
    tank = open_tank(settings_file)
    with ending_in_words() as standing:
        names = output_names(tank.settings)
        if output not in names:
            raise NotPossible(f"there is no output {output!r}; mend: name one of {', '.join(names)}")
        verdict = _made(tank, output, standing)
    tell(f"\n{verdict.outcome}: {verdict.what}")
    if verdict.mend:
        tell(f"  mend: {verdict.mend}")
    sys.exit({PASSED: Ended.PASSED, FAILED: Ended.FAILED}.get(verdict.outcome, Ended.NOT_DONE))


def _made(tank: RunningTank, output: str, standing: Standing) -> Verdict:
    """Lead the person through it; return how it came out, once that is on record."""
    moves: list[Move] = []
    with AskedOutput(tank, output) as asked:
        shown = asked.shown(tank.status())
        on = shown.get("on") is True
        tell(f"{output} is {_word(on)} now: {shown.get('why', 'no reason is known')}")
        tell("Look at its load itself, not at the relay.  Ctrl-C ends it; the guard then goes on as before.")
        try:
            _moved(asked, output, on, moves, standing)
        except (click.Abort, KeyboardInterrupt):
            if standing.words != Standing().words:
                what = f"the person ended it after {len(moves)} of 2 moves"
                _record(tank, output, Verdict(STOPPED, what, ""), moves)
            raise
        except NotPossible:
            # What was seen before the guard went, or held the output, was seen.
            if moves:
                _record(tank, output, judge(output, moves), moves)
            raise
    if not moves:
        raise NotPossible("nothing was moved; nothing is on record")
    verdict = judge(output, moves)
    _record(tank, output, verdict, moves)
    return verdict


def _moved(asked: AskedOutput, output: str, on: bool, moves: list[Move], standing: Standing) -> None:
    """Turn it the other way and back, asking before each move and after it."""
    for turned in (not on, on):
        if not agreed(f"\nTurn {output} {_word(turned)} now?"):
            tell("  left as it is")
            return
        standing.words = f"the guard has {output} back, and does with it what the water asks for"
        shown = asked.turn(on=turned)
        tell(f"  {output} is {_word(turned)}")
        seen = chosen("What does its load do?", _SAYS)
        if not asked.stands_as(shown):
            tell("  the guard has switched it meanwhile, so this does not count")
            seen = Seen.UNSURE
        moves.append(Move(turned, seen))
        if seen is Seen.ANOTHER or (turned and seen is Seen.UNSURE):
            return


def _record(tank: RunningTank, output: str, verdict: Verdict, moves: list[Move]) -> None:
    details = {"moves": [{"on": move.on, "seen": move.seen.value} for move in moves]}
    tank.put_on_record(EXERCISE, output, verdict.outcome, verdict.what, details)


def _word(on: bool) -> str:
    return "on" if on else "off"
