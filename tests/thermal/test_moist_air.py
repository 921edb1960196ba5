"""Moist air against ASHRAE's tables, an independent library, and its own balance."""

import math

import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.thermal.moist_air import (
    SEA_WATER_ACTIVITY,
    STANDARD_PRESSURE_PA,
    salt_wet_bulb_c,
    saturation_pressure_pa,
)

psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize(("air_c", "pressure_pa"), [(5.0, 872.6), (25.0, 3_169.7), (50.0, 12_351.3)])
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
@given(st.floats(0.0, 200.0))
def test_saturation_pressure_is_psychrolibs(air_c: float) -> None:
    # psychrolib changes over to the formula for ice at the triple point, 0.01 °C.
    if air_c > 0.01:
        assert saturation_pressure_pa(air_c) == pytest.approx(psychrolib.GetSatVapPres(air_c), rel=1e-9)


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
