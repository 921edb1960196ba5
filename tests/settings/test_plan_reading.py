"""A plan file becomes a plan, or every mistake in it is told with its place."""

from dataclasses import fields

import jsonschema  # type: ignore[import-untyped]  # ships no types
import pytest
from plan_values import BAD, GOOD
from settings_files import Tree, with_keys, written

from reefguard.settings.declaration import Field
from reefguard.settings.fields import every_key
from reefguard.settings.model import RatedFor, SafeBand
from reefguard.settings.outcome import Rejected
from reefguard.settings.plan_build import _hold_c, plan_from
from reefguard.settings.plan_fields import PLAN_FILE, PLAN_SECTION
from reefguard.settings.plan_model import (
    ChillerPlace,
    ChillerPlan,
    DesignDayPlan,
    FansPlan,
    Price,
    StandPlan,
    Switch,
    SwitchPlan,
    TankPlan,
    VesselPlan,
    WeatherFilePlan,
)
from reefguard.settings.plan_reading import EXAMPLE, AcceptedPlan, broken_so_far, read_plan
from reefguard.settings.problems import Problem
from reefguard.settings.sheet import Sheet

SHORTEST = """\
tank: small reef
safe_band: {low: 24 °C, high: 27 °C}
hold_at: 26 °C
water: {volume: 60 L}
display: {length: 50 cm, width: 40 cm, depth: 35 cm}
lights: {power: 50 W, on: 09:30, off: 21:15}
pumps: 15 W
"""


def accepted(text: str) -> TankPlan:
    outcome = read_plan(text.encode())
    assert isinstance(outcome, AcceptedPlan), outcome
    return outcome.plan


def problems(text: str) -> tuple[Problem, ...]:
    outcome = read_plan(text.encode())
    assert isinstance(outcome, Rejected), "accepted"
    return outcome.problems


def only_problem(text: str) -> Problem:
    (problem,) = problems(text)
    return problem


def test_the_example_says_exactly_this() -> None:
    assert accepted(EXAMPLE) == TankPlan(
        tank="the reef",
        litres=340.0,
        display=VesselPlan(1.2, 0.5, 0.55),
        sump=VesselPlan(0.8, 0.4, 0.25),
        stand=StandPlan(vented_m3_h=10.0),
        lights_w=250.0,
        lights_on_s=36_000,
        lights_off_s=72_000,
        pumps_w=60.0,
        safe_band=SafeBand(24.0, 27.8),
        hold_c=26.5,
        chiller=ChillerPlan(place=ChillerPlace.OUTSIDE, running_current_a=2.1),
        switch=SwitchPlan(Switch.RELAY, 10.0, RatedFor.RESISTIVE),
        heater_w=200.0,
        weather=DesignDayPlan(33.0, 22.0, 0.45),
        price=Price(0.32, "EUR"),
    )


def test_what_is_left_out_has_the_models_defaults() -> None:
    """So the defaults written in the declaration are the model's own."""
    assert accepted(SHORTEST) == TankPlan(
        tank="small reef",
        litres=60.0,
        display=VesselPlan(0.5, 0.4, 0.35),
        lights_w=50.0,
        lights_on_s=34_200,
        lights_off_s=76_500,
        pumps_w=15.0,
        safe_band=SafeBand(24.0, 27.0),
        hold_c=26.0,
    )


def test_sections_that_say_little_have_the_models_defaults() -> None:
    keys: dict[str, str | Tree | None] = {
        "stand": {},
        "switch": {"kind": "relay", "rating": "10 A"},
        "fans": {},
        "chiller": {},
        "room": {},
        "weather": {},
        "heater": {},
    }
    plan = accepted(with_keys(keys, SHORTEST))
    assert plan.stand == StandPlan()
    assert plan.switch == SwitchPlan(Switch.RELAY, 10.0)
    assert (plan.fans, plan.chiller) == (FansPlan(), ChillerPlan())
    assert plan == accepted(with_keys({"stand": {}, "switch": keys["switch"]}, SHORTEST))


def test_a_weather_file_stands_for_the_three_numbers() -> None:
    plan = accepted(with_keys({"weather": {"file": "summer of 2024.csv"}}, SHORTEST))
    assert plan.weather == WeatherFilePlan("summer of 2024.csv")


def _at(plan: object, path: str) -> object:
    for step in path.split("."):
        plan = getattr(plan, step)
    return plan


@pytest.mark.parametrize(("key", "value", "path", "becomes"), GOOD)
def test_each_key_reaches_its_place_and_no_other(key: str, value: str, path: str, becomes: object) -> None:
    before = with_keys({"chiller.running_current": "2 A"}, EXAMPLE)
    plan = accepted(with_keys({key: value}, before))
    assert _at(plan, path) == becomes
    unchanged = accepted(before)
    differing = [one.name for one in fields(TankPlan) if _at(plan, one.name) != _at(unchanged, one.name)]
    assert differing in ([path.split(".", maxsplit=1)[0]], [])


@pytest.mark.parametrize(("key", "value", "why"), BAD)
def test_what_must_not_stand_at_a_key_is_told_there(key: str, value: str, why: str) -> None:
    text = with_keys({key: value}, EXAMPLE)
    problem = only_problem(text)
    assert problem.key == key
    assert why in problem.why
    assert problem.mend
    assert key.rpartition(".")[2] in text.splitlines()[problem.place.line - 1]


def test_every_key_is_tried_with_a_good_and_a_bad_value() -> None:
    declared = {key for key, part in every_key(PLAN_FILE) if isinstance(part, Field)}
    assert {key for key, *_ in GOOD} | {"weather.file"} == declared
    assert {key for key, *_ in BAD} == declared


def test_every_default_of_the_model_can_be_changed() -> None:
    changed = {path.split(".", maxsplit=1)[0] for _, _, path, _ in GOOD}
    assert {one.name for one in fields(TankPlan)} == changed


@pytest.mark.parametrize(
    "key",
    [
        *("tank", "safe_band", "safe_band.low", "safe_band.high", "hold_at"),
        *("water", "water.volume", "display", "display.length", "display.width", "display.depth"),
        *("sump.length", "sump.width", "sump.depth", "lights", "lights.power", "lights.on", "lights.off"),
        *("pumps", "switch.kind", "switch.rating", "electricity.price"),
    ],
)
def test_what_must_be_given_is_missed(key: str) -> None:
    problem = only_problem(with_keys({key: None}, EXAMPLE))
    assert (problem.key, problem.read) == (key, "missing")
    assert problem.mend.startswith("write ")


@pytest.mark.parametrize(
    "key", ["sump", "stand", "fans", "chiller", "switch", "heater", "room", "weather", "electricity"]
)
def test_what_a_tank_need_not_have_may_be_left_out(key: str) -> None:
    accepted(with_keys({key: None}, EXAMPLE))


def test_a_keeper_who_writes_heating_is_not_told_of_a_heaters_logic() -> None:
    problem = only_problem(with_keys({"room.heating": "20 °C"}, EXAMPLE))
    assert (problem.key, problem.why) == ("room", "no such key")
    assert "`heated_to`" in problem.mend


def test_all_problems_come_at_once_and_in_the_order_of_the_file() -> None:
    keys = {"water.volume": "340", "pumps": "-60 W", "weather.humidity": "140 %", "room.xyzzy": "1"}
    told = problems(with_keys(keys, EXAMPLE))
    assert len(told) == len(keys)
    assert sorted(problem.place for problem in told) == [problem.place for problem in told]


def test_the_lines_are_those_of_the_file() -> None:
    outcome = read_plan(EXAMPLE.encode())
    assert isinstance(outcome, AcceptedPlan)
    numbered = dict(enumerate(EXAMPLE.splitlines(), start=1))
    assert numbered[outcome.lines["display.depth"]].startswith("  depth: 55 cm")
    assert numbered[outcome.lines["sump"]].startswith("sump:")
    assert numbered[outcome.lines["fans.over"]].startswith("fans:")


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "the file is empty"),
        (b"- a", "made of keys with values"),
        (b"tank: a\xb0", "not UTF-8 text: the byte 0xb0"),
        (EXAMPLE.encode("utf-16"), "not UTF-8 text"),
        (b"tank: a\ntank: b\n", "written twice"),
    ],
)
def test_what_is_no_plan_file_at_all_is_told(content: bytes, why: str) -> None:
    outcome = read_plan(content)
    assert isinstance(outcome, Rejected)
    assert any(why in problem.why for problem in outcome.problems)


def test_a_sheet_with_something_missing_makes_no_plan() -> None:
    with pytest.raises(LookupError, match="tank"):
        plan_from(Sheet())


def test_a_sheet_that_says_nothing_of_what_is_held_makes_no_plan() -> None:
    """The rules of both files see to it; to be sure, it is an error and no number."""
    with pytest.raises(LookupError, match=r"plan\.hold_at"):
        _hold_c(Sheet(), "plan.")


def test_a_plan_still_being_written_is_held_to_what_it_says() -> None:
    assert broken_so_far("") == ()
    assert broken_so_far("tank: x\n") == ()
    (problem,) = broken_so_far("weather: {hottest: 20 °C, coolest: 21 °C}\n")
    assert problem.key == "weather.coolest"


def test_what_the_reader_takes_pleases_an_editor() -> None:
    for key, part in [*every_key(PLAN_FILE), *every_key(PLAN_SECTION.parts)]:
        if isinstance(part, Field):
            for example in (part.kind.example, part.default or part.kind.example):
                jsonschema.validate(example, dict(part.kind.schema))
        assert part.says.endswith("."), key
    kinds = {key: part.kind for key, part in every_key(PLAN_FILE) if isinstance(part, Field)}
    for key, value, *_ in GOOD:
        jsonschema.validate(value.strip("'"), dict(kinds[key].schema))


def test_the_writer_of_these_tests_changes_nothing() -> None:
    assert accepted(with_keys({}, EXAMPLE)) == accepted(EXAMPLE)
    assert written({"a": {}}) == "a: {}\n"
