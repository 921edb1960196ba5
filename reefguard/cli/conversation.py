"""What the guided commands share: questions at a terminal, and an end that leaves nothing half done."""

import getpass
import os
import signal
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from enum import IntEnum
from pathlib import Path
from types import FrameType
from typing import Final, NoReturn, TypeVar

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
    with _of_a_terminal_that_may_go():
        return click.confirm(question, default=likely)


def typed_for(question: str, *, likely: str | None = None) -> str:
    """Ask for a text; return it without the space around it.

    Args:
        question: what is asked.
        likely: what Enter alone stands for; without it something must be typed.

    Raises:
        click.Abort: Ctrl-C, or the end of the input.
    """
    with _of_a_terminal_that_may_go():
        return str(click.prompt(question, default=likely, show_default=False, type=str)).strip()


@contextmanager
def _of_a_terminal_that_may_go() -> Iterator[None]:
    """Take a terminal that has gone, whose reading is an error (EIO), for the end of the input."""
    try:
        yield
    except OSError:
        raise click.Abort from None


def chosen(question: str, answers: Mapping[str, T]) -> T:
    """Ask until one of the answers is typed, whole or as its first letters.

    Raises:
        click.Abort: Ctrl-C, or the end of the input.
    """
    while True:
        typed = typed_for(f"{question} ({', '.join(answers)})").lower()
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


_ENDING: Final = (signal.SIGHUP, signal.SIGTERM)


@contextmanager
def _interrupted_by_a_signal() -> Iterator[None]:
    # One that is ignored, as under `nohup`, stays so.
    before = {number: signal.getsignal(number) for number in _ENDING}
    heard = [number for number in _ENDING if before[number] is not signal.SIG_IGN]

    def interrupt(_number: int, _frame: FrameType | None) -> NoReturn:
        # Once: a second one, as a session sends that is closed, must not interrupt the giving back.
        for number in heard:
            signal.signal(number, signal.SIG_IGN)
        raise KeyboardInterrupt

    for number in heard:
        signal.signal(number, interrupt)
    try:
        yield
    finally:
        for number in heard:
            signal.signal(number, before[number])


@contextmanager
def ending_in_words() -> Iterator[Standing]:
    """Turn Ctrl-C, the end of the input and what cannot be done into a sentence and an exit code.

    A lost connection (SIGHUP) and SIGTERM are as Ctrl-C: what was asked for is given back at once.
    """
    standing = Standing()
    if sys.stdin is None:
        # Started with its input closed: a question then finds the end of the input, as with an empty one.
        sys.stdin = Path(os.devnull).open(encoding="ascii")  # noqa: SIM115  open to the end
    try:
        with _interrupted_by_a_signal():
            yield standing
    except (click.Abort, KeyboardInterrupt):
        # Nor may a terminal that is gone make an error of it.
        with suppress(OSError):
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
