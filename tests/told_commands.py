"""The commands that our texts tell a person to type."""

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import click

from reefguard.cli import program

ROOT = Path(__file__).parents[1]
TEXTS = (ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "hardware-notes").glob("*.md")))

_BLOCK = re.compile(r"^( *)```sh\n(.*?)^ *```$", re.MULTILINE | re.DOTALL)
_INLINE = re.compile(r"`((?:sudo )?(?:reefguard|systemctl|journalctl|ls|df|systemd/install)(?: [^`]*)?)`")


def lines(text: Path) -> list[str]:
    """Return the lines of a text's shell blocks, without comments."""
    blocks = [block for _, block in _BLOCK.findall(text.read_text(encoding="utf-8"))]
    found = (line.strip() for block in blocks for line in block.splitlines())
    return [bare for line in found if (bare := re.sub(r"(^|\s+)#.*", "", line))]


def inline(text: Path) -> list[str]:
    """Return the commands in a text's sentences; those with a word for a person to replace are left out."""
    found = _INLINE.findall(_BLOCK.sub("", text.read_text(encoding="utf-8")))
    return [command for command in found if not re.search(r"\b[A-Z]{3,}\b|…", command)]


def parts(line: str) -> Iterator[list[str]]:
    """Yield each simple command of a line, in words, without `sudo` and where its output goes."""
    for one in re.split(r"&&|\|", line):
        words = shlex.split(re.sub(r">\s*\S+", "", one))
        yield words[1:] if words and words[0] == "sudo" else words


def is_ours(words: list[str]) -> bool:
    """Return whether it is a command of the program, wherever that is."""
    return bool(words) and words[0].rpartition("/")[2] == "reefguard"


def parse(words: list[str]) -> None:
    """See that the command line takes a command of ours.

    Raises:
        click.ClickException: it does not.
    """
    command: click.Command = program
    name, rest = "reefguard", words[1:]
    while isinstance(command, click.Group) and rest and not rest[0].startswith("-"):
        name, *rest = rest
        found = command.get_command(click.Context(command), name)
        if found is None:
            message = f"there is no command {name}"
            raise click.UsageError(message)
        command = found
    if command is not program:
        command.make_context(name, list(rest)).close()
