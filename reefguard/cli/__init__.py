"""The command line: picks the devices, builds the service, and talks to people.

Each command lives in a module of its own and is imported when it is called:
the cutoff must not load the guard, nor the guard a demonstration.
"""

import os
import sys
import traceback
from importlib import import_module
from typing import Final

import click

# command -> the module it is defined in, under the same name
_COMMANDS: Final = {
    "acknowledge": "reefguard.cli.alarms",
    "alarms": "reefguard.cli.alarms",
    "alert-test": "reefguard.cli.alert_test",
    "check": "reefguard.cli.check",
    "cutoff": "reefguard.cli.cutoff",
    "demo": "reefguard.cli.demo",
    "export": "reefguard.cli.export",
    "fleet": "reefguard.cli.fleet",
    "guard": "reefguard.cli.guard",
    "link": "reefguard.cli.link",
    "rehearse": "reefguard.cli.rehearse",
    "plan": "reefguard.cli.plan",
    "shelve": "reefguard.cli.alarms",
    "status": "reefguard.cli.status",
    "unshelve": "reefguard.cli.alarms",
}

# sysexits.h: an internal software error.
EX_SOFTWARE: Final = 70


class _CommandsOnDemand(click.Group):
    """Knows its commands by name, and imports one when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        del ctx
        return sorted(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        del ctx
        if cmd_name not in _COMMANDS:
            return None
        command: click.Command = getattr(import_module(_COMMANDS[cmd_name]), cmd_name.replace("-", "_"))
        return command


@click.command(
    cls=_CommandsOnDemand,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Start with `reefguard demo`.  Mains wiring is a licensed electrician's work, by local codes.",
)
@click.version_option(package_name="reefguard", prog_name="reefguard")
def program() -> None:
    """Keep a marine reef tank from overheating, and from being cooled to death."""


def main() -> None:
    """Run the command line; whatever goes wrong, the user reads a sentence, not a traceback."""
    bench = os.environ.get("REEFGUARD_BENCH")
    if bench:
        # The programs leave the directory they were started in; the bench stays where it was meant.
        os.environ["REEFGUARD_BENCH"] = os.path.abspath(bench)  # noqa: PTH100  a text stays a text
    try:
        program()
    except Exception as error:  # noqa: BLE001  the last line of defence; what happened is told in words
        where = traceback.extract_tb(error.__traceback__)[-1]
        click.echo(
            f"reefguard: an error of the program itself: {type(error).__name__}: {error} "
            f"({where.filename}, line {where.lineno}); please report it with this line",
            err=True,
        )
        sys.exit(EX_SOFTWARE)
