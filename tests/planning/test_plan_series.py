"""From a series of hours the plan takes the hottest day, and says which; the hours count for the fans."""

from datetime import date

import pytest
from planned_tanks import reef

from reefguard.planning.found import Course
from reefguard.planning.make import make_plan
from reefguard.planning.model import Advice, Verdict
from reefguard.planning.weather_day import series_days
from reefguard.settings.plan_model import DesignDayPlan, TankPlan, WeatherFilePlan
from reefguard.thermal.moist_air import relative_humidity, salt_wet_bulb_c
from reefguard.thermal.weather import DesignDay, HourlyWeather, OutsideAir

SERIES = WeatherFilePlan("hours.csv")


def series_of(days: list[DesignDay], first: date | None = date(2025, 7, 1)) -> HourlyWeather:
    return HourlyWeather(first, tuple(day.at(hour * 3_600.0) for day in days for hour in range(24)))


def planned(days: list[DesignDay]) -> tuple[TankPlan, Course]:
    plan = make_plan(reef(weather=SERIES), series_of(days))
    assert isinstance(plan.nothing, Course)
    return plan.tank, plan.nothing


MILD, HOT = DesignDay(24.0, 14.0, 0.5), DesignDay(34.0, 22.0, 0.4)


def test_it_is_the_hottest_day_by_its_mean_and_it_is_named() -> None:
    days = [MILD] * 9
    days[6] = HOT
    _, used = series_days(series_of(days), reef())[0]
    assert used.day.startswith("7 July")
    assert used.hottest_c == pytest.approx(34.0, abs=0.3)
    assert used.series_hours == 9 * 24


def test_a_series_without_dates_counts_its_days() -> None:
    _, used = series_days(series_of([MILD, HOT, MILD], first=None), reef())[0]
    assert used.day.startswith("day 2")


def test_the_days_before_are_remembered() -> None:
    """One hot day after cool ones leaves the water cooler than a hot week does."""
    _, alone = planned([MILD] * 6 + [HOT])
    _, week = planned([HOT] * 7)
    assert alone.peak_c < week.peak_c - 0.5


def test_a_week_of_one_day_is_that_day_repeated() -> None:
    day = make_plan(reef(weather=DesignDayPlan(34.0, 22.0, 0.4))).nothing
    _, week = planned([HOT] * 7)
    assert isinstance(day, Course)
    assert week.peak_c == pytest.approx(day.peak_c, abs=0.05)


def test_the_hours_in_which_a_fan_would_heat_are_counted_by_the_salt_wet_bulb() -> None:
    muggy = DesignDay(33.0, 22.0, 0.6)
    plan = make_plan(reef(weather=SERIES), series_of([MILD, muggy, MILD]))
    expected = sum(
        salt_wet_bulb_c(air_c, humidity) > plan.tank.hold_c
        for air_c, humidity in _air_of([MILD, muggy, MILD])
    )
    assert 0 < expected < 24
    assert plan.weather.series_fan_heating_hours == expected


def _air_of(days: list[DesignDay]) -> list[tuple[float, float]]:
    return [
        (air.air_c, min(1.0, relative_humidity(air.air_c, air.humidity_ratio)))
        for air in series_of(days).hours
    ]


def test_a_file_that_nobody_read_is_asked_for() -> None:
    with pytest.raises(ValueError, match=r"hours\.csv"):
        make_plan(reef(weather=SERIES))


def test_where_the_muggiest_day_is_the_warmer_for_the_water_it_is_the_plans() -> None:
    """At 25 degrees and damp the water gets warmer than at 30 degrees and dry."""
    dry, damp = DesignDay(30.0, 18.0, 0.35), DesignDay(25.0, 20.0, 0.95)
    hours = series_of([damp] * 6 + [MILD] * 6 + [dry] * 6)
    plan = make_plan(reef(weather=SERIES), hours)
    assert "muggiest" in plan.weather.day
    assert make_plan(reef(weather=SERIES), series_of([dry] * 6)).verdict.advice is Advice.FANS
    assert plan.verdict.advice is Advice.CHILLER


def test_a_winter_in_frost_is_planned_or_said_to_be_beyond_judging() -> None:
    frost = HourlyWeather(None, tuple(OutsideAir(-5.0 - hour % 24 / 4.0, 0.002) for hour in range(24 * 10)))
    made = make_plan(reef(), frost)
    assert isinstance(made.verdict, Verdict)
