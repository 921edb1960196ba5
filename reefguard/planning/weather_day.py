"""The day a plan is made for: a hot day by three numbers, or the hottest of a series of hours."""

import calendar
from datetime import timedelta

from reefguard.planning.damp_air import heating_vapour_pa
from reefguard.planning.day import STEP_S, STEPS_A_DAY, DayWeather
from reefguard.planning.model import WeatherUsed
from reefguard.settings.plan_model import DesignDayPlan, TankPlan
from reefguard.thermal.moist_air import pressure_at_pa, relative_humidity, vapour_pressure_pa
from reefguard.thermal.weather import (
    DAY_S,
    DesignDay,
    HourlyWeather,
    OutsideAir,
    Weather,
    hottest_day,
    muggiest_day,
)

# So many days before the hottest are run through: a large tank remembers two or three.
_RUN_IN_DAYS = 3


def design_day(described: DesignDayPlan, tank: TankPlan) -> tuple[DayWeather, WeatherUsed]:
    """Return the hot day the keeper describes, which repeats itself.

    Args:
        described: by three numbers.
        tank: its altitude.
    """
    day = DesignDay(
        hottest_c=described.hottest_c,
        coolest_c=described.coolest_c,
        relative_humidity=described.relative_humidity,
        pressure_pa=pressure_at_pa(tank.altitude_m),
    )
    return DayWeather(_steps(day, 0)), WeatherUsed(
        day="a hot day that repeats itself",
        hottest_c=described.hottest_c,
        coolest_c=described.coolest_c,
        humidity_at_hottest=described.relative_humidity,
    )


def series_days(
    series: HourlyWeather, tank: TankPlan
) -> tuple[tuple[DayWeather, WeatherUsed], tuple[DayWeather, WeatherUsed]]:
    """Return the hottest day and the muggiest, each with the days before it as run-in.

    A tank follows the mean of a day rather than its hottest hour; what it evaporates follows the moisture.

    Args:
        series: of hours.
        tank: its altitude, salinity and hold temperature.
    """
    pressure_pa = pressure_at_pa(tank.altitude_m)
    heating = sum(
        vapour_pressure_pa(air.humidity_ratio, pressure_pa)
        > heating_vapour_pa(tank.hold_c, air.air_c, pressure_pa, tank.salinity)
        for air in series.hours
        # Air half a kelvin colder than sea water cools it even where it is saturated.
        if air.air_c > tank.hold_c - 0.5
    )
    return (
        _series_day(
            series, hottest_day(series), "on the mean the hottest of the series", heating, pressure_pa
        ),
        _series_day(series, muggiest_day(series), "the muggiest of the series", heating, pressure_pa),
    )


def _series_day(
    series: HourlyWeather, day: int, why: str, heating_hours: int, pressure_pa: float
) -> tuple[DayWeather, WeatherUsed]:
    hours = series.hours[24 * day : 24 * day + 24]
    peak = max(hours, key=lambda air: air.air_c)
    return _with_run_in(series, day), WeatherUsed(
        day=f"{_named(series, day)}, {why}",
        hottest_c=peak.air_c,
        coolest_c=min(air.air_c for air in hours),
        humidity_at_hottest=relative_humidity(peak.air_c, peak.humidity_ratio, pressure_pa),
        series_hours=len(series.hours),
        series_fan_heating_hours=heating_hours,
    )


def _with_run_in(series: HourlyWeather, day: int) -> DayWeather:
    before = range(max(0, day - _RUN_IN_DAYS), day)
    return DayWeather(_steps(series, day), tuple(_steps(series, one) for one in before))


def _steps(weather: Weather, day: int) -> tuple[OutsideAir, ...]:
    # The air of a step is that of its middle.
    begins_s = day * DAY_S + STEP_S / 2
    return tuple(weather.at(begins_s + index * STEP_S) for index in range(STEPS_A_DAY))


def _named(series: HourlyWeather, day: int) -> str:
    """Name a day without its year: a typical year joins months of several."""
    if series.first_day is None:
        return f"day {day + 1}"
    date = series.first_day + timedelta(days=day)
    return f"{date.day} {calendar.month_name[date.month]}"
