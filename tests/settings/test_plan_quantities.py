"""The quantities of a plan are read exactly: each unit against a published factor."""

import json
import math
import re
from importlib import resources

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.settings.plan_kinds import COOLING, FAN_COUNT, FILE_NAME, PRICE, SALT, Cooling
from reefguard.settings.plan_model import Price
from reefguard.settings.plan_quantities import (
    AIR_CHANGES,
    AIR_FLOW,
    AIR_SPEED,
    ALTITUDE,
    CONDUCTANCE,
    LENGTH,
    POWER,
    ROOM_VOLUME,
    SALINITY,
    THICKNESS,
    TOP_OFF,
    WATER_VOLUME,
)
from reefguard.settings.problems import TOP
from reefguard.settings.quantities import Measure, MisreadError
from reefguard.settings.yaml_nodes import Scalar

ALL = [
    *(AIR_CHANGES, AIR_FLOW, AIR_SPEED, ALTITUDE, CONDUCTANCE, LENGTH),
    *(POWER, ROOM_VOLUME, SALINITY, THICKNESS, TOP_OFF, WATER_VOLUME),
]


def scalar(text: str) -> Scalar:
    return Scalar(text, plain=True, place=TOP)


# NIST SP 811 (2008), appendix B.8, in its own digits: British thermal unit_IT per hour to watt, gallon (US)
# and cubic foot to cubic metre, inch and foot to metre, foot per minute to metre per second,
# cubic foot per minute to cubic metre per second.
NIST = [
    (POWER, "BTU/h", 2.930711e-01),
    (POWER, "Btu/h", 2.930711e-01),
    (WATER_VOLUME, "gal", 3.785412e-03 * 1000),
    (TOP_OFF, "gal/day", 3.785412e-03 * 1000),
    (ROOM_VOLUME, "ft3", 2.831685e-02),
    (LENGTH, "in", 2.54e-02),
    (LENGTH, "ft", 3.048e-01),
    (THICKNESS, "in", 2.54e-02),
    (ALTITUDE, "ft", 3.048e-01),
    (AIR_SPEED, "ft/min", 5.08e-03),
    (AIR_SPEED, "km/h", 2.777778e-01),
    (AIR_FLOW, "cfm", 4.719474e-04 * 3600),
    (AIR_FLOW, "L/s", 3.6),
]


@pytest.mark.parametrize(("measure", "unit", "factor"), NIST)
def test_units_follow_nist_sp_811(measure: Measure, unit: str, factor: float) -> None:
    assert measure.read(f"1 {unit}") == pytest.approx(factor, rel=3e-7)


def test_a_us_gallon_is_exact() -> None:
    assert WATER_VOLUME.read("1 gal") == 3.785411784


def test_the_salinity_of_standard_sea_water_is_35() -> None:
    # TEOS-10 manual (IOC 2010), section 2.4: reference salinity 35.16504 g/kg at practical salinity 35.
    assert SALINITY.read("35.16504 g/kg") == 35.0
    assert [SALT.read(scalar(text)) for text in ("35", "35.0", "35 ppt", "35 PSU")] == [35.0] * 4


@pytest.mark.parametrize("text", ["1", "1.0", "1.0264", "1.05"])
def test_a_specific_gravity_is_noticed(text: str) -> None:
    with pytest.raises(MisreadError, match="specific gravity") as caught:
        SALT.read(scalar(text))
    assert "`35`" in caught.value.mend


def test_a_salinity_as_hydrometers_do_not_show_it_is_no_gravity() -> None:
    with pytest.raises(MisreadError, match="below 30 ppt"):
        SALT.read(scalar("1.06"))


@pytest.mark.parametrize(
    ("text", "watts", "rough"),
    [
        ("500 W", 500.0, False),
        ("1 kW", 1000.0, False),
        ("1/10 hp", 260.0, True),
        ("1/4hp", 650.0, True),
        ("1 hp", 2600.0, True),
        ("0.5 hp", 1300.0, True),
    ],
)
def test_a_capacity_is_a_power_or_a_rough_label(text: str, watts: float, rough: bool) -> None:
    assert COOLING.read(scalar(text)) == Cooling(watts, rough)


@pytest.mark.parametrize("text", ["hp", "1/0 hp", "0 hp", "1/4 HP", "1 1/4 hp", "-1 hp", "100 hp"])
def test_what_is_no_label_is_refused(text: str) -> None:
    with pytest.raises(MisreadError):
        COOLING.read(scalar(text))


@pytest.mark.parametrize(
    ("text", "price"),
    [
        ("0.32 EUR/kWh", Price(0.32, "EUR")),
        ("0 EUR/kWh", Price(0.0, "EUR")),
        ("+1450IDR/kWh", Price(1450.0, "IDR")),
    ],
)
def test_a_price_has_its_currency(text: str, price: Price) -> None:
    assert PRICE.read(scalar(text)) == price


@pytest.mark.parametrize(
    "text", ["0.32", "0.32 eur/kWh", "0.32 EUR", "0.32 EURO/kWh", "-1 EUR/kWh", "0,3 EUR/kWh"]
)
def test_what_is_no_price_is_refused(text: str) -> None:
    with pytest.raises(MisreadError, match="not a price"):
        PRICE.read(scalar(text))


@pytest.mark.parametrize("text", ["-1", "21", "02", "2.0", "1e1", "two", ""])
def test_what_is_no_count_of_fans_is_refused(text: str) -> None:
    with pytest.raises(MisreadError):
        FAN_COUNT.read(scalar(text))


def test_a_file_has_a_name_of_one_line() -> None:
    assert FILE_NAME.read(scalar("../weather/Köln 2024.epw")) == "../weather/Köln 2024.epw"
    for text in ("a\nb", "x" * 201, "\x7f"):
        with pytest.raises(MisreadError):
            FILE_NAME.read(scalar(text))


@settings(deadline=None)
@given(st.sampled_from(ALL), st.integers(-99_999, 99_999), st.data())
def test_what_is_read_can_be_shown_and_read_again(
    measure: Measure, thousandths: int, data: st.DataObject
) -> None:
    unit = data.draw(st.sampled_from(sorted(measure.units)))
    value = measure.read(f"{thousandths / 1000:.3f} {unit}")
    assert math.isclose(measure.read(measure.show(value)), value, rel_tol=1e-9, abs_tol=1e-4)
    assert re.fullmatch(measure.pattern(), measure.show(value))


def test_the_schema_shows_every_default_of_the_plan() -> None:
    shipped = resources.files("reefguard.settings").joinpath("reefguard.schema.json").read_text("utf-8")
    plan = json.loads(shipped)["properties"]["plan"]["properties"]
    assert plan["fans"]["properties"]["air_speed"]["default"] == "1.5 m/s"
    assert plan["room"]["properties"]["volume"]["default"] == "50 m3"
    assert plan["chiller"]["properties"]["runs_at_most"]["default"] == "70 %"
