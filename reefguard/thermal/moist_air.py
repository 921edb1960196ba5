"""Moist air over sea water, as far as the control needs it: when does a fan cool?

Blowing air over water evaporates some (which cools) and brings the air's own
warmth (which heats).  The two cancel at the salt wet-bulb temperature: above
it a fan cools the water, below it a fan heats it.
"""

import math

STANDARD_PRESSURE_PA = 101_325.0
_KELVIN = 273.15

# Hyland and Wexler (1983), as in ASHRAE Handbook Fundamentals (2017), chapter 1, equation 6.
_C8, _C9, _C10 = -5.8002206e3, 1.3914993, -4.8640239e-2
_C11, _C12, _C13 = 4.1764768e-5, -1.4452093e-8, 6.5459673

# Vapour pressure over sea water of practical salinity 35 as a share of that over fresh water:
# Nayar, Sharqawy, Banchik and Lienhard, Desalination 390 (2016): ln a = -4.5818e-4 S - 2.0443e-6 S^2,
# with S = 35.165 g/kg.
SEA_WATER_ACTIVITY = math.exp(-4.5818e-4 * 35.165 - 2.0443e-6 * 35.165**2)

# Sensible over latent exchange coefficient of a water surface, kPa/K at 101.325 kPa: the psychrometric
# constant cp P / (0.622 L) = 0.0673, times Le^(2/3) = 0.908 at 27 degrees C (Chilton-Colburn analogy).
_EXCHANGE_RATIO_PA_PER_K = 61.1


def saturation_pressure_pa(air_c: float) -> float:
    """Return the pressure of water vapour in equilibrium with liquid fresh water.

    Args:
        air_c: temperature, degrees Celsius, 0 to 200.

    Returns:
        Pressure in pascals.

    Raises:
        ValueError: outside the range of the formula.

    Source:
        Hyland and Wexler (1983); ASHRAE Handbook Fundamentals (2017), chapter 1, equation 6.

    >>> round(saturation_pressure_pa(25.0), 1)
    3169.2
    """
    if not 0.0 <= air_c <= 200.0:
        message = f"air_c is {air_c!r}; the formula holds from 0 to 200 degrees C"
        raise ValueError(message)
    kelvin = air_c + _KELVIN
    return math.exp(
        _C8 / kelvin + _C9 + _C10 * kelvin + _C11 * kelvin**2 + _C12 * kelvin**3 + _C13 * math.log(kelvin)
    )


def salt_wet_bulb_c(
    air_c: float, relative_humidity: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Return the water temperature above which moving air cools sea water, and below which it heats it.

    Args:
        air_c: dry-bulb temperature, degrees Celsius, 5 to 50.
        relative_humidity: share of saturation, 0 to 1.
        pressure_pa: of the air, pascals.

    Returns:
        Degrees Celsius, to 0.001, found by bisection: the solution of
        gamma (air - t) = a p_sat(t) - p_vapour; 0 where that lies below freezing, as it does
        for very dry air colder than 10 degrees C.

    Raises:
        ValueError: an argument is outside its range.

    Source:
        The energy balance of a wetted surface (Bowen, Phys. Rev. 27, 1926) with the exchange
        ratio and the sea-water activity named above; close to the thermodynamic wet bulb.

    >>> round(salt_wet_bulb_c(30.0, 0.5), 1)
    22.1
    """
    if not 5.0 <= air_c <= 50.0:
        message = f"air_c is {air_c!r}; the balance is solved from 5 to 50 degrees C"
        raise ValueError(message)
    if not 0.0 <= relative_humidity <= 1.0:
        message = f"relative_humidity is {relative_humidity!r}; it is a share from 0 to 1"
        raise ValueError(message)
    vapour_pa = relative_humidity * saturation_pressure_pa(air_c)
    ratio = _EXCHANGE_RATIO_PA_PER_K * pressure_pa / STANDARD_PRESSURE_PA
    # In saturated air sea water takes vapour up, so the balance may lie a little above the air.
    low_c, high_c = 0.0, air_c + 2.0
    while high_c - low_c > 0.001:
        middle_c = (low_c + high_c) / 2.0
        gained = ratio * (air_c - middle_c)
        lost = SEA_WATER_ACTIVITY * saturation_pressure_pa(middle_c) - vapour_pa
        if lost < gained:
            low_c = middle_c
        else:
            high_c = middle_c
    return (low_c + high_c) / 2.0
