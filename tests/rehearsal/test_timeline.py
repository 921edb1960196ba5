"""What holds at each moment of a drill."""

import pytest

from reefguard.rehearsal.drills.drill import EVERY, Event, Part, Turn
from reefguard.rehearsal.drills.timeline import Conditions, Timeline, episodes
from reefguard.rehearsal.drills.turns import TURNS

HOUR_S = 3_600.0


def at(moment_s: float, *events: Event) -> Conditions:
    timeline = Timeline(events, 10 * HOUR_S, ("display", "sump"), ("left", "right"))
    return timeline.reach(moment_s)[0]


CHANGES = [
    (Part.CHILLER, Turn.DEAD, "chiller_strength", 0.0),
    (Part.CHILLER, Turn.WEAKENED, "chiller_strength", 0.4),
    (Part.CHILLER, Turn.WELDED, "chiller_welded", True),
    (Part.CHILLER, Turn.ENCLOSED, "chiller_enclosed", True),
    (Part.CUTOFF_RELAY, Turn.WELDED, "cutoff_welded", True),
    (Part.LIGHTS, Turn.ON, "lights", True),
    (Part.LIGHTS, Turn.OFF, "lights", False),
    (Part.LIGHTS, Turn.SHIFTED, "lights_late_s", 0.4),
    (Part.CLOCK, Turn.UNTRUSTED, "clock_trusted", False),
    (Part.CLOCK, Turn.WRONG_BY, "clock_off_s", 0.4),
    (Part.POWER, Turn.CUT, "house_power", False),
    (Part.POWER, Turn.CUT_FROM_PI, "pi_power", False),
    (Part.GUARD, Turn.DEAD, "guard_dead", True),
    (Part.CUTOFF, Turn.DEAD, "cutoff_dead", True),
    (Part.PUMPS, Turn.STOPPED, "pumps", 0.0),
    (Part.ROOM, Turn.OPEN, "room_open", True),
    (Part.STAND, Turn.OPEN, "stand_open", True),
    (Part.TOP_OFF, Turn.STOPPED, "topped_off", False),
]


@pytest.mark.parametrize(("part", "turn", "name", "value"), CHANGES)
def test_each_turn_holds_from_its_beginning_to_its_end(
    part: Part, turn: Turn, name: str, value: object
) -> None:
    event = Event("it", part, turn, HOUR_S, HOUR_S, by=0.4)
    well = getattr(Conditions(), name)
    assert value != well
    assert getattr(at(HOUR_S - 1.0, event), name) == well
    assert getattr(at(HOUR_S, event), name) == value
    assert getattr(at(2 * HOUR_S - 1.0, event), name) == value
    assert getattr(at(2 * HOUR_S, event), name) == well


def test_no_lasting_turn_is_without_effect() -> None:
    lasting = {(p, t) for p, turns in TURNS.items() for t, needs in turns.items() if not needs.momentary}
    assert lasting == {(p, t) for p, t, _, _ in CHANGES} | {
        (p, t) for p in (Part.PROBE, Part.FAN) for t in TURNS[p]
    }


def test_every_probe_is_each_of_the_guards() -> None:
    blind = at(0.0, Event("blind", Part.PROBE, Turn.EMPTY, 0.0, which=EVERY))
    assert set(blind.probes) == {"display", "sump"}


def test_every_fan_is_each_of_them() -> None:
    assert set(at(0.0, Event("all", Part.FAN, Turn.DEAD, 0.0, which=EVERY)).fans) == {"left", "right"}


def test_repetitions_come_and_go() -> None:
    cuts = Event("cut", Part.POWER, Turn.CUT, HOUR_S, 20.0, 360.0, 10)
    assert len(episodes((cuts,), 10 * HOUR_S)) == 10
    assert not at(HOUR_S + 9 * 360.0 + 19.0, cuts).house_power
    assert at(HOUR_S + 9 * 360.0 + 20.0, cuts).house_power
    assert at(HOUR_S + 10 * 360.0 + 1.0, cuts).house_power


def test_what_begins_after_the_end_never_happens() -> None:
    cuts = Event("cut", Part.POWER, Turn.CUT, HOUR_S, 20.0, 2 * HOUR_S, 10)
    assert len(episodes((cuts,), 4 * HOUR_S)) == 2


def test_a_moment_is_told_once_and_none_is_missed() -> None:
    kills = Event("kill", Part.GUARD, Turn.KILLED, 3.0, every_s=10.0, times=5)
    timeline = Timeline((kills,), 60.0, (), ())
    told = [len(timeline.reach(float(moment_s))[1]) for moment_s in range(0, 60, 4)]
    assert sum(told) == 5
    assert max(told) == 1


def test_two_moments_between_two_ticks_are_both_told() -> None:
    kills = Event("kill", Part.GUARD, Turn.KILLED, 3.0, every_s=1.0, times=2)
    timeline = Timeline((kills,), 60.0, (), ())
    timeline.reach(0.0)
    assert len(timeline.reach(30.0)[1]) == 2
