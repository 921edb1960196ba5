"""What a plan says: within 80 columns, every number with its unit, and the same to programs."""

import json
import re

import pytest
from planned_tanks import muggy, reef

from reefguard.planning.account import account_of
from reefguard.planning.document import document_of
from reefguard.planning.make import make_plan
from reefguard.planning.model import Plan
from reefguard.planning.terminal import COLUMNS, text_of
from reefguard.settings.model import Unit
from reefguard.settings.plan_model import (
    ChillerPlace,
    ChillerPlan,
    DesignDayPlan,
    FansPlan,
    Price,
    StandPlan,
    Switch,
    SwitchPlan,
)

HOT = DesignDayPlan(35.0, 24.0, 0.5)
TANKS = {
    "mild": reef(weather=DesignDayPlan(24.0, 14.0, 0.5)),
    "fans": reef(),
    "doors": reef(weather=DesignDayPlan(32.0, 18.0, 0.3)),
    "muggy": muggy(),
    "priced": reef(weather=HOT, price=Price(0.31, "EUR"), shown_in=Unit.FAHRENHEIT),
    "cabinet": reef(
        weather=HOT,
        stand=StandPlan(),
        chiller=ChillerPlan(260.0, from_label_hp=True, place=ChillerPlace.STAND, running_current_a=2.1),
        switch=SwitchPlan(Switch.RELAY, 10.0),
    ),
    "too fast": reef(weather=HOT, fans=FansPlan(air_m_s=5.0)),
    "no fans": reef(weather=HOT, fans=FansPlan(count=0)),
    "too hot": reef(weather=DesignDayPlan(48.0, 30.0, 0.1)),
    "measured": reef(measured_topoff_l_day=2.0),
    "long name": reef(
        tank="a tank whose keeper gave it a name that is a good deal longer than one line of text"
    ),
}
PLANS: dict[str, Plan] = {}


def plan(name: str) -> Plan:
    """Return the plan of a tank, made once."""
    if name not in PLANS:
        PLANS[name] = make_plan(TANKS[name])
    return PLANS[name]


def text(name: str) -> str:
    return text_of(account_of(plan(name)))


@pytest.mark.parametrize("name", TANKS)
def test_no_line_is_wider_than_the_terminal(name: str) -> None:
    assert max(map(len, text(name).splitlines())) <= COLUMNS


@pytest.mark.parametrize("name", TANKS)
def test_the_verdict_stands_first(name: str) -> None:
    lines = text(name).splitlines()
    assert account_of(plan(name)).verdict[0].startswith(" ".join(lines[lines.index("") + 1].split()))


@pytest.mark.parametrize("name", TANKS)
def test_every_number_in_a_sentence_has_its_unit(name: str) -> None:
    account = account_of(plan(name))
    unit = r"(°C|°F|%|W|BTU/h|L|L/day|h|min|kWh|A|m/s|m³/h|K|times|hours)\b|%|°|:\d\d|\d\d:"
    said = [*account.verdict, *(one for section in account.sections for one in section.paragraphs)]
    for sentence in said:
        for match in re.finditer(r"(?<![\w.:-])-?\d+(?:\.\d+)?(?![\w:])", sentence):
            rest = sentence[match.end() :].lstrip()
            # "27.4 to 28.9 °C": the unit stands behind the second; salinity and a scale have none.
            follows = re.match(rf"(?:(?:to|of) -?\d+(?:\.\d+)? ?)?(?:{unit})", rest)
            bare = "salinity" in sentence or "textbook" in rest or rest.startswith(("times", "of the"))
            assert follows or bare, (match.group(), sentence)


@pytest.mark.parametrize("name", TANKS)
def test_no_absence_is_told_as_a_number(name: str) -> None:
    assert not re.search(r"\b(nan|inf|None)\b", text(name))


@pytest.mark.parametrize("name", TANKS)
def test_the_document_is_json_and_comes_back_as_it_went(name: str) -> None:
    document = document_of(plan(name))
    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert document["schema"] == "reefguard.plan/1"


def test_the_document_says_the_same_as_the_text() -> None:
    document = document_of(plan("cabinet"))
    chiller, verdict = document["chiller"], document["verdict"]
    assert isinstance(chiller, dict)
    assert isinstance(verdict, dict)
    assert verdict["advice"] == "chiller"
    assert "runs_away" in chiller["sitings"]["stand"]
    assert chiller["counted_at"] == "room"
    assert document["sentences"] == list(account_of(plan("cabinet")).verdict)


def test_what_cannot_be_judged_is_an_object_in_the_document() -> None:
    fans = document_of(plan("too fast"))["fans"]
    assert isinstance(fans, dict)
    assert "3 m/s" in fans["cannot_judge"]


def test_fahrenheit_is_shown_where_it_is_asked_for() -> None:
    told = text("priced")
    assert "°F" in told
    assert "°C" not in told
    assert "EUR" in told


def test_a_bare_label_is_said_to_be_rough() -> None:
    assert "30 % either way" in " ".join(text("cabinet").split())


def test_the_cautions_are_there() -> None:
    told = " ".join(text("cabinet").split())
    assert "licensed electrician" in told
    assert "no guarantee" in told
    assert "35 % either way until it is calibrated" in told
