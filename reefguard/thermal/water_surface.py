"""What an open water surface gives to the air: vapour, warmth, radiation.

The vapour's flow follows the equation of the ASHRAE handbook (HVAC
Applications, natatoriums; from Carrier 1918), per square metre and pascal of
vapour pressure difference:

    k = (0.089 F + 0.0782 V) W/(m2 Pa)

with V the air speed at the water and F an activity factor that belongs on the
still-air term only.  Sensible heat goes the same way by the analogy of heat
and mass transfer (Bowen 1926; Chilton and Colburn 1934).  Where the gradient
turns, vapour condenses on the water and warms it: the sign is kept.

Good to about 35 % until it is calibrated by measured top-off: undisturbed
pools evaporate 74 % of the equation (Smith, Loef and Jones, ASHRAE Trans.
104(1A), 1998), a calm pan in a wind tunnel lies within 22 % of it with F = 0.5
up to 1.5 m/s (Pauken, ASHRAE Trans. 101(1), 1995).
"""

from reefguard.thermal.moist_air import (
    STANDARD_PRESSURE_PA,
    dry_air_kg_m3,
    exchange_ratio_pa_k,
    humidity_ratio,
    saturation_pressure_pa,
)

# An aquarium's surface, neither calm (0.5) nor strongly rippled (1.0): common practice.
AGITATION = 0.75
# The share by which the exchange may be wrong until it is calibrated.
UNCERTAINTY = 0.35
# Above this no measurement supports the equation; the planner says that it cannot judge.
FASTEST_AIR_M_S = 3.0

_STILL_W_M2_PA, _FAN_W_M2_PA_PER_M_S = 0.089, 0.0782

STEFAN_BOLTZMANN = 5.670_374e-8  # W/(m2 K4), CODATA 2018
_EMISSIVITY_OF_WATER = 0.95  # common handbook value
_KELVIN = 273.15


def exchange_w_m2_pa(air_m_s: float, agitation: float = AGITATION) -> float:
    """Return the latent heat flow per square metre and pascal of vapour pressure difference.

    Args:
        air_m_s: air speed at the water, 0 to 3.
        agitation: activity factor of the still-air term: 0.5 calm, 1 strongly rippled.

    Source:
        ASHRAE Handbook HVAC Applications, natatoriums, equation 1, in SI units.

    >>> round(exchange_w_m2_pa(2.0, 1.0), 4)
    0.2454
    """
    return _STILL_W_M2_PA * agitation + _FAN_W_M2_PA_PER_M_S * air_m_s


def evaporation_kg_m2_s(
    difference_pa: float, latent_heat_j_kg: float, air_m_s: float = 0.0, agitation: float = AGITATION
) -> float:
    """Return the mass of vapour leaving a square metre each second; negative where it condenses.

    Args:
        difference_pa: vapour pressure at the water less that of the air.
        latent_heat_j_kg: of the vapour.
        air_m_s: air speed at the water.
        agitation: activity factor of the still-air term.
    """
    return exchange_w_m2_pa(air_m_s, agitation) * difference_pa / latent_heat_j_kg


def undisturbed_pool_kg_m2_h(water_c: float, air_c: float, humidity: float, activity: float = 1.0) -> float:
    """Return what an undisturbed surface evaporates by natural convection: a second opinion to the equation.

    Args:
        water_c: degrees Celsius, 7 to 94.
        air_c: of the room, degrees Celsius, 6 to 35.
        humidity: of the room, a share.
        activity: vapour pressure over the water as a share of that over fresh water.

    Returns:
        kg/(m2 h); nought where vapour would condense, which was not measured.

    Source:
        Shah, ASHRAE Trans. 120(2) (2014), paper SE-14-001: the larger of two terms; mean deviation
        18 % from 26 sets of measurements.  Its densities are those of the *dry* air in the mixture.

    >>> round(undisturbed_pool_kg_m2_h(28.0, 28.0, 0.5), 3)
    0.136
    """
    at_water_pa = activity * saturation_pressure_pa(water_c)
    in_room_pa = humidity * saturation_pressure_pa(air_c)
    at_water = dry_air_kg_m3(water_c, at_water_pa)
    lift = dry_air_kg_m3(air_c, in_room_pa) - at_water
    buoyant = 0.0
    if lift > 0.0:
        drive = humidity_ratio(at_water_pa) - humidity_ratio(in_room_pa)
        buoyant = 35.0 * at_water * lift ** (1.0 / 3.0) * drive
    return max(buoyant, 5e-5 * (at_water_pa - in_room_pa))


def sensible_w_m2_k(air_m_s: float, agitation: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return the sensible heat flow per square metre and kelvin that goes with the vapour's exchange."""
    return exchange_w_m2_pa(air_m_s, agitation) * exchange_ratio_pa_k(pressure_pa)


def radiation_w_m2_k(middle_c: float) -> float:
    """Return the radiative coefficient of an open surface against surroundings of about its temperature.

    >>> round(radiation_w_m2_k(27.0), 1)
    5.8
    """
    return 4.0 * _EMISSIVITY_OF_WATER * STEFAN_BOLTZMANN * (middle_c + _KELVIN) ** 3
