"""Moist air over sea water: how much vapour it holds, and when a fan cools.

Blowing air over water evaporates some (which cools) and brings the air's own
warmth (which heats).  The two cancel at the salt wet-bulb temperature: above
it a fan cools the water, below it a fan heats it.

Against psychrolib 2.5.0 over 5 to 45 degrees C and 0 to 100 % humidity the
largest deviations are 1e-9 (saturation pressure, relative), 1e-6 K (dew
point) and 0.001 K (wet bulb).  Against CoolProp 8.0.0 (humid air as a real
gas) they are 0.03 K (wet bulb), 0.015 K (dew point) and 0.6 % (humidity
ratio: the enhancement factor, which is left out).
"""

import math

STANDARD_PRESSURE_PA = 101_325.0
_KELVIN = 273.15

# Hyland and Wexler (1983), as in ASHRAE Handbook Fundamentals (2017), chapter 1, equation 6.
_C8, _C9, _C10 = -5.8002206e3, 1.3914993, -4.8640239e-2
_C11, _C12, _C13 = 4.1764768e-5, -1.4452093e-8, 6.5459673

# The same, equation 5: over ice.
_C1, _C2, _C3 = -5.6745359e3, 6.3925247, -9.6778430e-3
_C4, _C5, _C6, _C7 = 6.2215701e-7, 2.0747825e-9, -9.4840240e-13, 4.1635019

# Mass of a mole of water over that of a mole of dry air: ASHRAE (2017), chapter 1, equation 20.
MOLAR_RATIO = 0.621945

_DRY_AIR_J_KG_K = 287.042  # the same, equation 1

# Vapour pressure over sea water of practical salinity 35 as a share of that over fresh water:
# Nayar, Sharqawy, Banchik and Lienhard, Desalination 390 (2016): ln a = -4.5818e-4 S - 2.0443e-6 S^2,
# with S = 35.165 g/kg.
SEA_WATER_ACTIVITY = math.exp(-4.5818e-4 * 35.165 - 2.0443e-6 * 35.165**2)

# Sensible over latent exchange coefficient of a water surface, kPa/K at 101.325 kPa: the psychrometric
# constant cp P / (0.622 L) = 0.0673, times Le^(2/3) = 0.908 at 27 degrees C (Chilton-Colburn analogy).
EXCHANGE_RATIO_PA_PER_K = 61.1

_VAPOUR_AT_0_C_PA = 611.2126  # equation 6 at 0 degrees C


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


def saturation_pressure_over_ice_pa(air_c: float) -> float:
    """Return the pressure of water vapour in equilibrium with ice.

    Args:
        air_c: temperature, degrees Celsius, -100 to 0.

    Raises:
        ValueError: outside the range of the formula.

    Source:
        Hyland and Wexler (1983); ASHRAE Handbook Fundamentals (2017), chapter 1, equation 5.

    >>> round(saturation_pressure_over_ice_pa(-10.0), 1)
    259.9
    """
    if not -100.0 <= air_c <= 0.01:
        message = f"air_c is {air_c!r}; the formula holds from -100 to 0 degrees C"
        raise ValueError(message)
    kelvin = air_c + _KELVIN
    power = _C1 / kelvin + _C2 + _C3 * kelvin + _C4 * kelvin**2 + _C5 * kelvin**3 + _C6 * kelvin**4
    return math.exp(power + _C7 * math.log(kelvin))


def saturated_pa(air_c: float) -> float:
    """Return the pressure of the vapour in saturated air, -100 to 200 degrees C, over ice below freezing."""
    return saturation_pressure_over_ice_pa(air_c) if air_c < 0.0 else saturation_pressure_pa(air_c)


def humidity_ratio(vapour_pa: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return the mass of vapour for each mass of dry air, kg/kg.

    Args:
        vapour_pa: partial pressure of the vapour, pascals, below `pressure_pa`.
        pressure_pa: of the air, pascals.

    Source:
        ASHRAE Handbook Fundamentals (2017), chapter 1, equation 20.

    >>> round(humidity_ratio(saturation_pressure_pa(25.0)), 5)
    0.02008
    """
    return MOLAR_RATIO * vapour_pa / (pressure_pa - vapour_pa)


def vapour_pressure_pa(ratio: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return the partial pressure of the vapour in air of a humidity ratio: `humidity_ratio` turned round."""
    return pressure_pa * ratio / (MOLAR_RATIO + ratio)


def relative_humidity(air_c: float, ratio: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return the share of saturation of air of a humidity ratio; above 1 where it is fog."""
    return vapour_pressure_pa(ratio, pressure_pa) / saturated_pa(air_c)


def dry_air_kg_m3(air_c: float, vapour_pa: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return the mass of dry air in a cubic metre of moist air: one over its specific volume.

    Source:
        ASHRAE Handbook Fundamentals (2017), chapter 1, equation 26 turned round.
    """
    return (pressure_pa - vapour_pa) / (_DRY_AIR_J_KG_K * (air_c + _KELVIN))


def dew_point_c(vapour_pa: float) -> float:
    """Return the temperature at which vapour of this pressure begins to condense.

    Args:
        vapour_pa: partial pressure of the vapour, pascals, from that of ice water (611.2) up to 100 000.

    Returns:
        Degrees Celsius; 0 for drier air, whose dew point is a frost point.

    Raises:
        ValueError: the pressure is above that range, or no number.

    Source:
        Equation 6 turned round by Newton's method, which equations 37 and 38 only approximate.

    >>> round(dew_point_c(0.5 * saturation_pressure_pa(30.0)), 2)
    18.45
    """
    if not vapour_pa <= 100_000.0:
        message = f"vapour_pa is {vapour_pa!r}; the dew point is worked out up to 100 000 Pa"
        raise ValueError(message)
    if vapour_pa <= _VAPOUR_AT_0_C_PA:
        return 0.0
    logarithm = math.log(vapour_pa)
    dew_c = 20.0
    # The curve is bent one way only: each round doubles the digits, and six leave nothing to gain.
    for _ in range(8):
        kelvin = dew_c + _KELVIN
        slope = -_C8 / kelvin**2 + _C10 + 2.0 * _C11 * kelvin + 3.0 * _C12 * kelvin**2 + _C13 / kelvin
        dew_c = max(0.0, dew_c - (math.log(saturation_pressure_pa(dew_c)) - logarithm) / slope)
    return dew_c


def wet_bulb_c(air_c: float, ratio: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return the thermodynamic wet-bulb temperature of air above freezing.

    Args:
        air_c: dry-bulb temperature, degrees Celsius, 0 to 100.
        ratio: humidity ratio, kg/kg.
        pressure_pa: of the air, pascals.

    Returns:
        Degrees Celsius, to 0.001, found by bisection; 0 where it lies below freezing.

    Source:
        ASHRAE Handbook Fundamentals (2017), chapter 1, equation 33.

    >>> round(wet_bulb_c(30.0, 0.01331), 1)
    22.0
    """
    low_c, high_c = 0.0, air_c
    while high_c - low_c > 0.001:
        middle_c = (low_c + high_c) / 2.0
        saturated = humidity_ratio(saturation_pressure_pa(middle_c), pressure_pa)
        held = ((2_501.0 - 2.326 * middle_c) * saturated - 1.006 * (air_c - middle_c)) / (
            2_501.0 + 1.86 * air_c - 4.186 * middle_c
        )
        if held < ratio:
            low_c = middle_c
        else:
            high_c = middle_c
    return (low_c + high_c) / 2.0


def pressure_at_pa(altitude_m: float) -> float:
    """Return the pressure of the standard atmosphere at an altitude, -500 to 11 000 m.

    Source:
        ASHRAE Handbook Fundamentals (2017), chapter 1, equation 3.

    >>> round(pressure_at_pa(1000.0))
    89875
    """
    return float(STANDARD_PRESSURE_PA * (1.0 - 2.25577e-5 * altitude_m) ** 5.2559)


def exchange_ratio_pa_k(pressure_pa: float) -> float:
    """Return how many pascals of vapour pressure drive as much heat as one kelvin does."""
    return EXCHANGE_RATIO_PA_PER_K * pressure_pa / STANDARD_PRESSURE_PA


def salt_wet_bulb_c(
    air_c: float,
    humidity: float,
    pressure_pa: float = STANDARD_PRESSURE_PA,
    activity: float = SEA_WATER_ACTIVITY,
) -> float:
    """Return the water temperature above which moving air cools sea water, and below which it heats it.

    Args:
        air_c: dry-bulb temperature, degrees Celsius, 5 to 50.
        humidity: share of saturation, 0 to 1.
        pressure_pa: of the air, pascals.
        activity: vapour pressure over the water as a share of that over fresh water.

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
    if not 0.0 <= humidity <= 1.0:
        message = f"humidity is {humidity!r}; it is a share from 0 to 1"
        raise ValueError(message)
    vapour_pa = humidity * saturation_pressure_pa(air_c)
    ratio = exchange_ratio_pa_k(pressure_pa)
    # In saturated air sea water takes vapour up, so the balance may lie a little above the air.
    low_c, high_c = 0.0, air_c + 2.0
    while high_c - low_c > 0.001:
        middle_c = (low_c + high_c) / 2.0
        gained = ratio * (air_c - middle_c)
        lost = activity * saturation_pressure_pa(middle_c) - vapour_pa
        if lost < gained:
            low_c = middle_c
        else:
            high_c = middle_c
    return (low_c + high_c) / 2.0
