"""Which settings and which limits a command is about: the same two options everywhere."""

from pathlib import Path
from typing import Final

import click

from reefguard.cli import places

settings_option: Final = click.option(
    "--settings",
    "settings_file",
    type=click.Path(path_type=Path),
    default=places.settings_file,
    help="The tank's settings; /etc/reefguard/reefguard.yaml by default.",
)
limits_option: Final = click.option(
    "--limits",
    "limits_file",
    type=click.Path(path_type=Path, dir_okay=False),
    default=places.limits_file,
    help="The cutoff's own settings file; /etc/reefguard/cutoff.yaml by default.",
)
