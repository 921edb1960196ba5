"""What the values must be to each other: each rule broken once, and held at its edge."""

from collections.abc import Mapping

import pytest
from settings_files import SHORTEST, Tree, accepted, only_problem, problems, with_keys

from reefguard.settings.model import CutPoints

Changes = Mapping[str, str | Tree | None]

TOLD = [
    pytest.param(
        {"fans": None, "chiller": None},
        "",
        "neither fans nor a chiller",
        id="nothing cools",
    ),
    pytest.param(
        {"chiller.cut_in": "26.5 °C"},
        "chiller.cut_in",
        "below `chiller.cut_out` (26.6 °C, line ",
        id="chiller as a heater",
    ),
    pytest.param(
        {"fans.cut_out": "26.7 °C"},
        "fans.cut_in",
        "a heater's logic",
        id="fans as a heater",
    ),
    pytest.param(
        {"fans.cut_out": "26.6 °C"},
        "fans.cut_in",
        "no differential to `fans.cut_out`",
        id="no differential",
    ),
    pytest.param(
        {"chiller.cut_out": "24 °C"},
        "chiller.cut_out",
        "not above `safe_band.low` (24.0 °C, line ",
        id="chiller out of the band",
    ),
    pytest.param(
        {"fans.cut_out": "23.9 °C"},
        "fans.cut_out",
        "not above `safe_band.low`",
        id="fans out of the band",
    ),
    pytest.param(
        {"chiller.setpoint": "26.6 °C"},
        "chiller",
        "`cut_in` and `setpoint` do not go together",
        id="both ways of cutting",
    ),
    pytest.param(
        {"chiller.cut_in": None, "chiller.differential": "1 °C"},
        "chiller",
        "`cut_out` and `differential` do not go together",
        id="half of each",
    ),
    pytest.param(
        {"fans.cut_in": None},
        "fans",
        "only `cut_out` is said",
        id="half of one",
    ),
    pytest.param(
        {"fans.cut_in": None, "fans.cut_out": None},
        "fans",
        "nothing is said of when it starts",
        id="no cut points",
    ),
    pytest.param(
        {"chiller.pin": "GPIO17"},
        "chiller.pin",
        "GPIO17 is taken already: `fans.units.fan1.pin` (line ",
        id="two outputs on a pin",
    ),
    pytest.param(
        {"chiller.pin": "header 11"},
        "chiller.pin",
        "GPIO17 is taken already",
        id="one pin by two names",
    ),
    pytest.param(
        {"lights.sense.pin": "GPIO5"},
        "lights.sense.pin",
        "GPIO5 is taken already: `chiller.running_input.pin`",
        id="two inputs on a pin",
    ),
    pytest.param(
        {"chiller.flow_input.pin": "GPIO22"},
        "chiller.flow_input.pin",
        "GPIO22 is taken already: `chiller.pin`",
        id="input on an output",
    ),
    pytest.param(
        {"chiller.pin": "GPIO4"},
        "chiller.pin",
        "GPIO4 is taken already: the 1-wire bus owns it (line ",
        id="output on the 1-wire bus",
    ),
    pytest.param(
        {"chiller.pin": "GPIO4", "one_wire_pins": None},
        "chiller.pin",
        "GPIO4 is taken already: the 1-wire bus owns it unless told otherwise",
        id="output on the 1-wire bus by default",
    ),
    pytest.param(
        {"one_wire_pins": "[GPIO4, GPIO4]"},
        "one_wire_pins",
        "GPIO4 is taken already",
        id="two buses on a pin",
    ),
    pytest.param(
        {"water_probes.sump.id": "28-000000000101"},
        "water_probes.sump.id",
        "this probe has a place already: `water_probes.display.id` (line ",
        id="one probe twice in the water",
    ),
    pytest.param(
        {"room_air.id": "28-000000000102"},
        "room_air.id",
        "this probe has a place already: `water_probes.sump.id`",
        id="one probe in water and air",
    ),
    pytest.param(
        {"sampling": "10 s", "trust.stale_after": "29.9 s"},
        "trust.stale_after",
        "shorter than three readings (`sampling` is 10 s)",
        id="stale after two readings",
    ),
    pytest.param(
        {"trust.stale_after": "200 s"},
        "trust.schedule_after",
        "shorter than `trust.stale_after` (200 s)",
        id="schedule before stale",
    ),
    pytest.param(
        {"fans.lag_step": "0.3 °C"},
        "fans.lag_step",
        "of use only with `staging: lead and lag`",
        id="lag step for fans that run together",
    ),
    pytest.param(
        {"fans.rotate_after": "12 h", "fans.staging": None},
        "fans.rotate_after",
        "of use only with `staging: lead and lag`",
        id="rotation for fans that run together",
    ),
    pytest.param(
        {"fans.units.fan2.speed.full_at": "26.6 °C"},
        "fans.units.fan2.speed.full_at",
        "not above where the fans start (`fans.cut_in`, 26.6 °C)",
        id="full speed where it starts",
    ),
    pytest.param(
        {"lights.off": "10:00"},
        "lights.off",
        "the same as `lights.on` (line ",
        id="lights that never change",
    ),
]


@pytest.mark.parametrize(("changes", "key", "why"), TOLD)
def test_each_rule_tells_once_who_breaks_it(changes: Changes, key: str, why: str) -> None:
    problem = only_problem(with_keys(changes))
    assert problem.key == key
    assert why in problem.why
    assert problem.mend


@pytest.mark.parametrize("low", ["27.8 °C", "28 °C"])
def test_a_band_upside_down_is_told_before_what_follows_from_it(low: str) -> None:
    first, *follows = problems(with_keys({"safe_band.low": low}))
    assert first.key == "safe_band.low"
    assert "not below `safe_band.high` (27.8 °C, line " in first.why
    assert {problem.key for problem in follows} == {"fans.cut_out", "chiller.cut_out"}


@pytest.mark.parametrize(
    "changes",
    [
        {"chiller.cut_out": "24.0001 °C"},
        {"trust.stale_after": "15 s"},
        {"trust.stale_after": "3 min"},
        {"fans.units.fan2.speed.full_at": "26.7 °C"},
        {"lights.off": "10:01"},
        {"lights.on": "20:00", "lights.off": "08:00"},
        {"fans": None, "chiller.pin": "GPIO17"},
        {"one_wire_pins": "[]", "chiller.pin": "GPIO4"},
        {"fans.staging": "lead and lag", "fans.lag_step": "0.3 °C", "fans.rotate_after": "12 h"},
    ],
)
def test_what_just_keeps_the_rules_is_taken(changes: Changes) -> None:
    accepted(with_keys(changes))


@pytest.mark.parametrize(
    ("key", "value", "mend"),
    [
        ("trust.stale_after", "14.9 s", "write at least 15 s"),
        ("trust.schedule_after", "59 s", "write at least 1 min"),
        ("chiller.cut_out", "24 °C", "write more than 24 °C"),
    ],
)
def test_the_mend_names_the_figure(key: str, value: str, mend: str) -> None:
    assert only_problem(with_keys({key: value})).mend == mend


def test_a_chiller_may_be_alone_and_so_may_fans() -> None:
    assert accepted(with_keys({"fans": None})).settings.fans is None
    assert accepted(with_keys({"chiller": None})).settings.chiller is None


def test_a_setpoint_is_held_to_the_band_too() -> None:
    problem = only_problem(with_keys({"chiller.setpoint": "24 °C"}, SHORTEST))
    assert (problem.key, "not above `safe_band.low`" in problem.why) == ("chiller.setpoint", True)


def test_a_differential_of_nothing_is_told_at_its_key() -> None:
    problem = only_problem(with_keys({"chiller.differential": "0 °C"}, SHORTEST))
    assert (problem.key, "no differential" in problem.why) == ("chiller.differential", True)


def test_a_sum_is_what_a_person_would_write() -> None:
    """26.2 + 0.4 is 26.599999999999998 to a computer."""
    chiller = accepted(SHORTEST).settings.chiller
    assert chiller is not None
    assert chiller.cut == CutPoints(26.6, 26.2)


@pytest.mark.parametrize(
    ("changes", "keys"),
    [
        ({"fans.cut_in": "warm"}, ["fans.cut_in"]),
        ({"safe_band.low": "cold"}, ["safe_band.low"]),
        ({"safe_band.high": "hot"}, ["safe_band.high"]),
        ({"chiller.pin": "17"}, ["chiller.pin"]),
        ({"water_probes.sump.id": "x"}, ["water_probes.sump.id"]),
        ({"sampling": "x", "trust.stale_after": "3 s"}, ["sampling"]),
        ({"trust.stale_after": "x", "trust.schedule_after": "30 s"}, ["trust.stale_after"]),
        ({"trust.schedule_after": "x"}, ["trust.schedule_after"]),
        ({"fans.staging": "x", "fans.lag_step": "0.3 °C"}, ["fans.staging"]),
        ({"fans.cut_in": "x", "fans.units.fan2.speed.full_at": "20 °C"}, ["fans.cut_in"]),
        ({"fans.units.fan2.speed.full_at": "x"}, ["fans.units.fan2.speed.full_at"]),
        ({"lights.on": "x", "lights.off": "10:00"}, ["lights.on"]),
        ({"lights.off": "x"}, ["lights.off"]),
        ({"fans": "x"}, ["fans"]),
    ],
)
def test_a_rule_is_silent_about_what_could_not_be_read(changes: Changes, keys: list[str]) -> None:
    assert [problem.key for problem in problems(with_keys(changes))] == keys
