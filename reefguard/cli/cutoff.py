"""`reefguard cutoff`: run the separate over-cool cutoff, and what a person does with it."""

import json
import os
import sys
import time
from pathlib import Path
from typing import Any, NoReturn

import click

from reefguard.cli import places
from reefguard.cli.file_options import limits_option
from reefguard.cli.monitoring import Condition, MonitoringCommand
from reefguard.cutoff import findings
from reefguard.cutoff.clock import BenchError, boot_id, clock_from
from reefguard.cutoff.limits import DEFAULT_STATE_DIRECTORY, Setup
from reefguard.cutoff.limits_file import read_limits_file
from reefguard.cutoff.quantities import written_span
from reefguard.cutoff.resets import Request, ask_for_reset
from reefguard.cutoff.status import SILENT_AFTER_S, read_status

GROUP = "reefguard-cutoff"

# sysexits.h: something that is needed cannot be had.
_UNAVAILABLE = 69

_ANSWER_WITHIN_S = 15.0
_LOOK_EVERY_S = 0.05

_state_option = click.option(
    "--state",
    "state_directory",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path(DEFAULT_STATE_DIRECTORY),
    show_default=True,
    help="Where the cutoff notes which relay is its own.",
)


@click.group(invoke_without_command=True)
@limits_option
@_state_option
@click.pass_context
def cutoff(ctx: click.Context, limits_file: Path, state_directory: Path) -> None:
    """Run the separate over-cool cutoff until it is stopped.

    It holds cooling off at or below its limit until a person resets it.
    Ends with 78 when its limits file is wrong, 69 when something it needs
    cannot be had, 70 when it failed at work.
    """
    # What is said before a command holds for the command.
    ctx.default_map = {
        "check": {"file": limits_file},
        "drop": {"state_directory": state_directory},
        "reset": {"limits_file": limits_file},
        "status": {"limits_file": limits_file},
    }
    if ctx.invoked_subcommand is None:
        from reefguard.cutoff.start import run  # noqa: PLC0415  the other commands need no GPIO library

        sys.exit(run(limits_file.absolute(), state_directory.absolute()))


@cutoff.command()
@_state_option
def drop(state_directory: Path) -> None:
    """Drop the cutoff's relay, whatever state everything else is in.

    For the service manager to run once the cutoff has ended.  Needs no
    limits file: the relay is the one the cutoff last drove.
    """
    from reefguard.cutoff.relay import RelayError, drop_last_known  # noqa: PLC0415  loads a GPIO library

    try:
        click.echo(drop_last_known(state_directory.absolute(), os.environ))
    except RelayError as error:
        click.echo(str(error), err=True)
        sys.exit(_UNAVAILABLE)


@cutoff.command()
@click.argument("file", type=click.Path(path_type=Path), default=places.limits_file)
def check(file: Path) -> None:
    """Check a limits file: all errors at once, else what may surprise.

    Ends with 0 when it is in order, 1 with findings, 2 with errors.
    """
    setup = read_limits_file(file)
    if isinstance(setup, list):
        click.echo(
            findings.problems_in_words(str(file), setup, "the cutoff would not start with it"), nl=False
        )
        sys.exit(2)
    found = findings.findings(setup)
    click.echo(findings.findings_in_words(str(file), found), nl=False)
    sys.exit(1 if found else 0)


@cutoff.command(cls=MonitoringCommand)
@limits_option
@click.option("--json", "as_json", is_flag=True, help="Print the status as JSON, with its age.")
def status(limits_file: Path, as_json: bool) -> None:
    """Say how the cutoff stands, why, and how old that is.

    Ends with 0 when cooling may run, 1 when it is held off, 2 when tripped,
    stopped or silent, 3 when nothing is known.
    """
    setup = _setup_or_exit(limits_file, Condition.UNKNOWN)
    try:
        clock, boot = clock_from(os.environ), boot_id()
        said = read_status(Path(setup.runtime_directory))
    except FileNotFoundError:
        _stop("the cutoff is not running, or its runtime directory is another one", Condition.UNKNOWN)
    except (OSError, ValueError, BenchError) as error:
        _stop(f"the cutoff's status cannot be read: {error}", Condition.UNKNOWN)

    age_s = None if said["boot_id"] != boot else clock.now_s() - said["written_s"]
    silent = age_s is None or not -1.0 <= clock.real_s(age_s) <= SILENT_AFTER_S
    if as_json:
        click.echo(json.dumps(said | {"age_s": age_s, "silent": silent}, ensure_ascii=False, indent=2))
    else:
        age = "of an earlier boot" if age_s is None else f"{written_span(max(age_s, 0.0))} ago"
        click.echo(f"{'silent, last ' if silent else ''}{said['state']}: {said['why']} ({age})")
        for fault in said["faults"]:
            click.echo(f"  fault: {fault}")
    if silent:
        sys.exit(Condition.CRITICAL)
    sys.exit(
        {"permitting": Condition.HEALTHY, "held off": Condition.WARNING}.get(
            said["state"], Condition.CRITICAL
        )
    )


@cutoff.command()
@limits_option
def reset(limits_file: Path) -> None:
    """Reset a trip, once the water has recovered and the cause is known.

    The cutoff itself decides.  An accepted reset lets cooling run only after
    the water has proved warm and the relay has rested.
    Ends with 0 when accepted, 1 when refused, 2 when no answer came.
    """
    setup = _setup_or_exit(limits_file, Condition.CRITICAL)
    directory = Path(setup.runtime_directory)
    try:
        request = ask_for_reset(directory, os.environ.get("SUDO_USER"))
    except FileNotFoundError:
        _stop("the cutoff is not running\n  mend: sudo systemctl start reefguard-cutoff", Condition.CRITICAL)
    except PermissionError:
        _stop(
            f"you may not reset it: only members of group {GROUP} may\n"
            f"  mend: sudo usermod -aG {GROUP} $USER, and log in again (or use sudo now)",
            Condition.CRITICAL,
        )
    except OSError as error:
        _stop(f"the reset cannot be asked for: {error}", Condition.CRITICAL)
    outcome = _answer_to(request, directory)
    if outcome is None:
        request.withdraw(directory)
        _stop(
            "no answer came: the cutoff does not run, hangs, or answered somebody else at the same moment\n"
            "  mend: see `reefguard cutoff status`",
            Condition.CRITICAL,
        )
    click.echo(outcome["why"])
    sys.exit(0 if outcome["accepted"] else 1)


def _answer_to(request: Request, directory: Path) -> dict[str, Any] | None:
    """Wait for what the cutoff answers; `None` when it does not."""
    until_s = time.monotonic() + _ANSWER_WITHIN_S
    while time.monotonic() < until_s:
        try:
            outcome = read_status(directory)["last_reset"]
        except (OSError, ValueError, KeyError):
            outcome = None
        if outcome is not None and outcome["request"] == request.name:
            return dict(outcome)
        time.sleep(_LOOK_EVERY_S)
    return None


def _setup_or_exit(limits_file: Path, exit_status: int) -> Setup:
    setup = read_limits_file(limits_file)
    if isinstance(setup, list):
        left = "so where the cutoff keeps its status is not known"
        _stop(findings.problems_in_words(str(limits_file), setup, left), exit_status)
    return setup


def _stop(words: str, exit_status: int) -> NoReturn:
    click.echo(words, err=True)
    sys.exit(exit_status)
