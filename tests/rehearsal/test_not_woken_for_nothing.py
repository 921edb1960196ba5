"""Nobody is woken for nothing: alarms over ordinary days, and over a summer with the faults it brings.

The figures are those that texts quote of ANSI/ISA-18.2-2016 (16.4, tables 5 and 6): about one alarm in ten
minutes is acceptable for one operator, an alarm that comes and goes three times in a minute chatters, and
alarms that stand longer than a day want a reason.
"""

from collections.abc import Iterator
from importlib import resources

import pytest
from rehearsed import SETTINGS, drill, stage

from reefguard.alarms.catalogue import Priority, kind_of
from reefguard.rehearsal.drills.drill import EVERY, Drill, Event, Outdoors, Part, Turn
from reefguard.rehearsal.drills.life import live
from reefguard.rehearsal.drills.reading import read_drill
from reefguard.rehearsal.drills.record import Record
from reefguard.thermal.weather import DesignDay

DAY_S = 86_400.0


def shipped(name: str) -> Drill:
    content = (resources.files("reefguard.rehearsal.drills") / "shipped" / f"{name}.yaml").read_bytes()
    outcome = read_drill(content, name)
    assert isinstance(outcome, Drill)
    return outcome


def raised(record: Record) -> Iterator[tuple[float, float, str, Priority]]:
    for name, spells in record.told.items():
        kind = kind_of(name)
        assert kind is not None
        for spell in spells:
            yield spell.from_s, spell.until_s, name, kind.priority


@pytest.mark.parametrize("name", ["ordinary-hot-day", "heat-wave-week", "muggy-night", "lights-left-on"])
def test_on_an_ordinary_drill_nobody_must_act(name: str) -> None:
    """On the tank as planned; what is told of a fan that must run all day in a heat wave is for this week."""
    of = shipped(name)
    weather = of.weather
    outdoors = DesignDay(33.0, 22.0, 0.45)
    if isinstance(weather, Outdoors):
        outdoors = DesignDay(weather.hottest_c, weather.coolest_c, weather.relative_humidity)
    told = list(raised(live(stage(of, weather=outdoors))))
    assert [one for one in told if one[3] > Priority.LOW] == []


def fault(part: Part, turn: Turn, day: float, hours: float | None = None, **more: object) -> Event:
    lasts_s = None if hours is None else hours * 3_600.0
    return Event("it", part, turn, day * DAY_S, lasts_s, **more)  # type: ignore[arg-type]  # a test names what it adds


SUMMER = (
    fault(Part.PROBE, Turn.EMPTY, 5.3, 0.01, every_s=3.1 * DAY_S, times=25, which="display"),  # a loose plug
    fault(Part.PROBE, Turn.CHECKSUM, 11.6, 6.0, which="sump"),
    fault(Part.POWER, Turn.CUT, 17.4, 0.02, every_s=600.0, times=4),  # a thunderstorm
    fault(Part.FAN, Turn.DEAD, 28.2, 48.0, which="fan1"),
    fault(Part.PROBE, Turn.DRIFTING, 38.0, 96.0, which="sump", by=0.02),
    fault(Part.CHILLER, Turn.WEAKENED, 45.0, 200.0, by=0.6),
    fault(Part.PROBE, Turn.ABSENT, 60.5, 3.0, which=EVERY),
    fault(Part.CUTOFF, Turn.KILLED, 66.0),
    fault(Part.GUARD, Turn.HUNG, 70.0),
)


def test_over_a_summer_with_common_faults_alarms_stay_few_and_never_chatter() -> None:
    record = live(stage(drill(*SUMMER, lasts_h=90 * 24.0, begins_h=0.0, tick_s=30.0), SETTINGS))
    told = sorted(raised(record))
    assert told
    # A tank is no refinery: less than one alarm in two days, over a summer with nine kinds of trouble.
    assert len(told) < 90 / 2
    for begun_s, _, name, _ in told:
        again = [one for one in told if one[2] == name and begun_s <= one[0] < begun_s + 60.0]
        assert len(again) < 3, f"{name} chatters"
    for begun_s, _, _, _ in told:
        assert sum(begun_s <= one[0] < begun_s + 600.0 for one in told) <= 10
    for begun_s, ended_s, name, priority in told:
        if ended_s - begun_s > DAY_S and priority > Priority.LOW:
            assert any(
                event.from_s < ended_s and begun_s < event.from_s + (event.lasts_s or 0.0) for event in SUMMER
            ), f"{name} stood for more than a day without a cause that did"
