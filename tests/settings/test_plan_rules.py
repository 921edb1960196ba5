"""What the values of a plan must be to each other: each rule broken once, and held at its edge."""

from collections.abc import Mapping

import pytest
from settings_files import Tree, with_keys

from reefguard.settings.outcome import Rejected
from reefguard.settings.plan_reading import EXAMPLE, AcceptedPlan, read_plan

Changes = Mapping[str, str | Tree | None]

TOLD = [
    pytest.param(
        {"display.length": "12 cm", "sump": None},
        "water.volume",
        "display 12 cm x 50 cm x 55 cm holds 33 L, 10 % of it",
        "write a volume that they can hold: 16 to 41 L",
        id="panes hold a tenth of the water",
    ),
    pytest.param(
        {"water.volume": "34 L"},
        "water.volume",
        "holds 330 L and sump 80 cm x 40 cm x 25 cm holds 80 L, 1206 % of it",
        "check the sizes",
        id="a tenth of the water the panes hold",
    ),
    pytest.param({"water.volume": "204.9 L"}, "water.volume", "200 % of it", "", id="twice the water"),
    pytest.param({"water.volume": "512.6 L"}, "water.volume", "80 % of it", "", id="four fifths of it"),
    pytest.param(
        {"safe_band.low": "27.8 °C"}, "safe_band.low", "not below `safe_band.high`", "swap", id="no band"
    ),
    pytest.param(
        {"hold_at": "27.9 °C"},
        "hold_at",
        "outside the safe band (24 °C to 27.8 °C",
        "write 24 °C",
        id="above",
    ),
    pytest.param({"hold_at": "23.9 °C"}, "hold_at", "outside the safe band", "to 27.8 °C", id="below"),
    pytest.param(
        {"lights.off": "10:00"}, "lights.off", "the same as `lights.on`", "when they go off", id="always lit"
    ),
    pytest.param(
        {"weather.coolest": "34 °C"},
        "weather.coolest",
        "warmer than `hottest` (33 °C, line ",
        "swap the two",
        id="coolest above hottest",
    ),
    pytest.param(
        {"weather.coolest": "34 °C", "weather.hottest": None},
        "weather.coolest",
        "which is 33 °C unless told otherwise",
        "write `hottest` too",
        id="coolest above what is hottest by default",
    ),
    pytest.param(
        {"weather.hottest": "20 °C", "weather.coolest": None},
        "weather.hottest",
        "cooler than `coolest`, which is 22 °C unless told otherwise",
        "write `coolest` too",
        id="hottest below what is coolest by default",
    ),
    pytest.param(
        {"weather": {"file": "a.csv", "humidity": "50 %"}},
        "weather.humidity",
        "the weather is that of `file` (a.csv, line ",
        "take this key out",
        id="two weathers",
    ),
    pytest.param(
        {"fans.over": "sump", "sump": None, "water.volume": "300 L"},
        "fans.over",
        "there is no sump",
        "add `sump:`",
        id="fans over no sump",
    ),
    pytest.param(
        {"chiller.place": "stand", "stand": None},
        "chiller.place",
        "there is no stand",
        "add `stand: {}`",
        id="chiller in no stand",
    ),
    pytest.param(
        {"chiller.starting_current": "2 A"},
        "chiller.starting_current",
        "less than `running_current` (2.1 A, line ",
        "it is estimated then",
        id="starts with less than it runs on",
    ),
]


@pytest.mark.parametrize(("changes", "key", "why", "mend"), TOLD)
def test_a_broken_rule_is_told_at_its_key(changes: Changes, key: str, why: str, mend: str) -> None:
    text = with_keys(changes, EXAMPLE)
    outcome = read_plan(text.encode())
    assert isinstance(outcome, Rejected)
    (problem,) = outcome.problems
    assert problem.key == key
    assert why in problem.why
    assert mend in problem.mend
    assert key.rpartition(".")[2] in text.splitlines()[problem.place.line - 1]


@pytest.mark.parametrize(
    "changes",
    [
        {"water.volume": "205.1 L"},  # the panes hold 410 L
        {"water.volume": "512.4 L"},
        {"hold_at": "24 °C"},
        {"hold_at": "27.8 °C"},
        {"weather.coolest": "33 °C"},
        {"weather": {"file": "a.csv"}},
        {"fans.over": "sump"},
        {"chiller.place": "stand"},
        {"chiller.place": "stand", "stand": {}},
        {"chiller.starting_current": "2.1 A"},
    ],
)
def test_a_rule_that_is_just_held_is_not_told(changes: Changes) -> None:
    assert isinstance(read_plan(with_keys(changes, EXAMPLE).encode()), AcceptedPlan)


@pytest.mark.parametrize(
    "changes",
    [
        {"display.length": "120"},
        {"sump.depth": "deep"},
        {"sump": "small"},
        {"display": "large"},
        {"water": "salty"},
        {"safe_band.low": "24"},
        {"safe_band.high": "24 °C", "safe_band.low": "24.5 °C"},
        {"weather.hottest": "10", "weather.coolest": "34 °C"},
        {"chiller.running_current": "9", "chiller.starting_current": "1 A"},
        {"stand": "oak", "chiller.place": "stand"},
    ],
)
def test_a_rule_without_its_values_says_nothing(changes: Changes) -> None:
    """What cannot be read is told once, and what rests on it not at all."""
    outcome = read_plan(with_keys(changes, EXAMPLE).encode())
    assert isinstance(outcome, Rejected)
    assert len(outcome.problems) == 1
