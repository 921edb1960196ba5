"""`reefguard link`: carries the guard's alarms out of the house."""

from pathlib import Path

import click

from reefguard.cli.file_options import settings_option


@click.command()
@settings_option
def link(settings_file: Path) -> None:
    """Tell people of alarms, and show the tank to other systems, until asked to stop.

    It reads the guard's files and can switch nothing.  On SIGHUP it reads the
    settings again; a bad file changes nothing.
    """
    from reefguard.cli import link_service  # noqa: PLC0415  not for `--help`

    link_service.run(settings_file.absolute())
