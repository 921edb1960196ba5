"""`reefguard rehearse`: what will my settings do in a heat wave when something breaks?"""

import json
import signal
import sys
from collections.abc import Iterable, Sequence
from dataclasses import replace
from importlib import resources
from pathlib import Path

import click

from reefguard.cli import places
from reefguard.cli.check import cutoff_plan
from reefguard.cli.named_files import content_of, stop
from reefguard.cutoff import limits
from reefguard.cutoff.findings import problems_in_words
from reefguard.cutoff.limits import Setup
from reefguard.planning.found import CannotJudge
from reefguard.planning.make import make_plan
from reefguard.planning.parts import plant_of
from reefguard.planning.weather_file import read_weather
from reefguard.records.files import replace_file
from reefguard.rehearsal import example
from reefguard.rehearsal.drills import table
from reefguard.rehearsal.drills.document import document
from reefguard.rehearsal.drills.drill import Drill, WeatherSeries
from reefguard.rehearsal.drills.judgement import Outcome
from reefguard.rehearsal.drills.page import rehearsal_page
from reefguard.rehearsal.drills.reading import read_drill
from reefguard.rehearsal.drills.runs import Result, run_all
from reefguard.rehearsal.drills.staging import Circumstances, DrillDoesNotFitError, Row, rows_of
from reefguard.settings.cutoff_findings import cutoff_findings
from reefguard.settings.findings import findings
from reefguard.settings.outcome import Accepted, Rejected
from reefguard.settings.plan_model import DesignDayPlan, TankPlan, WeatherFilePlan
from reefguard.settings.plan_reading import read_plan
from reefguard.settings.problems import CheckFinding, report
from reefguard.settings.reading import read_bytes
from reefguard.thermal.moist_air import pressure_at_pa
from reefguard.thermal.weather import DesignDay, HourlyWeather, Weather

_FAILED = 1

_File = click.Path(path_type=Path)


@click.command()
@click.argument("drills", nargs=-1, metavar="[DRILL]...")
@click.option(
    "--settings", "settings_file", type=_File, help="The guard's; /etc/reefguard/reefguard.yaml by default."
)
@click.option(
    "--limits",
    "limits_file",
    type=_File,
    help="The cutoff's; /etc/reefguard/cutoff.yaml by default, unless --settings names another guard's.",
)
@click.option(
    "--plan", "plan_file", type=_File, help="The tank: a plan file; else the section `plan` of the settings."
)
@click.option("--weather", "weather_file", type=_File, help="A series of hours: CSV, EPW or TMY.")
@click.option(
    "--tanks",
    type=click.IntRange(0, 100),
    default=1,
    show_default=True,
    help="On how many deviating tanks each drill is run; 0 is the tank exactly as planned.",
)
@click.option("--html", "html_file", type=_File, help="Draw every run into a page.")
@click.option("--json", "as_json", is_flag=True, help="Print a document for other programs.")
@click.option("--list", "only_list", is_flag=True, help="List the drills that come with the program.")
@click.option("--show", "shown", metavar="DRILL", help="Print one of them, to write your own from.")
@click.option("--cores", type=click.IntRange(1, 256), help="How many cores to use; all by default.")
def rehearse(
    drills: tuple[str, ...],
    *,
    settings_file: Path | None,
    limits_file: Path | None,
    plan_file: Path | None,
    weather_file: Path | None,
    tanks: int,
    html_file: Path | None,
    as_json: bool,
    only_list: bool,
    shown: str | None,
    cores: int | None,
) -> None:
    """Rehearse settings: the real control and the real cutoff, in virtual time, through a set of drills.

    DRILL is the name of one that comes with the program, or a file of your own;
    without any, all that come with it are run.  Each is run on a tank that
    deviates from the plan by up to 30 %, with probes that are off by up to
    0.5 °C.

    Ends with 0 when every drill passed, 1 when one failed, 2 when a file could not be used.
    """
    if only_list or shown is not None:
        click.echo(_shown(shown), nl=False)
        return
    pair = _Pair(settings_file, limits_file)
    tank, told = _tank(plan_file, pair.accepted)
    chosen = [_drill(one) for one in drills] if drills else [_shipped(name) for name in _names()]
    weather = _series(weather_file, tank) if weather_file is not None else _weather(tank, plan_file)
    around = Circumstances(
        settings_text=pair.settings_text,
        limits_text=pair.limits_text,
        plant=plant_of(tank, capacity_w=tank.chiller.capacity_w or _sized_w(tank, weather)),
        weather=weather,
        series={
            str(path): _series(path, tank)
            for path in {Path(one.weather.file) for one in chosen if isinstance(one.weather, WeatherSeries)}
        },
        tanks=tanks,
        weigh=_weigh,
    )
    rows = _rows(chosen, around)
    quiet = as_json
    if not quiet:
        click.echo("\n".join([*pair.told, told, ""]))
    results = _run(rows, cores)
    if as_json:
        click.echo(json.dumps(document(results), ensure_ascii=False, indent=2))
    else:
        unit = pair.accepted.settings.shown_in
        click.echo("\n".join([*table.rows(results, unit), "", table.summary(results)]))
    if html_file is not None:
        _write(html_file, rehearsal_page(results, pair.accepted.settings.shown_in), quiet=quiet)
    sys.exit(_FAILED if any(one.judgement.outcome is Outcome.FAILED for one in results) else 0)


def _run(rows: Sequence[Row], cores: int | None) -> list[Result]:
    """Make the runs, with a bar that a person can watch."""
    done: dict[int, Result] = {}
    # Ctrl-C is for us: the workers end with the pool.
    with click.progressbar(
        length=len(rows), label="rehearsing", file=sys.stderr, show_pos=True, hidden=not sys.stderr.isatty()
    ) as bar:
        try:
            for place, result in run_all(rows, cores):
                done[place] = result
                bar.update(1)
        except KeyboardInterrupt:
            stop("stopped; nothing was judged", code=128 + signal.SIGINT)
    return [done[place] for place in sorted(done)]


def _rows(chosen: Iterable[Drill], around: Circumstances) -> list[Row]:
    rows = []
    for drill in chosen:
        try:
            rows.extend(rows_of(drill, around))
        except DrillDoesNotFitError as misfit:
            stop(f"the drill `{drill.name}` does not fit: {misfit}")
    return rows


# --- the keeper's files ---


class _Pair:
    """The guard's settings and the cutoff's limits, or the example's where there are none."""

    def __init__(self, settings_file: Path | None, limits_file: Path | None) -> None:
        self.told: list[str] = []
        self.limits_text: str | None
        default, default_limits = places.settings_file(), places.limits_file()
        if settings_file is None and not default.exists():
            if limits_file is not None:
                stop("--limits needs --settings: a cutoff is rehearsed beside its guard")
            self.settings_text, self.limits_text = example.settings_text(), example.limits_text()
            self.told.append(
                f"No settings file in {default}: the example's settings are rehearsed (--settings FILE)."
            )
        else:
            path = settings_file or default
            self.settings_text = _text(path)
            beside = limits_file
            if beside is None and settings_file is None and default_limits.exists():
                beside = default_limits
            self.limits_text = None if beside is None else _text(beside)
            self.told.append(f"Settings: {path}")
            self.told.append(
                f"Cutoff:   {beside}"
                if beside is not None
                else "Cutoff:   left out, its contact counts as closed (--limits FILE)"
            )
            if beside is not None:
                self._cutoff_reads(beside)
        outcome = read_bytes(self.settings_text.encode())
        if isinstance(outcome, Rejected):
            name = str(settings_file or default)
            stop(report(outcome.problems, name, "the guard would not take it").rstrip())
        self.accepted: Accepted = outcome

    def _cutoff_reads(self, path: Path) -> None:
        setup = limits.read(self.limits_text or "")
        if isinstance(setup, list):
            stop(problems_in_words(str(path), setup, "the cutoff would not take it").rstrip())


def _tank(plan_file: Path | None, accepted: Accepted) -> tuple[TankPlan, str]:
    """Return the tank, and where it is from."""
    if plan_file is not None:
        outcome = read_plan(content_of(plan_file))
        if isinstance(outcome, Rejected):
            stop(report(outcome.problems, str(plan_file), "nothing was rehearsed").rstrip())
        return outcome.plan, f"Tank:     {plan_file}"
    if accepted.settings.plan is not None:
        return accepted.settings.plan, "Tank:     the `plan` section of the settings"
    return (
        example.tank(),
        "Tank:     the example's 340 litres; describe your own in a plan file (--plan FILE)",
    )


def _sized_w(tank: TankPlan, weather: Weather) -> float | None:
    """Return the capacity that the plan finds for a tank whose chiller has none yet."""
    found = make_plan(tank, weather if isinstance(weather, HourlyWeather) else None).chiller
    if isinstance(found, CannotJudge):
        stop(
            f"the plan finds no chiller: {found.why}\n  mend: name its capacity under `chiller:` in the plan"
        )
    return found.sized_w


def _weather(tank: TankPlan, plan_file: Path | None) -> Weather:
    match tank.weather:
        case DesignDayPlan(hottest_c, coolest_c, humidity):
            return DesignDay(hottest_c, coolest_c, humidity)
        case WeatherFilePlan(file):
            beside = plan_file.parent if plan_file is not None else places.settings_file().parent
            return _series(beside / file, tank)


def _series(path: Path, tank: TankPlan) -> HourlyWeather:
    outcome = read_weather(content_of(path), pressure_at_pa(tank.altitude_m))
    if not isinstance(outcome, HourlyWeather):
        stop(report(outcome, str(path), "nothing was rehearsed").rstrip())
    return outcome


def _weigh(accepted: Accepted, setup: Setup | None) -> list[CheckFinding]:
    found = list(findings(accepted))
    return found if setup is None else found + list(cutoff_findings(accepted, cutoff_plan(setup)))


# --- drills ---


def _drill(named: str) -> Drill:
    """Return one that comes with the program, or one from a file."""
    path = Path(named)
    if path.suffix not in (".yaml", ".yml") and "/" not in named:
        if named not in _names():
            stop(
                f"no drill is called `{named}`\n  mend: see `reefguard rehearse --list`, or name a .yaml file"
            )
        return _shipped(named)
    outcome = read_drill(content_of(path), path.stem)
    if not isinstance(outcome, Drill):
        stop(report(outcome, named, "nothing was rehearsed").rstrip())
    if isinstance(outcome.weather, WeatherSeries):
        return replace(outcome, weather=WeatherSeries(str(path.parent / outcome.weather.file)))
    return outcome


def _names() -> list[str]:
    shipped = resources.files("reefguard.rehearsal.drills") / "shipped"
    return sorted(Path(one.name).stem for one in shipped.iterdir() if one.name.endswith(".yaml"))


def _content(name: str) -> bytes:
    return (resources.files("reefguard.rehearsal.drills") / "shipped" / f"{name}.yaml").read_bytes()


def _shipped(name: str) -> Drill:
    outcome = read_drill(_content(name), name)
    if not isinstance(outcome, Drill):
        stop(report(outcome, name, "nothing was rehearsed").rstrip())
    return outcome


def _shown(name: str | None) -> str:
    if name is None:
        width = max(map(len, _names()))
        return "".join(f"{one:<{width}}  {_shipped(one).says}\n" for one in _names())
    if name not in _names():
        stop(f"no drill is called `{name}`\n  mend: see `reefguard rehearse --list`")
    return _content(name).decode()


# --- files ---


def _text(path: Path) -> str:
    try:
        return content_of(path).decode()
    except UnicodeDecodeError:
        stop(f"{path}: not UTF-8 text\n  mend: reefguard check {path}")


def _write(path: Path, text: str, *, quiet: bool) -> None:
    try:
        replace_file(path, text.encode(), durable=False)
    except OSError as error:
        stop(f"{path}: cannot be written: {error.strerror}\n  mend: name a place that may be written")
    click.echo(f"drawn in {path}", err=quiet)
