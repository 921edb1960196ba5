"""Files that a person names: read whole, or a word about why not."""

import sys
from pathlib import Path
from typing import Final, NoReturn

import click

# What a file or an option that cannot be taken ends with.
WRONG: Final = 2


def content_of(path: Path) -> bytes:
    """Return what a file holds; ends the command when it cannot be read."""
    try:
        return path.read_bytes()
    except OSError as error:
        stop(f"{path}: cannot be read: {error.strerror}\n  mend: check the name, and who may read it")


def stop(message: str, code: int = WRONG) -> NoReturn:
    """Say why, and end the command."""
    click.echo(message, err=True)
    sys.exit(code)
