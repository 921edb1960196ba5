"""Sea water at the surface: density, heat capacity, latent heat, vapour pressure, salinity.

Salinity is practical salinity, as a keeper measures it (35 is natural sea
water); the formulas that want grams of salt per kilogram take 35.165/35 of it
(TEOS-10's reference salinity).
"""

import math

NATURAL_SALINITY = 35.0

# Grams of salt in a kilogram of sea water per unit of practical salinity (TEOS-10, reference composition).
_GRAMS_PER_KG = 35.165_04 / 35.0

# Millero and Poisson, Deep-Sea Research 28A (1981), the one-atmosphere equation of state (EOS-80),
# as published in UNESCO Technical Papers in Marine Science 44 (1983).
_PURE = (999.842_594, 6.793_952e-2, -9.095_290e-3, 1.001_685e-4, -1.120_083e-6, 6.536_332e-9)
_SALT = (8.244_93e-1, -4.0899e-3, 7.6438e-5, -8.2467e-7, 5.3875e-9)
_SALT_15 = (-5.724_66e-3, 1.0227e-4, -1.6546e-6)
_SALT_2 = 4.8314e-4

# Millero, Perron and Desnoyers, J. Geophysical Research 78 (1973): heat capacity at one atmosphere,
# as published in the same UNESCO paper.
_CP_PURE = (4_217.4, -3.720_283, 0.141_285_5, -2.654_387e-3, 2.093_236e-5)
_CP_SALT = (-7.643_575, 0.107_276_3, -1.383_85e-3)
_CP_SALT_15 = (0.177_038_3, -4.077_18e-3, 5.148e-5)


def _polynomial(coefficients: tuple[float, ...], x: float) -> float:
    value = 0.0
    for coefficient in reversed(coefficients):
        value = value * x + coefficient
    return value


def density_kg_m3(water_c: float, salinity: float = NATURAL_SALINITY) -> float:
    """Return the density of sea water at atmospheric pressure.

    Args:
        water_c: degrees Celsius, 0 to 45 (the equation is stated to 40).
        salinity: practical salinity, 0 to 42.

    Returns:
        kg/m3; within 0.02 of TEOS-10 (gsw 3.6.23) over 5 to 45 degrees C and salinity 30 to 40.

    Source:
        EOS-80 (Millero and Poisson 1981; UNESCO 1983), whose temperature scale is IPTS-68.

    >>> round(density_kg_m3(25.0, 35.0), 2)
    1023.34
    """
    t68 = water_c * 1.000_24
    return float(
        _polynomial(_PURE, t68)
        + _polynomial(_SALT, t68) * salinity
        + _polynomial(_SALT_15, t68) * salinity**1.5
        + _SALT_2 * salinity**2
    )


def heat_capacity_j_kg_k(water_c: float, salinity: float = NATURAL_SALINITY) -> float:
    """Return the heat capacity of sea water at atmospheric pressure.

    Args:
        water_c: degrees Celsius, 0 to 45 (the equation is stated to 35).
        salinity: practical salinity, 0 to 42.

    Returns:
        J/(kg K); within 0.14 % of TEOS-10 (gsw 3.6.23) over 5 to 45 degrees C and salinity 30 to 40.

    Source:
        Millero, Perron and Desnoyers (1973); UNESCO (1983).

    >>> round(heat_capacity_j_kg_k(25.0, 35.0))
    3998
    """
    t68 = water_c * 1.000_24
    return float(
        _polynomial(_CP_PURE, t68)
        + _polynomial(_CP_SALT, t68) * salinity
        + _polynomial(_CP_SALT_15, t68) * salinity**1.5
    )


def latent_heat_j_kg(water_c: float) -> float:
    """Return the heat that a kilogram of vapour takes along.

    It is that of fresh water: the salt stays behind.  A factor (1 - S) sometimes
    seen belongs to a kilogram of solution and would be 3.5 % wrong here.

    Args:
        water_c: degrees Celsius, 0 to 50.

    Returns:
        J/kg; within 0.02 % of TEOS-10 (gsw 3.6.23, `latentheat_evap_t`) over 5 to 45 degrees C.

    Source:
        A straight line laid through TEOS-10's values at 20 to 30 degrees C.

    >>> round(latent_heat_j_kg(25.0) / 1000.0)
    2439
    """
    return 2_498_920.0 - 2_398.0 * water_c


def vapour_share(salinity: float = NATURAL_SALINITY) -> float:
    """Return the vapour pressure over sea water as a share of that over fresh water.

    Args:
        salinity: practical salinity, 0 to 120.

    Returns:
        A share; within 0.0004 of TEOS-10 over salinity 30 to 40 (gsw 3.6.23, chemical potentials).

    Source:
        Nayar, Sharqawy, Banchik and Lienhard, Desalination 390 (2016).

    >>> round(vapour_share(35.0), 4)
    0.9815
    """
    grams = salinity * _GRAMS_PER_KG
    return math.exp(-4.5818e-4 * grams - 2.0443e-6 * grams**2)


def salinity_after_loss(salinity: float, water_kg: float, evaporated_kg: float) -> float:
    """Return the salinity once fresh water has evaporated and none was topped off.

    The salt stays: S = S0 m0 / (m0 - E).

    Args:
        salinity: before.
        water_kg: mass of the water before.
        evaporated_kg: less than `water_kg`.

    >>> round(salinity_after_loss(35.0, 340.0, 3.4), 3)
    35.354
    """
    return salinity * water_kg / (water_kg - evaporated_kg)
