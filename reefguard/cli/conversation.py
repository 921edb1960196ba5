"""What the guided commands share: questions at a terminal, and an end that leaves nothing half done."""

import getpass
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from enum import IntEnum
from typing import NoReturn, TypeVar

import click

T = TypeVar("T")


class Ended(IntEnum):
    """Exit codes of the guided commands."""

    PASSED = 0
    NOT_DONE = 1
    FAILED = 2
    STOPPED = 130  # as after an interrupt: 128 and the signal's number


class NotPossible(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """It cannot be done now; the message says why and what to do."""


def tell(words: str = "") -> None:
    """Say something to the person."""
    click.echo(words)


def agreed(question: str, *, likely: bool = False) -> bool:
    """Ask for a yes or a no.

    Raises:
        click.Abort: Ctrl-C, or the end of the input.
    """
    return click.confirm(question, default=likely)


def chosen(question: str, answers: Mapping[str, T]) -> T:
    """Ask until one of the answers is typed, whole or as its first letters.

    Raises:
        click.Abort: Ctrl-C, or the end of the input.
    """
    while True:
        typed = click.prompt(f"{question} ({', '.join(answers)})", type=str).strip().lower()
        meant = [word for word in answers if typed and word.startswith(typed)]
        if len(meant) == 1:
            return answers[meant[0]]
        tell(f"  that is none of the answers; mend: type {' or '.join(answers)}")


def refuse(why: str, code: Ended = Ended.NOT_DONE) -> NoReturn:
    """End, because it cannot be done."""
    click.echo(f"reefguard: {why}", err=True)
    sys.exit(code)


@dataclass(slots=True)
class Standing:
    """How things stand if the person ends it now, in words; kept up to date by whoever changes anything."""

    words: str = "nothing was switched, and nothing is on record"


@contextmanager
def ending_in_words() -> Iterator[Standing]:
    """Turn Ctrl-C, the end of the input and what cannot be done into a sentence and an exit code."""
    standing = Standing()
    try:
        yield standing
    except (click.Abort, KeyboardInterrupt):
        tell(f"\nstopped; {standing.words}")
        sys.exit(Ended.STOPPED)
    except NotPossible as error:
        refuse(str(error))


def person() -> str:
    """Return the user name of the person at the terminal."""
    try:
        return os.environ.get("SUDO_USER") or getpass.getuser()
    except (KeyError, OSError):
        return f"user {os.getuid()}"
