"""From a drill and a keeper's files to runs: a row of the table each."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from reefguard.cutoff import limits
from reefguard.cutoff.limits import Setup
from reefguard.rehearsal.drills.deviation import drawn, none_at_all
from reefguard.rehearsal.drills.drill import (
    CUTOFFS,
    EACH,
    EVERY,
    CutoffMust,
    Drill,
    Event,
    Expected,
    Outdoors,
    Part,
    WeatherSeries,
)
from reefguard.rehearsal.drills.life import Stage
from reefguard.rehearsal.drills.mistakes import with_mistakes
from reefguard.settings.model import Settings
from reefguard.settings.outcome import Accepted, Rejected
from reefguard.settings.problems import CheckFinding
from reefguard.settings.reading import read
from reefguard.thermal.plant import Plant
from reefguard.thermal.weather import DAY_S, DesignDay, HourlyWeather, Weather, hottest_day

FIRST, LAST = "first", "last"

# What `check` finds in a pair of files.
Weigh = Callable[[Accepted, Setup | None], Iterable[CheckFinding]]


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What every run has in common: the keeper's files, the tank, the weather.

    Attributes:
        settings_text: of the guard's settings file, which reads without problems.
        limits_text: of the cutoff's limits file, or `None` to leave the cutoff out.
        plant: the tank as planned.
        weather: for drills that bring none of their own.
        series: weather of the files that drills name.
        tanks: how many deviating tanks each drill is run on; 0 is one tank exactly as planned.
        weigh: what `check` finds.
    """

    settings_text: str
    limits_text: str | None
    plant: Plant
    weather: Weather
    series: Mapping[str, HourlyWeather]
    tanks: int
    weigh: Weigh


@dataclass(frozen=True, slots=True)
class Row:
    """A run to be made.

    Attributes:
        name: of the row.
        drill: its own, `each` replaced.
        stage: what to run, or a sentence why there is nothing to run.
        said: what `check` said of the drill's mistakes.
        tank: the deviating tank's number, from 1.
    """

    name: str
    drill: Drill
    stage: Stage | str
    said: Expected | None
    tank: int


class DrillDoesNotFitError(Exception):
    """A drill names something these settings do not have, in words."""


def rows_of(drill: Drill, around: Circumstances) -> list[Row]:
    """Return the runs of a drill.

    Raises:
        DrillDoesNotFitError: it names a probe or a fan that these settings do not have, or a key.
    """
    settings, setup, said = _read_with_mistakes(drill, around)
    if settings is None:
        return [Row(drill.name, drill, "the settings were refused, as `check` would", said, 1)]
    missing = _missing(drill, settings, setup)
    if missing is not None:
        return [Row(drill.name, drill, missing, said, 1)]
    weather, from_s = _weather(drill, around)
    plant = _with_fans(around.plant, settings)
    rows = []
    for name, one in _each(drill, settings):
        for tank in range(1, max(1, around.tanks) + 1):
            probes = [probe.name for probe in settings.water_probes] + [CUTOFFS]
            deviation = drawn(f"{name} {tank}", probes) if around.tanks else none_at_all(probes)
            stage = Stage(one, settings, setup, plant, weather, from_s, deviation)
            rows.append(Row(name if around.tanks < 2 else f"{name} (tank {tank})", one, stage, said, tank))
    return rows


def _read_with_mistakes(
    drill: Drill, around: Circumstances
) -> tuple[Settings | None, Setup | None, Expected | None]:
    """Return settings and setup with the drill's mistakes, and what `check` says of them."""
    try:
        text = with_mistakes(around.settings_text, drill.mistakes) if drill.mistakes else around.settings_text
        limits_text = around.limits_text
        if limits_text is not None and drill.cutoff_mistakes:
            limits_text = with_mistakes(limits_text, drill.cutoff_mistakes)
    except ValueError as error:
        raise DrillDoesNotFitError(str(error)) from None
    outcome = read(text)
    setup = None if limits_text is None else limits.read(limits_text)
    if isinstance(outcome, Rejected) or isinstance(setup, list):
        return None, None, Expected.REFUSED
    said = None
    if drill.mistakes or drill.cutoff_mistakes:
        before = _findings(around.settings_text, around.limits_text, around.weigh)
        if set(map(_gist, around.weigh(outcome, setup))) - before:
            said = Expected.WARNED
    return outcome.settings, setup, said


def _findings(text: str, limits_text: str | None, weigh: Weigh) -> set[tuple[str, str]]:
    outcome = read(text)
    setup = None if limits_text is None else limits.read(limits_text)
    if isinstance(outcome, Rejected) or isinstance(setup, list):
        return set()
    return set(map(_gist, weigh(outcome, setup)))


def _gist(finding: CheckFinding) -> tuple[str, str]:
    return finding.key, finding.why


def _missing(drill: Drill, settings: Settings, setup: Setup | None) -> str | None:
    """Return what the drill is about and these settings do not have."""
    parts = {event.part for event in drill.events}
    if settings.chiller is None and parts & {Part.CHILLER, Part.CUTOFF_RELAY}:
        return "there is no chiller"
    if settings.fans is None and Part.FAN in parts:
        return "there are no fans"
    about_cutoff = parts & {Part.CUTOFF, Part.CUTOFF_RELAY, Part.PERSON} or drill.bounds.cutoff in (
        CutoffMust.TRIP,
        CutoffMust.HOLD,
    )
    about_cutoff = about_cutoff or any(event.which == CUTOFFS for event in drill.events)
    if setup is None and (about_cutoff or drill.cutoff_mistakes):
        return "there is no cutoff"
    if len(settings.water_probes) < 2 and any(event.which == LAST for event in drill.events):
        return "there is one probe only"
    return None


def _each(drill: Drill, settings: Settings) -> list[tuple[str, Drill]]:
    """Return a drill for every probe or fan that `each` stands for, and the names of the others filled in."""
    probes = [probe.name for probe in settings.water_probes]
    fans = [fan.name for fan in settings.fans.fans] if settings.fans is not None else []
    events = tuple(_named(event, probes, fans) for event in drill.events)
    each = next((event for event in events if event.which == EACH), None)
    if each is None:
        return [(drill.name, replace(drill, events=events))]
    return [
        (
            f"{drill.name}: {name}",
            replace(
                drill,
                events=tuple(replace(event, which=name) if event is each else event for event in events),
            ),
        )
        for name in (fans if each.part is Part.FAN else probes)
    ]


def _named(event: Event, probes: list[str], fans: list[str]) -> Event:
    if event.part not in (Part.PROBE, Part.FAN) or event.which in (EACH, EVERY, CUTOFFS):
        return event
    names = fans if event.part is Part.FAN else probes
    if event.which in (FIRST, LAST):
        return replace(event, which=names[0] if event.which == FIRST else names[-1])
    if event.which not in names:
        known = ", ".join(f"`{name}`" for name in names)
        message = (
            f"the event `{event.name}` names the {event.part.value} `{event.which}`, which the settings "
            f"do not have; write {known}, `{FIRST}`, `{LAST}`, `{EACH}` or `{EVERY}`"
        )
        raise DrillDoesNotFitError(message)
    return event


def _weather(drill: Drill, around: Circumstances) -> tuple[Weather, float]:
    """Return the weather, and where in it the run's first midnight lies."""
    match drill.weather:
        case Outdoors(hottest_c, coolest_c, humidity):
            return DesignDay(hottest_c, coolest_c, humidity), 0.0
        case WeatherSeries(file):
            weather: Weather = around.series[file]
        case None:
            weather = around.weather
    if not isinstance(weather, HourlyWeather):
        return weather, 0.0
    days = -(-int(drill.begins_s + drill.lasts_s) // int(DAY_S))
    first = min(max(0, hottest_day(weather) - days // 2), max(0, weather.days - days))
    return weather, first * DAY_S


def _with_fans(plant: Plant, settings: Settings) -> Plant:
    """Return the plant with as many fans as the settings have, all like the plan's; none stay idle."""
    count = len(settings.fans.fans) if settings.fans is not None else 0
    if count and not plant.fans:
        message = (
            "the settings have fans, and the plan has none: say how they blow, under `fans:` in the plan"
        )
        raise DrillDoesNotFitError(message)
    fans = tuple(plant.fans[min(place, len(plant.fans) - 1)] for place in range(count))
    return replace(plant, fans=fans, chiller=plant.chiller if settings.chiller is not None else None)
