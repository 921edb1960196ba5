"""The machine it is installed on: where things go, how commands run, and how a person is asked."""

import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path


class NotDone(Exception):  # noqa: N818  it names a condition a person can mend, not a bug
    """It stops here; the message says why, and how to mend it."""


@dataclass(frozen=True)
class Change:
    """One thing that will be different, in words, and what makes it so."""

    says: str
    make: Callable[[], object]


Runner = Callable[[Sequence[str]], "subprocess.CompletedProcess[str]"]


def run_here(argv: Sequence[str]) -> "subprocess.CompletedProcess[str]":
    """Run a command of this machine."""
    return subprocess.run(argv, capture_output=True, text=True, check=False)  # noqa: S603  our own commands


@dataclass
class Machine:
    """What is installed where.

    Attributes:
        root: the root of the system it is installed into.
        checkout: where this version's files are.
        wheels: a directory to install from instead of the network, if any.
        person: whom to let into the groups, or `None`.
        runner: runs commands.
        touched: the units whose program or file has changed.
    """

    root: Path
    checkout: Path
    wheels: Path | None = None
    person: str | None = None
    runner: Runner = run_here
    touched: set[str] = field(default_factory=set)

    def at(self, place: str) -> Path:
        """Return a place of the system, under its root."""
        return self.root / place.lstrip("/")

    @property
    def whole(self) -> bool:
        """Whether it is this very machine, not a directory that will become one."""
        return self.root == Path("/")

    @property
    def running(self) -> bool:
        """Whether its service manager runs (sd_booted(3))."""
        return self.whole and Path("/run/systemd/system").is_dir()

    def run(self, *argv: str | Path) -> str:
        """Run a command; return what it printed.

        Raises:
            NotDone: it is not there, or it failed.
        """
        words = [str(word) for word in argv]
        try:
            ran = self.runner(words)
        except OSError as error:
            message = f"{words[0]}: cannot be run: {error.strerror or error}"
            raise NotDone(message) from None
        if ran.returncode != 0:
            said = (ran.stderr.strip() or ran.stdout.strip() or "it said nothing").splitlines()
            message = f"`{' '.join(words)}` ended with {ran.returncode}:\n  " + "\n  ".join(said[-12:])
            raise NotDone(message)
        return ran.stdout

    def succeeds(self, *argv: str | Path) -> bool:
        """Run a command that may fail."""
        return self.exit_code(*argv) == 0

    def exit_code(self, *argv: str | Path) -> int:
        """Run a command; return what it ended with, 127 where it is not there."""
        try:
            return self.runner([str(word) for word in argv]).returncode
        except OSError:
            return 127

    def systemctl(self, *argv: str) -> str:
        """Have the service manager do something with units, or with their files under another root."""
        return self.run("systemctl", *(() if self.whole else (f"--root={self.root}",)), *argv)


def write(path: Path, content: bytes, mode: int = 0o644) -> None:
    """Put a file in its place: whole, and on the disk, or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.new")
    with beside.open("wb") as file:
        file.write(content)
        file.flush()
        os.fchmod(file.fileno(), mode)
        os.fsync(file.fileno())
    beside.replace(path)
    directory = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(directory)
    finally:
        os.close(directory)


def holds(path: Path, content: bytes) -> bool:
    """Return whether a file is there with just this content."""
    try:
        return path.read_bytes() == content
    except FileNotFoundError:
        return False


class Talk:
    """Speaks with the person at the terminal, if there is one."""

    def __init__(self) -> None:
        """See whether somebody is there."""
        self.somebody = sys.stdin.isatty() and sys.stdout.isatty()

    def say(self, words: str = "") -> None:
        """Print a line."""
        print(words, flush=True)  # noqa: T201  it talks to a person; click is not installed yet

    def agrees(self, question: str) -> bool:
        """Ask; only a clear yes is one, and nobody at the terminal is a no."""
        if not self.somebody:
            return False
        try:
            return input(f"{question} [y/N] ").strip().lower() in {"y", "yes"}
        except EOFError:
            self.say()
            return False
