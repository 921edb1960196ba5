"""Sea water against UNESCO's check values and against TEOS-10, the standard that followed."""

import math

import gsw
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reefguard.thermal.sea_water import (
    NATURAL_SALINITY,
    density_kg_m3,
    heat_capacity_j_kg_k,
    latent_heat_j_kg,
    salinity_after_loss,
    vapour_share,
)

GAS_CONSTANT_OF_VAPOUR = 461.523_64  # J/(kg K), TEOS-10
waters_c = st.floats(5.0, 45.0)
salinities = st.floats(30.0, 40.0)


def its_90(t68_c: float) -> float:
    """Turn the temperature scale of 1968, in which UNESCO lists its check values, into today's."""
    return t68_c / 1.000_24


def absolute(salinity: float) -> float:
    """Return absolute salinity in g/kg, in TEOS-10's reference composition."""
    return salinity * 35.165_04 / 35.0


# --- Published check values ---


@pytest.mark.parametrize(
    ("salinity", "t68_c", "density"),
    [(0.0, 5.0, 999.96675), (35.0, 5.0, 1027.67547), (35.0, 25.0, 1023.34306)],
)
def test_density_is_unescos(salinity: float, t68_c: float, density: float) -> None:
    """Gill, Atmosphere-Ocean Dynamics (1982), appendix 3.2; UNESCO Tech. Papers in Mar. Sci. 44 (1983)."""
    assert density_kg_m3(its_90(t68_c), salinity) == pytest.approx(density, abs=6e-6)


def test_heat_capacity_is_eos_80s() -> None:
    """UNESCO (1983) lists 3849.500 at salinity 40, 40 °C and 10 000 dbar.

    That is with the pressure terms, which a tank does not need: the same routine at the surface gives
    3980.051 (worked by an independent program that reproduces the 3849.500).
    """
    assert heat_capacity_j_kg_k(its_90(40.0), 40.0) == pytest.approx(3_980.051, abs=0.0006)


# TEOS-10's check vector for `latentheat_evap_t` (gsw documentation): absolute salinity, °C, J/kg.
EVAPORATION = [
    (34.7118, 28.7856, 2.429882982734836e6),
    (34.8915, 28.4329, 2.430730236218543e6),
    (35.0256, 22.8103, 2.444217294049004e6),
    (34.8472, 10.26, 2.474137411322517e6),
    (34.7366, 6.8863, 2.482156276375029e6),
    (34.7324, 4.4036, 2.488054617630297e6),
]


@pytest.mark.parametrize(("absolute_salinity", "water_c", "heat_j_kg"), EVAPORATION)
def test_latent_heat_is_that_of_the_published_vector(
    absolute_salinity: float, water_c: float, heat_j_kg: float
) -> None:
    assert gsw.latentheat_evap_t(absolute_salinity, water_c) == pytest.approx(heat_j_kg, rel=1e-9)
    assert latent_heat_j_kg(water_c) == pytest.approx(heat_j_kg, rel=0.0002)


@pytest.mark.parametrize(
    ("water_c", "density", "heat_capacity"),
    [
        (20.0, 1_024.7617, 3_993.86),
        (24.0, 1_023.6414, 3_996.97),
        (26.0, 1_023.0333, 3_998.37),
        (28.0, 1_022.3946, 3_999.61),
        (30.0, 1_021.7262, 4_000.69),
    ],
)
def test_a_reefs_temperatures_are_as_listed(water_c: float, density: float, heat_capacity: float) -> None:
    """EOS-80 at salinity 35, worked once by an independent program; today's temperature scale."""
    assert density_kg_m3(water_c) == pytest.approx(density, abs=0.0001)
    assert heat_capacity_j_kg_k(water_c) == pytest.approx(heat_capacity, abs=0.01)


# --- Against TEOS-10 (gsw 3.6.23) ---


@given(waters_c, salinities)
def test_density_is_close_to_teos_10(water_c: float, salinity: float) -> None:
    """The largest deviation is 0.0196 kg/m3, at 45 °C and salinity 30; 0.0054 from 20 to 30 °C."""
    teos = float(gsw.rho_t_exact(absolute(salinity), water_c, 0.0))
    assert density_kg_m3(water_c, salinity) == pytest.approx(teos, abs=0.02)
    if 20.0 <= water_c <= 30.0:
        assert density_kg_m3(water_c, salinity) == pytest.approx(teos, abs=0.0055)


@given(waters_c, salinities)
def test_heat_capacity_is_close_to_teos_10(water_c: float, salinity: float) -> None:
    """The largest deviation is 0.131 %, at 45 °C and salinity 40; 0.063 % from 20 to 30 °C."""
    teos = float(gsw.cp_t_exact(absolute(salinity), water_c, 0.0))
    assert heat_capacity_j_kg_k(water_c, salinity) == pytest.approx(teos, rel=0.0014)
    if 20.0 <= water_c <= 30.0:
        assert heat_capacity_j_kg_k(water_c, salinity) == pytest.approx(teos, rel=0.00065)


@given(waters_c, salinities)
def test_latent_heat_is_close_to_teos_10(water_c: float, salinity: float) -> None:
    """The largest deviation is 0.0197 %, at 45 °C; 0.004 % from 20 to 30 °C."""
    teos = float(gsw.latentheat_evap_t(absolute(salinity), water_c))
    assert latent_heat_j_kg(water_c) == pytest.approx(teos, rel=0.0002)
    if 20.0 <= water_c <= 30.0:
        assert latent_heat_j_kg(water_c) == pytest.approx(teos, rel=0.00004)


def teos_10_share(salinity: float, water_c: float) -> float:
    """Return the vapour pressure over sea water as a share, from chemical potentials."""
    salt = gsw.chem_potential_water_t_exact(absolute(salinity), water_c, 0.0)
    fresh = gsw.chem_potential_water_t_exact(0.0, water_c, 0.0)
    return math.exp((salt - fresh) * 1_000.0 / (GAS_CONSTANT_OF_VAPOUR * (water_c + 273.15)))


@given(waters_c, salinities)
def test_the_vapours_share_is_close_to_teos_10(water_c: float, salinity: float) -> None:
    """The largest deviation is 0.00039, at salinity 30."""
    assert vapour_share(salinity) == pytest.approx(teos_10_share(salinity, water_c), abs=0.0004)


@pytest.mark.parametrize(("salinity", "share"), [(30.0, 0.98408), (35.0, 0.98131), (38.0, 0.97962)])
def test_the_vapours_share_is_as_listed(salinity: float, share: float) -> None:
    """TEOS-10; Green and Carritt, J. Mar. Res. 25 (1967), give 1 - 0.000537 S."""
    assert vapour_share(salinity) == pytest.approx(share, abs=0.0004)
    assert vapour_share(salinity) == pytest.approx(1.0 - 0.000537 * salinity, abs=0.0006)


def test_fresh_water_gives_off_all_its_vapour() -> None:
    assert vapour_share(0.0) == 1.0


# --- Salt stays behind ---


@pytest.mark.parametrize(
    ("water_kg", "evaporated_kg", "salinity"),
    [(340.0, 3.4, 35.354), (340.0, 6.1, 35.639), (340.0, 34.0, 38.889), (100.0, 2.6, 35.934)],
)
def test_what_evaporates_leaves_its_salt(water_kg: float, evaporated_kg: float, salinity: float) -> None:
    assert salinity_after_loss(NATURAL_SALINITY, water_kg, evaporated_kg) == pytest.approx(
        salinity, abs=0.0006
    )


@given(salinities, st.floats(10.0, 2_000.0), st.floats(0.0, 0.9))
def test_no_salt_is_lost(salinity: float, water_kg: float, share: float) -> None:
    evaporated_kg = share * water_kg
    left = salinity_after_loss(salinity, water_kg, evaporated_kg) * (water_kg - evaporated_kg)
    assert left == pytest.approx(salinity * water_kg, rel=1e-12)


def test_a_litre_a_day_is_twenty_eight_watts() -> None:
    assert latent_heat_j_kg(26.0) / 86_400.0 == pytest.approx(28.2, abs=0.05)
