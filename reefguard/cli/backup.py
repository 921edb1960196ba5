"""`reefguard backup`: one archive of settings, records and latch, while everything runs."""

import os
import re
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Final

import click

from reefguard.cli.file_options import limits_option, settings_option
from reefguard.cli.guard_places import state_directory
from reefguard.cli.named_files import stop
from reefguard.cutoff.limits import DEFAULT_STATE_DIRECTORY
from reefguard.cutoff.limits_file import read_limits_file
from reefguard.guard.settings_source import directory_named, from_file
from reefguard.records.archive import TOP, NotArchived, archive

_NOT_IN_IT: Final = (
    "Not in it: the link's secrets, and what it has still to deliver. Keep the secrets with your passwords."
)

_ABOUT: Final = """\
A backup of reefguard {version}, made {when}.

settings/  the guard's settings and the cutoff's limits
guard/     the guard's records, as of when they were copied
cutoff/    the cutoff's records and its latch: to be read, not to be put back.  Without a latch the cutoff
           holds the chiller off until a person resets it, and that is right on a new card.

{not_in_it}
How to restore it: hardware-notes/keeping.md.
"""


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@settings_option
@limits_option
def backup(file: Path, settings_file: Path, limits_file: Path) -> None:
    """Put settings, records and the cutoff's latch into FILE (.tar.gz), while everything runs.

    The link's secrets are not in it.  FILE is complete, or not there.
    """
    if not file.name.endswith((".tar.gz", ".tgz")):
        stop(f"{file}: its name does not say what it is\n  mend: reefguard backup {file.stem}.tar.gz")
    about = _ABOUT.format(
        version=version("reefguard"),
        when=datetime.now(tz=UTC).isoformat(timespec="seconds"),
        not_in_it=_NOT_IN_IT,
    )
    try:
        made = archive(
            file.absolute(),
            {"settings/reefguard.yaml": settings_file, "settings/cutoff.yaml": limits_file},
            {"guard": state_directory(from_file(settings_file)), "cutoff": _cutoff_state(limits_file)},
            about,
            _owner(),
        )
    except NotArchived as error:
        stop(str(error))
    click.echo(f"{file}: {made.size / 1000:.0f} kB, in {TOP}/:")
    for name in made.names:
        click.echo(f"  {name}")
    click.echo(_NOT_IN_IT)


def _cutoff_state(limits_file: Path) -> Path:
    """Return the cutoff's state directory: as its limits say, in order or not."""
    setup = read_limits_file(limits_file)
    if not isinstance(setup, list):
        return Path(setup.state_directory)
    try:
        text = limits_file.read_text(encoding="utf-8", errors="replace")
    except OSError:
        text = ""
    return directory_named("state_directory", text) or Path(DEFAULT_STATE_DIRECTORY)


def _owner() -> tuple[int, int]:
    """Return whom the archive is given to: with sudo, the person behind it."""
    person, group = (os.environ.get(name, "") for name in ("SUDO_UID", "SUDO_GID"))
    if os.geteuid() == 0 and re.fullmatch("[0-9]+", person) and re.fullmatch("[0-9]+", group):
        return int(person), int(group)
    return -1, -1
