"""A tank, settings and runs for the tests of the rehearsal."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from reefguard.cutoff import limits
from reefguard.cutoff.limits import Setup
from reefguard.rehearsal.bench import Bench, limits_text, settings_text
from reefguard.rehearsal.drills.deviation import Deviation, none_at_all
from reefguard.rehearsal.drills.drill import CUTOFFS, Bounds, Drill, Event
from reefguard.rehearsal.drills.life import Stage
from reefguard.settings.model import Settings
from reefguard.settings.outcome import Accepted
from reefguard.settings.reading import read
from reefguard.thermal.plant import FanTraits, Plant, Room, Siting, Stand, Vessel
from reefguard.thermal.refrigeration import ChillerTraits
from reefguard.thermal.walls import Walls
from reefguard.thermal.weather import DesignDay, Weather

BENCH = Bench(Path("/nowhere"))
SETTINGS_TEXT = settings_text(BENCH)
LIMITS_TEXT = limits_text(BENCH)


def accepted() -> Accepted:
    outcome = read(SETTINGS_TEXT)
    assert isinstance(outcome, Accepted)
    return outcome


def setup() -> Setup:
    outcome = limits.read(LIMITS_TEXT)
    assert isinstance(outcome, Setup)
    return outcome


SETTINGS: Settings = accepted().settings
SETUP = setup()

# 340 litres with a sump in a stand, its chiller's heat outdoors.
PLANT = Plant(
    litres=340.0,
    display=Vessel(0.6, Walls(2.0 * (1.2 + 0.5) * 0.55, 0.55, 0.010)),
    room=Room(50.0, 90.0, other_gains_w=100.0),
    lights_w=250.0,
    pumps_w=60.0,
    sump=Vessel(0.32, Walls(2.0 * (0.8 + 0.4) * 0.25, 0.25, 0.008)),
    stand=Stand(6.0, 10.0),
    fans=(FanTraits(1.5, 0.4), FanTraits(1.5, 0.4)),
    chiller=ChillerTraits(600.0),
    siting=Siting.OUTSIDE,
)
HOT = DesignDay(33.0, 23.0, 0.45)


def drill(*events: Event, lasts_h: float = 8.0, begins_h: float = 10.0, **changes: Any) -> Drill:
    """Return a drill with these events that asks for nothing."""
    whole = Drill(
        "a drill", "Something happens.", lasts_h * 3_600.0, begins_h * 3_600.0, Bounds(), events=events
    )
    return replace(whole, **changes)


def stage(
    of: Drill,
    settings: Settings = SETTINGS,
    setup: Setup | None = SETUP,
    plant: Plant = PLANT,
    weather: Weather = HOT,
    deviation: Deviation | None = None,
) -> Stage:
    """Return a run of the drill, on the tank exactly as planned where nothing else is said."""
    return Stage(of, settings, setup, plant, weather, 0.0, deviation or none_at_all(probes(settings)))


def probes(settings: Settings = SETTINGS) -> Sequence[str]:
    return [*(probe.name for probe in settings.water_probes), CUTOFFS]
