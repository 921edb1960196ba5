"""The section `plan` of the guard's settings: the same keys, and what the settings say already."""

import pytest
from settings_files import LEAD_AND_LAG, SHORTEST, WHOLE, accepted, only_problem, problems, with_keys

from reefguard.settings.declaration import Field
from reefguard.settings.fields import every_key
from reefguard.settings.findings import findings
from reefguard.settings.model import Unit
from reefguard.settings.plan_fields import PLAN_FILE, PLAN_SECTION
from reefguard.settings.plan_model import TankPlan
from reefguard.settings.plan_reading import AcceptedPlan, read_plan

PLAN = """\
  hold_at: 26.5 °C
  water: {volume: 340 L}
  display: {length: 120 cm, width: 50 cm, depth: 55 cm}
  lights: {power: 250 W}
  pumps: 60 W
  heater: {power: 200 W}
"""
WITH_PLAN = f"{WHOLE}plan:\n{PLAN}"


def planned(text: str) -> TankPlan:
    plan = accepted(text).settings.plan
    assert plan is not None
    return plan


def test_settings_need_no_plan() -> None:
    assert accepted(WHOLE).settings.plan is None
    assert accepted(SHORTEST).settings.plan is None


def test_the_section_says_the_same_as_a_file_of_its_own() -> None:
    own = PLAN.replace("  ", "").replace("250 W", "250 W, on: 10:00, off: 20:00")
    alone = (
        "tank: North reef\nsafe_band: {low: 24.0 °C, high: 27.8 °C}\n"
        + own.replace("200 W", "200 W, off_above: 25 °C")
        + "chiller: {running_current: 1.6 A, starting_current: 9 A}\n"
    )
    outcome = read_plan(alone.encode())
    assert isinstance(outcome, AcceptedPlan), outcome
    assert planned(WITH_PLAN) == outcome.plan


def test_it_follows_what_the_settings_say() -> None:
    keys = {
        "tank": "South reef",
        "show_temperatures_in": "°F",
        "safe_band.low": "24.5 °C",
        "lights.on": "11:00",
        "heater.off_above": "24 °C",
        "chiller.electrical.running_current": "2 A",
    }
    plan = planned(with_keys(keys, WITH_PLAN))
    assert (plan.tank, plan.shown_in, plan.safe_band.low_c) == ("South reef", Unit.FAHRENHEIT, 24.5)
    assert (plan.lights_on_s, plan.heater_off_above_c) == (39_600, 24.0)
    assert (plan.chiller.running_current_a, plan.chiller.starting_current_a) == (2.0, 9.0)


def test_its_own_currents_outrank_those_of_the_chiller_that_runs_now() -> None:
    assert (
        planned(with_keys({"plan.chiller.running_current": "3 A"}, WITH_PLAN)).chiller.running_current_a
        == 3.0
    )


def test_without_a_heaters_thermostat_it_is_the_usual_one() -> None:
    assert planned(with_keys({"heater": None}, WITH_PLAN)).heater_off_above_c == 24.5


@pytest.mark.parametrize(
    ("keys", "hold_c"),
    [
        ({}, (27.2 + 26.6) / 2),
        ({"chiller": None}, (26.6 + 26.2) / 2),
        ({"plan.hold_at": "25.9 °C"}, 25.9),
    ],
)
def test_what_is_held_is_the_middle_of_the_cut_points_unless_told(
    keys: dict[str, str | None], hold_c: float
) -> None:
    base = with_keys({"plan.hold_at": None}, WITH_PLAN)
    assert planned(with_keys(keys, base)).hold_c == pytest.approx(hold_c)


def test_only_what_the_settings_say_already_is_missing_from_the_section() -> None:
    alone = {key for key, part in every_key(PLAN_FILE) if isinstance(part, Field)}
    section = {key for key, part in every_key(PLAN_SECTION.parts) if isinstance(part, Field)}
    assert alone - section == {
        *("tank", "show_temperatures_in", "safe_band.low", "safe_band.high"),
        *("lights.on", "lights.off", "heater.off_above"),
    }
    assert section < alone


@pytest.mark.parametrize(
    "key", ["tank", "safe_band", "show_temperatures_in", "lights.on", "heater.off_above"]
)
def test_what_the_settings_say_is_not_said_again(key: str) -> None:
    text = with_keys({f"plan.{key}": "12:00"}, WITH_PLAN)
    assert "no such key" in problems(text)[0].why


@pytest.mark.parametrize(
    ("key", "value", "why"),
    [
        ("plan.water.volume", "340", "a bare number"),
        ("plan.water.volume", "3400 L", "that does not fit the sizes"),
        ("plan.hold_at", "28 °C", "outside the safe band (24.0 °C to 27.8 °C, line 10)"),
        ("plan.weather.humidity", "140 %", "above 100 %"),
        ("plan.fans.over", "sump", "there is no sump"),
        ("plan.display.length", None, "it must be given"),
    ],
)
def test_a_mistake_in_it_is_a_problem_of_the_settings_file(key: str, value: str | None, why: str) -> None:
    text = with_keys({key: value}, WITH_PLAN)
    problem = only_problem(text)
    assert (problem.key, why in problem.why) == (key, True), problem
    assert problem.place.line > text[: text.index("\nplan:")].count("\n")


def test_a_plan_without_keys_is_missed_whole() -> None:
    told = problems(f"{WHOLE}plan: {{}}\n")
    assert {problem.key for problem in told} == {"plan.water", "plan.display", "plan.lights", "plan.pumps"}
    assert only_problem(f"{WHOLE}plan:\n").key == "plan"


def test_cut_points_that_are_wrong_are_told_once() -> None:
    text = with_keys({"chiller.cut_in": "26 °C", "plan.hold_at": None}, WITH_PLAN)
    assert only_problem(text).key == "chiller.cut_in"


@pytest.mark.parametrize("text", [WHOLE, SHORTEST, LEAD_AND_LAG])
def test_a_plan_changes_nothing_of_what_the_guard_does(text: str) -> None:
    without, with_plan = accepted(text), accepted(f"{text}plan:\n{PLAN}".replace("  hold_at: 26.5 °C\n", ""))
    differing = [
        name
        for name in type(without.settings).__slots__
        if getattr(without.settings, name) != getattr(with_plan.settings, name)
    ]
    assert differing == ["plan"]
    assert findings(with_plan) == findings(without)
    assert with_plan.pins == without.pins


def test_the_keys_of_a_plan_are_no_home_for_the_guards() -> None:
    assert "`chiller.minimum_off`" in only_problem(with_keys({"trust.minimum_off": "5 min"}, WITH_PLAN)).mend
