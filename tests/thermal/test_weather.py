"""The air outdoors: what a design day and a series of hours promise."""

from datetime import date

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reefguard.thermal.moist_air import STANDARD_PRESSURE_PA, saturated_pa
from reefguard.thermal.weather import (
    DAY_S,
    DesignDay,
    HourlyWeather,
    OutsideAir,
    hottest_day,
    muggiest_day,
    saturated_ratio,
)

psychrolib.SetUnitSystem(psychrolib.SI)
HOUR_S = 3_600.0

temperatures = st.floats(-60.0, 60.0)
moments = st.floats(0.0, 400 * DAY_S)
air = st.builds(OutsideAir, temperatures, st.floats(0.0, 0.1))


# Between 0 °C and the triple point psychrolib still takes ice, and the formula here takes water.
@given(temperatures.filter(lambda air_c: not 0.0 <= air_c <= 0.01))
def test_saturation_is_that_of_psychrolib_over_ice_and_over_water(air_c: float) -> None:
    """The library is psychrolib 2.5.0, after the same ASHRAE equations 5, 6 and 20."""
    assert saturated_pa(air_c) == pytest.approx(psychrolib.GetSatVapPres(air_c), rel=1e-6)
    expected = psychrolib.GetSatHumRatio(air_c, STANDARD_PRESSURE_PA)
    assert saturated_ratio(air_c) == pytest.approx(expected, rel=1e-5)


class TestDesignDay:
    HEAT = DesignDay(34.0, 22.0, 0.4)

    def test_it_is_hottest_at_its_hour_and_coolest_twelve_hours_before(self) -> None:
        assert self.HEAT.at(16 * HOUR_S).air_c == pytest.approx(34.0)
        assert self.HEAT.at(4 * HOUR_S).air_c == pytest.approx(22.0)
        assert self.HEAT.at(10 * HOUR_S).air_c == pytest.approx(28.0)

    def test_the_humidity_is_meant_at_the_hottest_hour_and_the_vapour_stays(self) -> None:
        """By psychrolib 2.5.0."""
        expected = psychrolib.GetHumRatioFromRelHum(34.0, 0.4, STANDARD_PRESSURE_PA)
        for hour in range(24):
            assert self.HEAT.at(hour * HOUR_S).humidity_ratio == pytest.approx(expected, rel=1e-5)

    def test_thinner_air_holds_the_same_vapour_in_less_air(self) -> None:
        high = DesignDay(34.0, 22.0, 0.4, pressure_pa=84_556.0)
        expected = psychrolib.GetHumRatioFromRelHum(34.0, 0.4, 84_556.0)
        assert high.at(0.0).humidity_ratio == pytest.approx(expected, rel=1e-5)

    def test_a_cool_night_loses_what_it_cannot_hold(self) -> None:
        damp = DesignDay(30.0, 15.0, 0.8)
        night = damp.at(4 * HOUR_S)
        assert night.humidity_ratio == pytest.approx(saturated_ratio(15.0))
        assert damp.at(16 * HOUR_S).humidity_ratio > 1.5 * night.humidity_ratio

    @given(moments, temperatures, st.floats(0.0, 40.0), st.floats(0.0, 1.0), st.floats(0.0, 24.0))
    def test_it_stays_within_its_numbers_and_repeats(
        self, moment_s: float, hottest_c: float, swing_c: float, humidity: float, hour: float
    ) -> None:
        day = DesignDay(hottest_c, max(-60.0, hottest_c - swing_c), humidity, hottest_hour=hour)
        now = day.at(moment_s)
        assert day.coolest_c - 1e-9 <= now.air_c <= day.hottest_c + 1e-9
        assert 0.0 <= now.humidity_ratio <= saturated_ratio(now.air_c)
        assert day.at(int(moment_s) + 5 * DAY_S) == day.at(int(moment_s))

    @given(moments)
    def test_it_moves_in_small_steps_across_midnight_too(self, moment_s: float) -> None:
        """A swing of 12 K moves at most 12/2 x 2 pi/1440 = 0.027 K a minute."""
        assert abs(self.HEAT.at(moment_s + 60.0).air_c - self.HEAT.at(moment_s).air_c) < 0.06

    @pytest.mark.parametrize("humidity", [-0.01, 1.01, 40.0, float("nan")])
    def test_humidity_is_a_share(self, humidity: float) -> None:
        with pytest.raises(ValueError, match="share from 0 to 1"):
            DesignDay(34.0, 22.0, humidity)

    @pytest.mark.parametrize(
        ("hottest_c", "coolest_c"), [(22.0, 34.0), (61.0, 22.0), (34.0, -61.0), (float("nan"), 22.0)]
    )
    def test_temperatures_go_upwards_within_what_air_can_be(self, hottest_c: float, coolest_c: float) -> None:
        with pytest.raises(ValueError, match="go upwards between -60 and 60"):
            DesignDay(hottest_c, coolest_c, 0.4)


def ramp(hours: int) -> HourlyWeather:
    return HourlyWeather(
        date(2026, 7, 1), tuple(OutsideAir(float(hour), hour / 1e4) for hour in range(hours))
    )


class TestHourlyWeather:
    @given(st.floats(0.0, 47.0))
    def test_between_hours_it_goes_in_a_straight_line(self, hour: float) -> None:
        now = ramp(48).at(hour * HOUR_S)
        assert now.air_c == pytest.approx(hour)
        assert now.humidity_ratio == pytest.approx(hour / 1e4)

    @given(st.lists(air, min_size=24, max_size=80), st.integers(0, 10_000))
    def test_after_its_end_the_last_day_repeats(self, hours: list[OutsideAir], hour: int) -> None:
        series = HourlyWeather(None, tuple(hours))
        expected = hours[hour] if hour < len(hours) else hours[len(hours) - 24 + (hour - len(hours)) % 24]
        assert series.at(hour * HOUR_S) == expected

    @given(st.lists(air, min_size=24, max_size=80), moments)
    def test_it_never_leaves_what_was_measured(self, hours: list[OutsideAir], moment_s: float) -> None:
        now = HourlyWeather(None, tuple(hours)).at(moment_s)
        for part, value in enumerate(now):
            measured = [one[part] for one in hours]
            assert min(measured) - 1e-9 <= value <= max(measured) + 1e-9

    def test_the_last_hour_leads_to_the_first_of_its_day(self) -> None:
        """Hour 47 leads to hour 24 of the ramp, as the last day repeats."""
        assert ramp(48).at(47.5 * HOUR_S).air_c == pytest.approx((47.0 + 24.0) / 2)

    def test_a_stretch_keeps_its_hours_and_its_date(self) -> None:
        cut = ramp(96).days_from(1, 2)
        assert (cut.first_day, cut.days) == (date(2026, 7, 2), 2)
        assert [one.air_c for one in cut.hours] == [float(hour) for hour in range(24, 72)]

    def test_a_stretch_of_a_series_without_dates_has_none(self) -> None:
        assert HourlyWeather(None, ramp(48).hours).days_from(1, 1).first_day is None

    def test_a_stretch_outside_is_refused(self) -> None:
        with pytest.raises(ValueError, match="at least the 24 of a day"):
            ramp(48).days_from(2, 1)

    def test_less_than_a_day_is_refused(self) -> None:
        with pytest.raises(ValueError, match="23 hours"):
            ramp(23)

    def test_an_unfinished_day_does_not_count(self) -> None:
        assert ramp(47).days == 1

    def test_the_hottest_day_is_not_that_of_the_hottest_hour_nor_the_muggiest(self) -> None:
        mild = (OutsideAir(20.0, 0.008),) * 24
        peak = (OutsideAir(40.0, 0.008), *mild[1:])
        hot = (OutsideAir(25.0, 0.008),) * 24
        muggy = (OutsideAir(22.0, 0.020),) * 24
        series = HourlyWeather(None, mild + peak + hot + muggy)
        assert (hottest_day(series), muggiest_day(series)) == (2, 3)
