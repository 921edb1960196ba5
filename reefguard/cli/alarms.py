"""`reefguard alarms`, and what a person says to them: `acknowledge`, `shelve`, `unshelve`."""

import json
import sys
from pathlib import Path
from typing import Any, NoReturn

import click

from reefguard.alarms.catalogue import Priority
from reefguard.cli.alarm_client import NotAnswered, ask
from reefguard.cli.clocks import open_clock
from reefguard.cli.file_options import settings_option
from reefguard.cli.guard_places import runtime_directory, state_directory
from reefguard.cli.monitoring import Condition
from reefguard.cli.status import Report, look
from reefguard.cli.status_page import is_number
from reefguard.control.words import span
from reefguard.guard.commands import LONGEST_SHELF_S, SHORTEST_SHELF_S
from reefguard.guard.settings_source import from_file
from reefguard.records import status_file
from reefguard.records.event_reader import EventReader, NoEvents
from reefguard.records.events import Recorded
from reefguard.settings.quantities import DURATION, MisreadError


@click.command()
@settings_option
@click.option(
    "--history",
    type=click.IntRange(min=1),
    is_flag=False,
    flag_value=50,
    metavar="[N]",
    help="Tell the last N events instead (50 if no number is given): alarms, changes, commands.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def alarms(settings_file: Path, history: int | None, as_json: bool) -> None:
    """List the alarms that stand, the most urgent first, and what to do first."""
    outcome = from_file(settings_file)
    if history is not None:
        try:
            events = EventReader(state_directory(outcome)).history(history)
        except NoEvents as error:
            _fail(str(error))
        click.echo(_json([_event(one) for one in events]) if as_json else "\n".join(map(_line, events)))
        return
    try:
        clock = open_clock()
    except ValueError as error:
        _fail(str(error))
    report = look(runtime_directory(outcome) / status_file.FILE_NAME, clock)
    listed = _listed(report)
    if not report.status or report.condition is Condition.UNKNOWN:
        _fail(report.headline.removeprefix("UNKNOWN - "))
    if as_json:
        click.echo(_json({"age_s": report.age_s, "alarms": listed}))
        return
    if report.silent:
        click.echo(report.headline)
    if not listed:
        click.echo("no alarm stands")
    for one in listed:
        _show(one, clock.boot_s())


@click.command()
@settings_option
@click.argument("name", required=False)
@click.option("--all", "every", is_flag=True, help="Acknowledge all that wait for it.")
def acknowledge(settings_file: Path, name: str | None, every: bool) -> None:
    """Say that you know of alarm NAME (as `reefguard alarms` lists it), or of all of them."""
    if every == (name is not None):
        message = "give one alarm's name, or --all"
        raise click.UsageError(message)
    _ask(settings_file, {"command": "acknowledge", "alarm": name})


def _shelf_s(_ctx: click.Context, _option: click.Parameter, value: str) -> float:
    """Return how long a shelf shall last, written as lengths of time are in the settings."""
    try:
        for_s = DURATION.read(value)
    except MisreadError as error:
        message = f"{value}: {error.why}; mend: {error.mend}"
        raise click.BadParameter(message) from None
    if not SHORTEST_SHELF_S <= for_s <= LONGEST_SHELF_S:
        message = f"an alarm can be shelved for 1 min to 24 h, not for {span(for_s)}"
        raise click.BadParameter(message)
    return for_s


@click.command()
@settings_option
@click.argument("name")
@click.option(
    "--for", "for_s", callback=_shelf_s, default="2 h", show_default=True, help="How long: 1 min to 24 h."
)
def shelve(settings_file: Path, name: str, for_s: float) -> None:
    """Put alarm NAME away for a time; it comes back by itself."""
    _ask(settings_file, {"command": "shelve", "alarm": name, "for_s": for_s})


@click.command()
@settings_option
@click.argument("name")
def unshelve(settings_file: Path, name: str) -> None:
    """Take alarm NAME from the shelf before its time."""
    _ask(settings_file, {"command": "unshelve", "alarm": name})


def _ask(settings_file: Path, command: dict[str, Any]) -> None:
    try:
        click.echo(ask(runtime_directory(from_file(settings_file)), command))
    except NotAnswered as error:
        _fail(str(error))


def _listed(report: Report) -> list[dict[str, Any]]:
    listed = report.status.get("alarms")
    return [one for one in listed if isinstance(one, dict)] if isinstance(listed, list) else []


def _show(alarm: dict[str, Any], now_s: float) -> None:
    click.echo(f"{_urgency(alarm.get('priority'))}: {alarm.get('name', '?')} ({_state(alarm, now_s)})")
    click.echo(f"  {alarm.get('what', '?')}")
    since_s = alarm.get("since_s")
    if is_number(since_s):
        click.echo(f"  since {alarm.get('raised_wall', '?')}, {span(now_s - since_s)} ago")
    click.echo(f"  it means: {alarm.get('means', '?')}")
    click.echo(f"  first: {alarm.get('first', '?')}")


def _state(alarm: dict[str, Any], now_s: float) -> str:
    until_s = alarm.get("shelved_until_s")
    left = f" for another {span(until_s - now_s)}" if is_number(until_s) else ""
    return f"{alarm.get('state', '?')}{left}"


def _urgency(priority: object) -> str:
    known = next((one for one in Priority if one == priority), None)
    return "of unknown priority" if known is None else f"{known.name}, act {known.within}"


def _line(one: Recorded) -> str:
    event = one.event
    doubt = "" if event.clock_trusted else " (by a clock not known to be right)"
    # The other sentences name what they are about.
    names_itself = event.kind != "output" and event.change != "raised"
    about = "" if names_itself else f"{event.subject} {event.change}: "
    return f"{event.at_wall}{doubt}  {event.kind:<8}{about}{event.what}"


def _event(one: Recorded) -> dict[str, Any]:
    return {"seq": one.seq, **one.event._asdict()}


def _json(value: object) -> str:
    return json.dumps(value, indent=1, ensure_ascii=False)


def _fail(sentence: str) -> NoReturn:
    click.echo(f"reefguard: {sentence}", err=True)
    sys.exit(1)
