"""Moist air against ASHRAE's tables, an independent library, and its own balance."""

import math

import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI
from CoolProp.HumidAirProp import HAPropsSI
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.thermal.moist_air import (
    SEA_WATER_ACTIVITY,
    STANDARD_PRESSURE_PA,
    dew_point_c,
    dry_air_kg_m3,
    humidity_ratio,
    pressure_at_pa,
    relative_humidity,
    salt_wet_bulb_c,
    saturation_pressure_over_ice_pa,
    saturation_pressure_pa,
    vapour_pressure_pa,
    wet_bulb_c,
)

psychrolib.SetUnitSystem(psychrolib.SI)
KELVIN = 273.15


@pytest.mark.parametrize(
    ("air_c", "pressure_pa"), [(5.0, 872.6), (25.0, 3_169.7), (50.0, 12_351.3), (100.0, 101_418.0)]
)
def test_saturation_pressure_is_that_of_the_ashrae_table(air_c: float, pressure_pa: float) -> None:
    """ASHRAE Handbook Fundamentals (2017), chapter 1, table 3, as psychrolib's own tests quote it.

    The formula of that chapter (Hyland and Wexler) and its table (a later one) lie 160 ppm apart.
    """
    assert saturation_pressure_pa(air_c) == pytest.approx(pressure_pa, rel=300e-6)


@pytest.mark.parametrize(
    ("water_c", "pressure_pa"),
    [(20.0, 2_339.32), (24.0, 2_985.80), (26.0, 3_363.89), (28.0, 3_783.05), (32.0, 4_759.57)],
)
def test_saturation_pressure_is_that_of_the_international_steam_tables(
    water_c: float, pressure_pa: float
) -> None:
    """IAPWS-95 as CoolProp 8.0.0 gives it, a formula of another family altogether."""
    assert saturation_pressure_pa(water_c) == pytest.approx(pressure_pa, rel=300e-6)


@settings(deadline=None)
@given(st.floats(5.0, 45.0))
def test_saturation_pressure_follows_the_steam_tables_all_the_way(water_c: float) -> None:
    """IAPWS-95 by CoolProp itself; the largest deviation is 0.023 %."""
    steam_pa = PropsSI("P", "T", water_c + KELVIN, "Q", 0.0, "Water")
    assert saturation_pressure_pa(water_c) == pytest.approx(steam_pa, rel=230e-6)


@settings(deadline=None)
@given(st.floats(0.0, 200.0))
def test_saturation_pressure_is_psychrolibs(air_c: float) -> None:
    # psychrolib changes over to the formula for ice at the triple point, 0.01 °C.
    if air_c > 0.01:
        assert saturation_pressure_pa(air_c) == pytest.approx(psychrolib.GetSatVapPres(air_c), rel=1e-9)


@settings(deadline=None)
@given(st.floats(-100.0, 0.0))
def test_saturation_pressure_over_ice_is_psychrolibs(air_c: float) -> None:
    assert saturation_pressure_over_ice_pa(air_c) == pytest.approx(psychrolib.GetSatVapPres(air_c), rel=1e-9)


def test_saturation_pressure_over_ice_is_that_of_the_ashrae_table() -> None:
    """ASHRAE Handbook Fundamentals (2017), chapter 1, table 3, at -20 °C (from memory)."""
    assert saturation_pressure_over_ice_pa(-20.0) == pytest.approx(103.24, rel=300e-6)


@pytest.mark.parametrize("air_c", [-100.001, 0.011, math.nan])
def test_saturation_pressure_over_ice_refuses_what_its_formula_does_not_hold_for(air_c: float) -> None:
    with pytest.raises(ValueError, match="from -100 to 0"):
        saturation_pressure_over_ice_pa(air_c)


def test_sea_water_takes_less_vapour_by_the_share_two_sources_agree_on() -> None:
    """TEOS-10 gives 0.98131 at practical salinity 35 (gsw 3.6.23, chemical potentials of water, 25 °C).

    Green and Carritt, J. Mar. Res. 25 (1967): 1 - 0.000537 S, here 0.98121.
    """
    assert pytest.approx(0.98131, abs=0.0004) == SEA_WATER_ACTIVITY
    assert pytest.approx(1.0 - 0.000537 * 35.0, abs=0.0004) == SEA_WATER_ACTIVITY


GRID = [(air_c, percent / 100.0) for air_c in range(15, 36, 5) for percent in range(15, 101, 5)]


@pytest.mark.parametrize(("air_c", "humidity"), GRID)
def test_the_salt_wet_bulb_is_close_to_the_thermodynamic_one(air_c: int, humidity: float) -> None:
    wet_bulb_c = psychrolib.GetTWetBulbFromRelHum(float(air_c), humidity, STANDARD_PRESSURE_PA)
    assert salt_wet_bulb_c(float(air_c), humidity) == pytest.approx(wet_bulb_c, abs=0.3)


def balanced_c(air_c: float, humidity: float) -> float:
    """Solve the same balance by other means: Newton's method, psychrolib, and TEOS-10's activity.

    The exchange ratio is worked out here from the psychrometric constant cp P / (0.622 L) with
    cp = 1006 J/(kg K), L = 2.501e6 - 2361 t (ASHRAE Fundamentals 2017, chapter 1), and Le^(2/3)
    for a Lewis number of 0.865 (Chilton and Colburn, Ind. Eng. Chem. 26, 1934).
    """
    vapour_pa = humidity * psychrolib.GetSatVapPres(air_c)
    ratio = 1_006.0 * 101_325.0 / (0.622 * (2.501e6 - 2_361.0 * 27.0)) * 0.865 ** (2.0 / 3.0)

    def gained(water_c: float) -> float:
        return float(ratio * (air_c - water_c) - 0.98131 * psychrolib.GetSatVapPres(water_c) + vapour_pa)

    water_c = air_c
    for _ in range(30):
        slope = (gained(water_c + 1e-4) - gained(water_c - 1e-4)) / 2e-4
        water_c -= gained(water_c) / slope
    return water_c


# Worked once by the balance above; the third column is what a reader may compare with.
LISTED = [
    (24.0, 0.50, 17.09),
    (30.0, 0.30, 17.90),
    (30.0, 0.50, 22.07),
    (30.0, 0.70, 25.67),
    (32.0, 0.80, 29.19),
    (35.0, 0.30, 21.50),
    (35.0, 0.50, 26.26),
]


@pytest.mark.parametrize(("air_c", "humidity", "listed_c"), LISTED)
def test_the_salt_wet_bulb_solves_its_balance(air_c: float, humidity: float, listed_c: float) -> None:
    found_c = salt_wet_bulb_c(air_c, humidity)
    assert found_c == pytest.approx(balanced_c(air_c, humidity), abs=0.03)
    assert found_c == pytest.approx(listed_c, abs=0.03)


rooms_c = st.floats(10.0, 50.0)
humidities = st.floats(0.05, 1.0)


@settings(deadline=None)
@given(rooms_c, humidities, st.floats(0.1, 5.0))
def test_warmer_air_cools_less(air_c: float, humidity: float, more_c: float) -> None:
    warmer_c = min(50.0, air_c + more_c)
    assert salt_wet_bulb_c(warmer_c, humidity) >= salt_wet_bulb_c(air_c, humidity) - 0.001


@settings(deadline=None)
@given(rooms_c, humidities, st.floats(0.01, 0.5))
def test_more_humid_air_cools_less(air_c: float, humidity: float, more: float) -> None:
    damper = min(1.0, humidity + more)
    assert salt_wet_bulb_c(air_c, damper) >= salt_wet_bulb_c(air_c, humidity) - 0.001


@settings(deadline=None)
@given(rooms_c, humidities)
def test_the_balance_is_nought_where_it_says(air_c: float, humidity: float) -> None:
    """Below it moving air warms the water, above it cools: the sign turns within a thousandth."""
    found_c = salt_wet_bulb_c(air_c, humidity)

    def cooling_pa(water_c: float) -> float:
        lost = SEA_WATER_ACTIVITY * saturation_pressure_pa(water_c) - humidity * saturation_pressure_pa(air_c)
        return lost - 61.1 * (air_c - water_c)

    assert cooling_pa(found_c + 0.001) > 0.0
    assert cooling_pa(max(0.0, found_c - 0.001)) < 0.0


def test_saturated_air_would_still_warm_the_sea_a_little() -> None:
    assert 30.0 < salt_wet_bulb_c(30.0, 1.0) < 30.5


def test_thin_air_cools_further() -> None:
    assert salt_wet_bulb_c(30.0, 0.5, 80_000.0) < salt_wet_bulb_c(30.0, 0.5) - 0.4
    thin_c = psychrolib.GetTWetBulbFromRelHum(30.0, 0.5, 80_000.0)
    assert salt_wet_bulb_c(30.0, 0.5, 80_000.0) == pytest.approx(thin_c, abs=0.3)


def test_a_balance_below_freezing_is_nought() -> None:
    assert salt_wet_bulb_c(5.0, 0.0) == pytest.approx(0.0, abs=0.001)


@pytest.mark.parametrize("air_c", [-0.001, 200.001, math.nan, math.inf, -math.inf])
def test_saturation_pressure_refuses_what_its_formula_does_not_hold_for(air_c: float) -> None:
    with pytest.raises(ValueError, match="from 0 to 200"):
        saturation_pressure_pa(air_c)


def test_saturation_pressure_holds_at_both_ends() -> None:
    assert saturation_pressure_pa(0.0) == pytest.approx(611.2, abs=0.1)  # ASHRAE, table 3, at 0 °C
    assert saturation_pressure_pa(200.0) > 1.5e6


@pytest.mark.parametrize("air_c", [4.999, 50.001, 85.0, math.nan, math.inf])
def test_the_balance_refuses_air_it_is_not_solved_for(air_c: float) -> None:
    with pytest.raises(ValueError, match="from 5 to 50"):
        salt_wet_bulb_c(air_c, 0.5)


@pytest.mark.parametrize("humidity", [-0.001, 1.001, 55.0, math.nan])
def test_the_balance_refuses_a_humidity_that_is_no_share(humidity: float) -> None:
    with pytest.raises(ValueError, match="share from 0 to 1"):
        salt_wet_bulb_c(25.0, humidity)


@pytest.mark.parametrize("air_c", [5.0, 50.0])
@pytest.mark.parametrize("humidity", [0.0, 1.0])
def test_the_balance_holds_in_its_corners(air_c: float, humidity: float) -> None:
    assert 0.0 <= salt_wet_bulb_c(air_c, humidity) <= air_c + 1.0


# --- What the air holds ---


@pytest.mark.parametrize(
    ("air_c", "saturated", "tolerance"),
    [(5.0, 0.005425, 0.01), (25.0, 0.020173, 0.005), (50.0, 0.086863, 0.01)],
)
def test_saturated_air_holds_what_the_ashrae_table_says(
    air_c: float, saturated: float, tolerance: float
) -> None:
    """ASHRAE Handbook Fundamentals (2017), chapter 1, table 2, as psychrolib's own tests quote it.

    The table is that of a real gas, equation 20 that of an ideal one: 0.5 % less.
    """
    ratio = humidity_ratio(saturation_pressure_pa(air_c))
    assert ratio == pytest.approx(saturated, rel=tolerance)
    assert ratio < saturated


def test_the_ashrae_example_comes_out() -> None:
    """ASHRAE Handbook Fundamentals (2017), chapter 1, example 1: 40 °C dry bulb, 20 °C wet bulb.

    Read off the chart there: 6.5 g/kg, 14 % humidity, dew point 7 °C, 0.896 m3/kg.  Worked by the
    chapter's equations with psychrolib 2.5.0: 0.006401, 13.98 %, 7.43 °C, 0.8962.
    """
    ratio = 0.006401
    vapour_pa = vapour_pressure_pa(ratio)
    assert wet_bulb_c(40.0, ratio) == pytest.approx(20.0, abs=0.002)
    assert relative_humidity(40.0, ratio) == pytest.approx(0.1398, abs=0.00006)
    assert dew_point_c(vapour_pa) == pytest.approx(7.43, abs=0.006)
    assert 1.0 / dry_air_kg_m3(40.0, vapour_pa) == pytest.approx(0.8962, abs=0.00006)


# psychrolib 2.5.0 at 101 325 Pa: temperature, humidity | Pa, kg/kg, wet bulb, dew point, m3/kg dry air.
STATES = [
    (24.0, 0.50, 1_492.6, 0.009299, 17.068, 12.946, 0.8544),
    (26.0, 0.60, 2_017.9, 0.012638, 20.338, 17.639, 0.8647),
    (30.0, 0.50, 2_123.0, 0.013310, 22.005, 18.447, 0.8772),
    (32.0, 0.80, 3_806.8, 0.024279, 28.979, 28.111, 0.8982),
    (35.0, 0.30, 1_688.3, 0.010539, 21.524, 14.844, 0.8877),
    (40.0, 0.20, 1_476.7, 0.009198, 22.032, 12.783, 0.9002),
]


@pytest.mark.parametrize(
    ("air_c", "humidity", "vapour_pa", "ratio", "wet_c", "dew_c", "volume_m3_kg"), STATES
)
def test_six_states_are_as_listed(
    air_c: float,
    humidity: float,
    vapour_pa: float,
    ratio: float,
    wet_c: float,
    dew_c: float,
    volume_m3_kg: float,
) -> None:
    found_pa = humidity * saturation_pressure_pa(air_c)
    found_ratio = humidity_ratio(found_pa)
    assert found_pa == pytest.approx(vapour_pa, abs=0.06)
    assert found_ratio == pytest.approx(ratio, abs=6e-7)
    assert relative_humidity(air_c, found_ratio) == pytest.approx(humidity, abs=1e-12)
    assert wet_bulb_c(air_c, found_ratio) == pytest.approx(wet_c, abs=0.0015)
    assert dew_point_c(found_pa) == pytest.approx(dew_c, abs=0.0006)
    assert 1.0 / dry_air_kg_m3(air_c, found_pa) == pytest.approx(volume_m3_kg, abs=0.00006)


def agrees_with_psychrolib(air_c: float, humidity: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> None:
    """Hold every function against psychrolib 2.5.0, which writes the same chapter anew.

    Largest deviations over 5 to 45 °C and 0 to 100 %: none in the humidity ratio, 4e-9 K in the dew
    point, 0.0008 K in the wet bulb (both bisect, each to 0.001), 2e-7 of the volume (the chapter
    rounds 1/0.621945).  Below freezing psychrolib goes over to ice, where this stops at nought.
    """
    vapour_pa = humidity * saturation_pressure_pa(air_c)
    ratio = humidity_ratio(vapour_pa, pressure_pa)
    if humidity > 0.0001:  # psychrolib knows no drier air than 1e-7 kg/kg
        assert ratio == pytest.approx(
            psychrolib.GetHumRatioFromRelHum(air_c, humidity, pressure_pa), rel=1e-12
        )
        assert relative_humidity(air_c, ratio, pressure_pa) == pytest.approx(humidity, rel=1e-12)
        assert vapour_pressure_pa(ratio, pressure_pa) == pytest.approx(vapour_pa, rel=1e-12)
    if vapour_pa > 611.3:
        assert dew_point_c(vapour_pa) == pytest.approx(
            psychrolib.GetTDewPointFromVapPres(air_c, vapour_pa), abs=1e-6
        )
    else:
        assert dew_point_c(vapour_pa) == pytest.approx(0.0, abs=0.01)
    volume_m3_kg = psychrolib.GetMoistAirVolume(air_c, ratio, pressure_pa)
    assert dry_air_kg_m3(air_c, vapour_pa, pressure_pa) * volume_m3_kg == pytest.approx(1.0, rel=3e-7)
    wet_c = psychrolib.GetTWetBulbFromRelHum(air_c, humidity, pressure_pa)
    found_c = wet_bulb_c(air_c, ratio, pressure_pa)
    if wet_c > 0.02:
        assert found_c == pytest.approx(wet_c, abs=0.0011)
    elif wet_c < -2.0:
        assert found_c == pytest.approx(0.0, abs=0.001)
    else:  # over ice and over water the same air has two wet bulbs, up to 2 K apart
        assert 0.0 <= found_c < 1.5


WIDE_GRID = [(float(air_c), percent / 100.0) for air_c in range(5, 46, 4) for percent in range(0, 101, 10)]


@pytest.mark.parametrize(("air_c", "humidity"), WIDE_GRID)
def test_moist_air_is_psychrolibs_on_a_grid(air_c: float, humidity: float) -> None:
    agrees_with_psychrolib(air_c, humidity)


@settings(deadline=None)
@given(st.floats(5.0, 45.0), st.floats(0.0, 1.0), st.floats(70_000.0, 105_000.0))
def test_moist_air_is_psychrolibs_between(air_c: float, humidity: float, pressure_pa: float) -> None:
    agrees_with_psychrolib(air_c, humidity, pressure_pa)


@pytest.mark.parametrize(("air_c", "humidity"), [state for state in WIDE_GRID if state[1] > 0.0])
def test_an_ideal_gas_is_close_to_a_real_one(air_c: float, humidity: float) -> None:
    """CoolProp 8.0.0, HAPropsSI (ASHRAE RP-1485, virial equations): a gas whose molecules interact.

    Largest deviations: 0.6 % in the humidity ratio (the enhancement factor), 0.03 K in the wet bulb,
    0.015 K in the dew point, 0.06 % in the volume.
    """
    vapour_pa = humidity * saturation_pressure_pa(air_c)
    ratio = humidity_ratio(vapour_pa)

    def real(what: str) -> float:
        return float(HAPropsSI(what, "T", air_c + KELVIN, "R", humidity, "P", STANDARD_PRESSURE_PA))

    assert ratio == pytest.approx(real("W"), rel=0.006)
    assert dry_air_kg_m3(air_c, vapour_pa) * real("V") == pytest.approx(1.0, rel=0.0006)
    if vapour_pa > 620.0:
        assert dew_point_c(vapour_pa) == pytest.approx(real("D") - KELVIN, abs=0.015)
    if real("B") > KELVIN + 0.05:
        assert wet_bulb_c(air_c, ratio) == pytest.approx(real("B") - KELVIN, abs=0.031)


@settings(deadline=None)
@given(st.floats(0.01, 99.6))
def test_the_dew_point_turns_saturation_round(dew_c: float) -> None:
    assert dew_point_c(saturation_pressure_pa(dew_c)) == pytest.approx(dew_c, abs=1e-6)


@pytest.mark.parametrize("vapour_pa", [100_000.1, math.inf, math.nan])
def test_the_dew_point_refuses_what_it_is_not_worked_out_for(vapour_pa: float) -> None:
    with pytest.raises(ValueError, match="up to 100 000"):
        dew_point_c(vapour_pa)


def test_saturated_air_has_all_three_temperatures_alike() -> None:
    saturated_pa = saturation_pressure_pa(28.0)
    assert wet_bulb_c(28.0, humidity_ratio(saturated_pa)) == pytest.approx(28.0, abs=0.001)
    assert dew_point_c(saturated_pa) == pytest.approx(28.0, abs=1e-6)


def test_fog_has_a_humidity_above_one() -> None:
    assert relative_humidity(20.0, humidity_ratio(1.1 * saturation_pressure_pa(20.0))) == pytest.approx(1.1)


@pytest.mark.parametrize(
    ("altitude_m", "pressure_pa"),
    [(-500.0, 107_478.0), (0.0, 101_325.0), (500.0, 95_461.0), (1_000.0, 89_875.0), (4_000.0, 61_640.0)],
)
def test_the_standard_atmosphere_is_that_of_the_ashrae_table(altitude_m: float, pressure_pa: float) -> None:
    """ASHRAE Handbook Fundamentals (2017), chapter 1, table 1, as psychrolib's own tests quote it."""
    assert pressure_at_pa(altitude_m) == pytest.approx(pressure_pa, abs=1.0)
