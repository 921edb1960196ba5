"""In which air a fan heats the water: hot or damp enough that its warmth outweighs what it evaporates."""

from reefguard.planning.model import DampAir
from reefguard.thermal.moist_air import EXCHANGE_RATIO_PA_PER_K, STANDARD_PRESSURE_PA, saturation_pressure_pa
from reefguard.thermal.sea_water import vapour_share

_AIRS_C = (24.0, 26.0, 28.0, 30.0, 32.0, 34.0, 36.0)


def heating_vapour_pa(water_c: float, air_c: float, pressure_pa: float, salinity: float) -> float:
    """Return the vapour pressure of the air above which a fan heats the water; may be negative.

    Args:
        water_c: of the water.
        air_c: of the air it blows.
        pressure_pa: of the air.
        salinity: practical salinity of the water.

    Source:
        The balance that `moist_air.salt_wet_bulb_c` solves for the water, solved for the vapour:
        p = a p_sat(water) - gamma (air - water).
    """
    ratio = EXCHANGE_RATIO_PA_PER_K * pressure_pa / STANDARD_PRESSURE_PA
    return vapour_share(salinity) * saturation_pressure_pa(water_c) - ratio * (air_c - water_c)


def damp_airs(water_c: float, pressure_pa: float, salinity: float) -> tuple[DampAir, ...]:
    """Return for round air temperatures the humidity above which a fan heats the water.

    Args:
        water_c: of the water.
        pressure_pa: of the air.
        salinity: practical salinity of the water.

    >>> [(air.air_c, round(air.humidity, 2)) for air in damp_airs(26.0, 101_325.0, 35.0)][1:3]
    [(30.0, 0.72), (32.0, 0.62)]
    """
    found = (
        DampAir(
            air_c, heating_vapour_pa(water_c, air_c, pressure_pa, salinity) / saturation_pressure_pa(air_c)
        )
        for air_c in _AIRS_C
    )
    return tuple(air for air in found if air.air_c >= water_c + 1.0 and 0.0 < air.humidity < 1.0)
