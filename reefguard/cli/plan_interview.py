"""`reefguard plan --ask`: the keeper is asked for the tank in plain questions.

Answers are kept as they were given, and read by the reader of plan files: the
file that is written at the end says exactly what was planned.  All of it goes
to standard error; standard output is the plan's.
"""

import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Final

import click

from reefguard.cli.plan_questions import GROUPS, NAME, Group, Question
from reefguard.records.files import replace_file
from reefguard.settings.declaration import Field
from reefguard.settings.fields import every_key
from reefguard.settings.outcome import Rejected
from reefguard.settings.plan_fields import PLAN_FILE
from reefguard.settings.plan_model import TankPlan
from reefguard.settings.plan_quantities import LENGTH, WATER_VOLUME
from reefguard.settings.plan_reading import broken_so_far, read_plan
from reefguard.settings.plan_writing import plan_text
from reefguard.settings.problems import TOP, shown
from reefguard.settings.quantities import NUMBER, MisreadError
from reefguard.settings.yaml_nodes import Scalar

_KINDS: Final = {key: part.kind for key, part in every_key(PLAN_FILE) if isinstance(part, Field)}
_SIZES: Final = ("length", "width", "depth")
# Rock, sand and the rim take about a tenth (common practice).
_FILLED: Final = 0.9
_SHOWN: Final = 60  # characters of an answer that is told again
_STOPPED: Final = 130  # as after an interrupt: 128 and the signal's number


def interview() -> TankPlan:
    """Ask for the tank, offer to keep the answers in a file, and return the plan.

    Raises:
        click.exceptions.Exit: the keeper ended it (Ctrl-C, or the end of the input).
    """
    try:
        text = plan_text(ask())
        _offer_to_keep(text)
    except click.Abort:
        _tell("\nstopped; nothing was planned, and nothing was written")
        raise click.exceptions.Exit(_STOPPED) from None
    outcome = read_plan(text.encode())
    if isinstance(outcome, Rejected):
        message = f"answers that were taken do not read: {outcome.problems[0]}"
        raise TypeError(message)
    return outcome.plan


def ask() -> dict[str, str]:
    """Return the answers by the key of the plan file, as they were given.

    Each can be read, and together they break no rule.

    Raises:
        click.Abort: the keeper ended it.
    """
    _tell("Enter takes the answer in brackets.  A number without a unit is taken in the unit shown there;")
    _tell("°C or °F, cm or in, L or gal, W or BTU/h: each answer may have its own.  Ctrl-C ends.")
    american = _choose_units()
    answers = {"show_temperatures_in": "°F" if american else "°C"}
    for group in (NAME, *GROUPS):
        _tell(f"\n{group.title}")
        if not group.first or click.confirm(f"  {group.first}", default=group.likely, err=True):
            answers |= _ask_together(group, answers, american=american)
    return answers


def _choose_units() -> bool:
    chosen: str = click.prompt(
        "\nSuggestions in °C, cm and L (write C), or in °F, in and gal (write F)?",
        "C",
        type=click.Choice(["C", "F"], case_sensitive=False),
        show_choices=False,
        err=True,
    )
    return chosen == "F"


def _ask_together(group: Group, before: dict[str, str], *, american: bool) -> dict[str, str]:
    """Return the answers to the questions of a group, asked until they fit each other and those before."""
    given: dict[str, str] = {}
    while True:
        again = given
        given = {}
        for question in group.questions:
            if not _makes_sense(question, before):
                continue
            suggested = again.get(question.key) or _suggested(question, before, american=american)
            answer = _ask(question, suggested)
            if answer:
                given[question.key] = answer
        problems = broken_so_far(plan_text(before | given))
        if not problems:
            return given
        for problem in problems:
            _tell(f"  {problem.read}: {_without_lines(problem.why)}\n  mend: {problem.mend}")


def _makes_sense(question: Question, before: dict[str, str]) -> bool:
    return question.key != "fans.over" or "sump.length" in before


def _suggested(question: Question, before: dict[str, str], *, american: bool) -> str:
    if question.key != "water.volume":
        return question.suggested(american=american)
    litres = _FILLED * sum(_litres(before))
    if american:
        gallons = WATER_VOLUME.units["gal"].from_base
        return f"{round(gallons(Fraction(round(litres))))} gal"
    return f"{round(litres)} L"


def _litres(answers: dict[str, str]) -> Iterator[float]:
    for vessel in ("display", "sump"):
        if f"{vessel}.length" in answers:
            length, width, depth = (LENGTH.read(answers[f"{vessel}.{size}"]) for size in _SIZES)
            yield length * width * depth * 1000.0


def _ask(question: Question, suggested: str) -> str:
    """Return an answer that can be read, or nothing where the question may be left without one."""
    while True:
        given: str = click.prompt(
            f"  {question.asks}", suggested, show_default=bool(suggested), type=str, err=True
        )
        answer = _with_unit(given.strip(), suggested) or suggested
        if not answer:
            return ""
        try:
            _KINDS[question.key].read(Scalar(answer, plain=False, place=TOP))
        except MisreadError as misread:
            _tell(f"  {shown(answer, _SHOWN)}: {misread.why}\n  mend: {misread.mend}")
        else:
            return answer


def _with_unit(given: str, suggested: str) -> str:
    """Return a bare number with the unit of what was suggested, and say so."""
    number, _, unit = suggested.partition(" ")
    if not (re.fullmatch(NUMBER, given) and re.fullmatch(NUMBER, number) and unit):
        return given
    _tell(f"    taken as {given} {unit}")
    return f"{given} {unit}"


def _without_lines(why: str) -> str:
    """Return the sentence without the lines of a file that is not there yet."""
    return re.sub(r" \(line [0-9]+\)|, line [0-9]+", "", why)


def _offer_to_keep(text: str) -> None:
    while True:
        name: str = click.prompt(
            "\nKeep these answers in a file, to change and plan again? Its name (Enter: no)",
            "",
            show_default=False,
            type=str,
            err=True,
        )
        if not name.strip() or _kept(Path(name.strip()), text):
            return


def _kept(path: Path, text: str) -> bool:
    try:
        if path.exists() and not click.confirm(f"  {path} is there already; replace it?", err=True):
            return False
        replace_file(path, text.encode(), durable=False)
    except (OSError, ValueError) as error:  # a ValueError is a name that no file can have
        why = error.strerror if isinstance(error, OSError) else error
        _tell(f"  {path}: cannot be written: {why}\n  mend: name a file in a place that is yours")
        return False
    _tell(f"  kept in {path}; plan it again with: reefguard plan {path}")
    return True


def _tell(words: str) -> None:
    click.echo(words, err=True)
