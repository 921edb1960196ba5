"""The page of a plan says what the text says, and draws what the plan found."""

import re
from html import unescape

import pytest
from planned_tanks import muggy, reef

from reefguard.planning.account import account_of
from reefguard.planning.make import make_plan
from reefguard.planning.model import Plan
from reefguard.report.plan_curves import plan_curves
from reefguard.report.plan_flows import plan_flows
from reefguard.report.plan_page import page_of
from reefguard.settings.model import Unit
from reefguard.settings.plan_model import DesignDayPlan, FansPlan

PLANS = {
    "hot": make_plan(reef(weather=DesignDayPlan(35.0, 24.0, 0.5), tank='<b>"Rock" & reef</b>')),
    "muggy": make_plan(muggy()),
    "fahrenheit": make_plan(reef(shown_in=Unit.FAHRENHEIT)),
    "fans too fast": make_plan(reef(fans=FansPlan(air_m_s=9.0))),
    "too hot": make_plan(reef(weather=DesignDayPlan(48.0, 30.0, 0.1))),
}
EVERY = pytest.mark.parametrize("plan", PLANS.values(), ids=PLANS.keys())


def words(page: str) -> str:
    """Return the text of a page, without its elements."""
    return unescape(re.sub(r"<[^>]*>", "\n", page)).replace("\N{NO-BREAK SPACE}", " ")


@EVERY
def test_the_page_says_what_the_text_says(plan: Plan) -> None:
    said, account = words(page_of(plan)), account_of(plan)
    for sentence in account.verdict:
        assert sentence in said
    for section in account.sections:
        assert section.title in said
        for sentence in section.paragraphs:
            assert sentence in said
        for row in () if section.table is None else section.table.rows:
            for cell in row:
                assert cell in said


@EVERY
def test_the_page_needs_nothing_else(plan: Plan) -> None:
    page = page_of(plan).replace('xmlns="http://www.w3.org/2000/svg"', "")
    for fetched in ("http://", "https://", "src=", "href=", "@import", "<script"):
        assert fetched not in page


def test_there_is_a_curve_for_each_way_of_cooling_and_one_without_light() -> None:
    drawn = plan_curves(PLANS["hot"])
    assert drawn is not None
    said = words(drawn.svg).split("\n")
    assert {"nothing", "lights off", "fans", "chiller", "both", "safe band"} <= set(said)


def test_the_curves_are_drawn_in_the_keepers_unit() -> None:
    drawn = plan_curves(PLANS["fahrenheit"])
    assert drawn is not None
    assert "°F" in drawn.svg
    assert "°C" not in drawn.svg


def test_there_is_a_bar_for_each_way_of_cooling_and_heat_in_is_heat_out() -> None:
    drawn = plan_flows(PLANS["hot"])
    assert drawn is not None
    balances = re.findall(r"(\w+): (\d+) W warm it and (\d+) W cool it", drawn.svg)
    assert [name for name, _, _ in balances] == ["nothing", "fans", "chiller", "both"]
    for _, warms, cools in balances:
        assert int(warms) > 50
        assert abs(int(warms) - int(cools)) <= 3


def test_condensation_is_told_as_a_gain() -> None:
    drawn = plan_flows(PLANS["muggy"])
    assert drawn is not None
    assert "condensation" in drawn.svg


def test_without_a_judgement_there_is_nothing_to_draw() -> None:
    assert plan_curves(PLANS["too hot"]) is None
    assert plan_flows(PLANS["too hot"]) is None
    assert "<svg" not in page_of(PLANS["too hot"])
