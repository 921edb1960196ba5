"""Drill files: strict as the settings, every mistake told with its line."""

from importlib import resources
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.rehearsal.drills.drill import Bounds, CutoffMust, Drill, Event, Outdoors, Part, Turn
from reefguard.rehearsal.drills.fields import FILE
from reefguard.rehearsal.drills.reading import read_drill
from reefguard.rehearsal.drills.turns import TURNS
from reefguard.settings.declaration import Field
from reefguard.settings.problems import Problem

SHIPPED = sorted(
    Path(str(one)) for one in (resources.files("reefguard.rehearsal.drills") / "shipped").iterdir()
)

WHOLE = """\
says: The compressor dies at noon.
lasts: 30 h
begins: 07:30
tick: 10 s
water: 79 °F
weather: {hottest: 33 °C, coolest: 23 °C, humidity: 45 %}
events:
  dies: {part: chiller, is: dead, from: 6 h}
  apart: {part: probe, which: last, is: off by, by: 1 °C, from: 1 h, lasts: 2 min, every: 10 min, times: 3}
limits:
  above_band: 0.5 °C
  told: [water high]
  told_within: 2 h
  cutoff_must: never trip
"""


def drill(text: str) -> Drill:
    outcome = read_drill(text.encode(), "mine")
    assert isinstance(outcome, Drill), outcome
    return outcome


def problems(text: str) -> tuple[Problem, ...]:
    outcome = read_drill(text.encode(), "mine")
    assert not isinstance(outcome, Drill)
    return outcome


def test_a_whole_drill_is_read() -> None:
    assert drill(WHOLE) == Drill(
        name="mine",
        says="The compressor dies at noon.",
        lasts_s=108_000.0,
        begins_s=27_000.0,
        tick_s=10.0,
        water_c=pytest.approx(26.111, abs=0.001),  # type: ignore[arg-type]  # equals the number it stands for
        weather=Outdoors(33.0, 23.0, 0.45),
        events=(
            Event("dies", Part.CHILLER, Turn.DEAD, 21_600.0),
            Event("apart", Part.PROBE, Turn.OFF_BY, 3_600.0, 120.0, 600.0, 3, "last", 1.0),
        ),
        bounds=Bounds(above_band_c=0.5, told=("water high",), told_within_s=7_200.0, cutoff=CutoffMust.STAY),
    )


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_every_drill_that_comes_with_the_program_reads(path: Path) -> None:
    outcome = read_drill(path.read_bytes(), path.stem)
    assert isinstance(outcome, Drill), outcome
    assert len(outcome.says) > 20


def test_the_shipped_drills_are_all_that_a_keeper_was_promised() -> None:
    names = {path.stem for path in SHIPPED}
    faults = {
        "absent", "empty", "checksum", "zeros", "malformed", "unreadable", "no-answer", "power-on",
        "unconverted", "out-of-range", "jumps", "reads-low", "drifts", "frozen", "in-the-air",
    }  # fmt: skip
    assert names >= {f"probe-{fault}" for fault in faults} | {f"cutoff-probe-{fault}" for fault in faults}
    assert names >= {
        "ordinary-hot-day", "heat-wave-week", "muggy-night", "chiller-fails-at-noon", "chiller-relay-welded",
        "fan-dead", "probes-apart", "lights-left-on", "lights-an-hour-off", "clock-wrong-by-a-year",
        "power-cut-in-the-afternoon", "power-cuts-ten-in-an-hour", "guard-killed", "guard-hung",
        "mistake-heater-logic", "mistake-cutoff-inside-the-band", "mistake-differential-too-small",
        "chiller-in-a-cabinet", "winter-fans-on-the-timer", "cold-water-change", "room-door-open",
    }  # fmt: skip


MISTAKES = [
    ("is: dead", "is: ded", 8, "no such choice"),
    ("is: dead", "is: frozen", 8, "a chiller cannot be that"),
    ("is: dead,", "is: weakened to,", 8, "needs an amount"),
    ("is: dead,", "is: dead, by: 30 %,", 8, "has no amount"),
    ("is: dead,", "which: first, is: dead,", 8, "there is one chiller only"),
    ("which: last, ", "", 9, "which probe?"),
    ("by: 1 °C", "by: 1", 9, "bare number"),
    ("by: 1 °C", "by: 99 °C", 9, "further off than a probe can be"),
    ("lasts: 2 min", "lasts: 20 min", 9, "not shorter than `every`"),
    ("lasts: 2 min, ", "", 9, "must end in between"),
    ("every: 10 min, ", "", 9, "`times` needs `every`"),
    ("from: 6 h", "from: 31 h", 8, "after the drill has ended"),
    ("from: 6 h", "from: 6", 8, "bare number"),
    ("hottest: 33", "hottest: 20", 6, "above `hottest`"),
    (", humidity: 45 %", "", 6, "three numbers, or by a file"),
    ("humidity: 45 %", "humidity: 140 %", 6, "more than saturated"),
    ("says: The compressor dies at noon.\n", "", 1, "must be given"),
    ("above_band: 0.5 °C", "abvoe_band: 0.5 °C", 11, "no such key"),
    ("begins: 07:30", "begins: 7.30", 3, "not a time of day"),
    ("times: 3", "times: 3.5", 9, "not a count"),
    ("cutoff_must: never trip", "check_says: refused", 14, "no mistake to tell of"),
    ("lasts: 30 h", "lasts: 30 h\nmistakes: [fans]", 3, "no key with a value"),
]


@pytest.mark.parametrize(("good", "bad", "line", "why"), MISTAKES)
def test_each_mistake_is_told_with_its_line(good: str, bad: str, line: int, why: str) -> None:
    assert good in WHOLE
    found = problems(WHOLE.replace(good, bad, 1))
    assert any(one.place.line == line and why in one.why for one in found), found
    assert all(one.mend for one in found)


def test_a_drill_without_a_limit_proves_nothing() -> None:
    text = "says: Nothing is asked.\nlasts: 1 h\nlimits: {told_within: 5 min}\n"
    assert "no limit is given" in problems(text)[0].why
    drill(text.replace("{told_within: 5 min}", "{quiet: false}"))


def test_only_one_event_makes_a_run_for_each() -> None:
    both = WHOLE.replace("which: last", "which: each").replace(
        "  dies: {part: chiller, is: dead,", "  fan: {part: fan, which: each, is: dead,"
    )
    assert any("has `each` already" in one.why for one in problems(both))


def test_a_momentary_turn_does_not_last() -> None:
    text = WHOLE.replace(
        "part: chiller, is: dead, from: 6 h", "part: guard, is: killed, from: 6 h, lasts: 1 h"
    )
    assert any("does not last" in one.why for one in problems(text))


def test_a_water_change_says_how_warm_the_new_water_is() -> None:
    text = WHOLE.replace("part: chiller, is: dead", "part: water, is: changed, by: 30 %")
    assert any("new water's temperature" in one.why for one in problems(text))


def test_text_that_is_no_utf8_is_told_with_its_line() -> None:
    outcome = read_drill(b"says: x\nlasts: \xff\n", "x")
    assert not isinstance(outcome, Drill)
    assert outcome[0].place.line == 2


@pytest.mark.parametrize(
    ("part", "turn"), [(part, turn) for part, turns in TURNS.items() for turn in turns], ids=str
)
def test_every_turn_of_every_part_can_be_written(part: Part, turn: Turn) -> None:
    needs = TURNS[part][turn]
    which = ", which: every" if part in (Part.PROBE, Part.FAN) else ""
    by = "" if needs.measure is None else f", by: {needs.measure.example}"
    water = ", water: 18 °C" if turn is Turn.CHANGED else ""
    event = f"{{part: {part.value}, is: '{turn.value}', from: 1 h{which}{by}{water}}}"
    read = drill(f"says: One thing happens.\nlasts: 2 h\nevents:\n  it: {event}\nlimits: {{starts: 3}}\n")
    assert (read.events[0].part, read.events[0].turn) == (part, turn)


@given(st.binary(max_size=300))
@settings(deadline=None)
def test_no_content_is_too_strange(content: bytes) -> None:
    read_drill(content, "strange")


@given(st.integers(0, len(WHOLE)), st.text(max_size=8), st.integers(0, 20))
@settings(deadline=None)
def test_no_slip_of_the_hand_is_too_strange(place: int, typed: str, lost: int) -> None:
    read_drill((WHOLE[:place] + typed + WHOLE[place + lost :]).encode("utf-8", "surrogatepass"), "slip")


def test_every_key_says_what_it_is() -> None:
    assert all(part.says for part in FILE if isinstance(part, Field))
