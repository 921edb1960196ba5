"""`reefguard guard`: the daemon that holds the tank."""

import os
import sys
from pathlib import Path

import click

from reefguard.cli.file_options import settings_option


@click.command()
@settings_option
@click.option(
    "--state",
    type=click.Path(path_type=Path),
    help="The state directory, should the settings not be readable.",
)
@click.option("--once", is_flag=True, help="Make a single tick, say what it saw, and stop.")
@click.option(
    "--safe-levels",
    "only_safe_levels",
    is_flag=True,
    help="Drive every output to its safe level and exit; needs no readable settings.",
)
@click.option(
    "--keepers",
    metavar="GROUP",
    help="Whose members may acknowledge and shelve alarms; the guard's own group if none is named.",
)
def guard(
    settings_file: Path, state: Path | None, once: bool, only_safe_levels: bool, keepers: str | None
) -> None:
    """Hold the tank: read the probes, switch fans and chiller, until asked to stop.

    On SIGHUP it reads the settings again; a bad file changes nothing.  On
    SIGTERM it takes the chiller off and the fans to their rest, and exits with 0.
    """
    service_managers = os.environ.get("STATE_DIRECTORY")
    kept_in = state or (Path(service_managers) if service_managers else None)
    if only_safe_levels and kept_in is not None:
        # The shortest way from a dead guard to a chiller that is off: nothing else is loaded.
        from reefguard.cli.last_resort import known_levels, make_safe  # noqa: PLC0415  only what it needs

        levels = known_levels(kept_in)
        if levels:
            sys.exit(make_safe(levels, kept_in))

    from reefguard.cli import guard_service  # noqa: PLC0415  not for the safe levels

    if only_safe_levels:
        sys.exit(guard_service.make_safe_by_settings(settings_file.absolute(), state))
    guard_service.hold(settings_file.absolute(), state, once=once, keepers=keepers)
