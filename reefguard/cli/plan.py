"""`reefguard plan`: will fans do, or does the tank need a chiller, how large, and where does its heat go?"""

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import NoReturn

import click

from reefguard.cli import plan_interview
from reefguard.cli.named_files import WRONG, content_of, stop
from reefguard.planning.account import account_of
from reefguard.planning.document import document_of
from reefguard.planning.make import make_plan
from reefguard.planning.model import Plan
from reefguard.planning.terminal import text_of
from reefguard.planning.weather_file import read_weather
from reefguard.records.files import replace_file
from reefguard.report.plan_page import page_of
from reefguard.settings.outcome import Rejected
from reefguard.settings.plan_model import TankPlan, WeatherFilePlan
from reefguard.settings.plan_quantities import TOP_OFF
from reefguard.settings.plan_reading import EXAMPLE, read_plan
from reefguard.settings.problems import report
from reefguard.settings.quantities import MisreadError
from reefguard.settings.reading import read_bytes, top_level_keys
from reefguard.thermal.moist_air import pressure_at_pa
from reefguard.thermal.weather import HourlyWeather


@click.command()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--ask", is_flag=True, help="Ask for the tank in plain questions instead of reading FILE.")
@click.option("--example", is_flag=True, help="Print an example of FILE, and plan nothing.")
@click.option(
    "--measured-topoff",
    metavar="'2.4 L/day'",
    help="Fresh water a day, fans off: calibrates the evaporation.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the plan as JSON.")
@click.option("--html", type=click.Path(path_type=Path), help="Write a page with pictures to this file.")
def plan(
    file: Path | None,
    html: Path | None,
    measured_topoff: str | None,
    *,
    ask: bool,
    example: bool,
    as_json: bool,
) -> None:
    """Plan a tank's cooling: fans or a chiller, how large, and where its heat goes.

    FILE describes the tank: `reefguard plan --example` prints one.  The guard's
    settings will do, if they have a section `plan`.

    Ends with 0, or with 2 when the file or an option cannot be taken.
    """
    if example:
        click.echo(EXAMPLE, nl=False)
        return
    if ask and file is not None:
        stop("--ask takes no FILE: it asks for what would stand in it")
    if ask:
        tank, beside = plan_interview.interview(), Path()
    elif file is not None:
        tank, beside = _tank_of(file), file.parent
    else:
        stop(
            "which tank?\n  mend: reefguard plan --ask, or reefguard plan FILE; "
            "`reefguard plan --example > tank.yaml` makes a file to begin from"
        )
    if measured_topoff is not None:
        tank = replace(tank, measured_topoff_l_day=_litres_a_day(measured_topoff))
    made = make_plan(tank, _series_of(tank, beside))
    if html is not None:
        _write_page(html, made)
    if as_json:
        click.echo(json.dumps(document_of(made), indent=1, ensure_ascii=False, allow_nan=False))
    else:
        click.echo(text_of(account_of(made)), nl=False)


def _tank_of(file: Path) -> TankPlan:
    content = content_of(file)
    if "plan" not in top_level_keys(content.decode(errors="replace")):
        outcome = read_plan(content)
        if isinstance(outcome, Rejected):
            _reject(outcome, file)
        return outcome.plan
    settings = read_bytes(content)
    if isinstance(settings, Rejected):
        _reject(settings, file)
    if settings.settings.plan is None:
        stop(f"{file}: its section `plan` is empty\n  mend: reefguard plan --example shows what it holds")
    return settings.settings.plan


def _series_of(tank: TankPlan, beside: Path) -> HourlyWeather | None:
    """Return the hours of the file the weather names, as it lies beside the plan's own."""
    if not isinstance(tank.weather, WeatherFilePlan):
        return None
    file = beside / tank.weather.file
    weather = read_weather(content_of(file), pressure_at_pa(tank.altitude_m))
    if isinstance(weather, tuple):
        _reject(Rejected(weather), file)
    return weather


def _litres_a_day(text: str) -> float:
    try:
        litres = TOP_OFF.read(text)
    except MisreadError as error:
        stop(f"--measured-topoff {text}\n  {error.why}\n  mend: {error.mend}")
    if litres <= 0.0:
        stop(f"--measured-topoff {text}\n  nothing evaporates backwards\n  mend: write it like `2.4 L/day`")
    return litres


def _write_page(path: Path, made: Plan) -> None:
    try:
        replace_file(path, page_of(made).encode(), durable=False)
    except OSError as error:
        stop(f"{path}: cannot be written: {error.strerror}\n  mend: name a file in a directory that is yours")
    click.echo(f"the page is in {path}", err=True)


def _reject(outcome: Rejected, file: Path) -> NoReturn:
    click.echo(report(outcome.problems, str(file), "nothing was planned"), nl=False, err=True)
    sys.exit(WRONG)
