"""Quantities are read exactly, with their unit, and shown again."""

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.settings.quantities import (
    CURRENT,
    DIFFERENCE,
    DURATION,
    FREQUENCY,
    RATE,
    SHARE,
    TEMPERATURE,
    WATER,
    Bounds,
    Measure,
    MisreadError,
    water_temperature,
)

ALL = [TEMPERATURE, DIFFERENCE, RATE, DURATION, CURRENT, FREQUENCY, SHARE]

# NIST SP 811 (2008), B.8: t/°C = (t/°F - 32)/1.8.  -40 is where the scales meet; 98.6 °F is 37 °C exactly.
NIST_TEMPERATURES = [
    ("32 °F", 0.0),
    ("212 °F", 100.0),
    ("-40 °F", -40.0),
    ("98.6 °F", 37.0),
    ("77 F", 25.0),
    ("78.8 °F", 26.0),
    ("26.5 °C", 26.5),
    ("26.5 C", 26.5),
]


@pytest.mark.parametrize(("text", "celsius"), NIST_TEMPERATURES)
def test_temperatures_follow_nist_sp_811(text: str, celsius: float) -> None:
    assert TEMPERATURE.read(text) == celsius


def test_a_difference_has_no_32_in_it() -> None:
    # NIST SP 811 (2008), B.8: degree Fahrenheit (temperature interval) to degree Celsius: 5.555556 E-01.
    assert DIFFERENCE.read("1 °F") == pytest.approx(5.555556e-01, abs=5e-8)
    assert DIFFERENCE.read("1.8 °F") == 1.0
    assert RATE.read("1.8 °F/min") == 1.0
    assert RATE.read("1 C/min") == 1.0


@pytest.mark.parametrize(
    ("measure", "text", "value"),
    [
        (DURATION, "5 s", 5.0),
        (DURATION, "90 min", 5400.0),
        (DURATION, "2 h", 7200.0),
        (DURATION, "1.5 h", 5400.0),
        (CURRENT, "3.8 A", 3.8),
        (FREQUENCY, "100 Hz", 100.0),
        (FREQUENCY, "1 kHz", 1000.0),
        (SHARE, "30 %", 0.3),
        (DIFFERENCE, "-0.5 °C", -0.5),
        (DIFFERENCE, "+0.5 °C", 0.5),
        (DIFFERENCE, "0.5°C", 0.5),
        (DIFFERENCE, "0.5\u00a0°C", 0.5),
    ],
)
def test_each_unit_is_read(measure: Measure, text: str, value: float) -> None:
    assert measure.read(text) == value


@pytest.mark.parametrize(
    ("measure", "text", "why", "mend"),
    [
        (DURATION, "5", "a bare number", "write `5 s`"),
        (DURATION, "5 minutes", "`minutes` is no unit of a length of time", "`5 s` or `5 min` or `5 h`"),
        (DURATION, "2,5 min", "a decimal comma", "write `2.5 min`"),
        (DURATION, "2,5", "a decimal comma", "write `2.5 s`"),
        (DURATION, "five min", "not a length of time", "write it like `5 min`"),
        (DURATION, "", "not a length of time", "write it like `5 min`"),
        (DURATION, "5 min 30 s", "not a length of time", "write it like `5 min`"),
        (DURATION, "1e2 s", "not a length of time", "write it like `5 min`"),
        (DURATION, "007 s", "not a length of time", "write it like `5 min`"),
        (DURATION, "1_0 s", "not a length of time", "write it like `5 min`"),
        (DURATION, "\u0665 s", "not a length of time", "write it like `5 min`"),
        (DURATION, "9999999999 s", "not a length of time", "write it like `5 min`"),
        (DIFFERENCE, "0.5 K", "`K` is no unit of a temperature difference", "`0.5 °C`"),
        (RATE, "1 °C", "`°C` is no unit of a rate of change", "`1 °C/min`"),
    ],
)
def test_what_is_no_quantity_is_told_why_and_what_to_write(
    measure: Measure, text: str, why: str, mend: str
) -> None:
    with pytest.raises(MisreadError) as caught:
        measure.read(text)
    assert why in caught.value.why
    assert mend in caught.value.mend


@pytest.mark.parametrize(
    ("text", "why", "mend"),
    [
        ("26.5", "a bare number; is it °C or °F?", "write `26.5 °C`"),
        ("78", "a bare number; is it °C or °F?", "write `78 °F` (25.6 °C)"),
        ("15", "a bare number; is it °C or °F?", "write `15 °C`"),
        ("35", "a bare number; is it °C or °F?", "write `35 °C`"),
        ("59", "a bare number; is it °C or °F?", "write `59 °F` (15.0 °C)"),
        ("45", "a bare number; is it °C or °F?", "write `45 °C` or `45 °F`"),
        ("78 °C", "above 35 °C: no tropical marine tank is kept so warm", "did you mean `78 °F` (25.6 °C)?"),
        ("26 °F", "below 15 °C: no tropical marine tank is kept so cool", "did you mean `26 °C`?"),
        ("45 °C", "above 35 °C", "write a value in range (15 °C to 35 °C)"),
        ("26 K", "`K` is no unit of a temperature", "did you mean `26 °C`?"),
        ("300 K", "`K` is no unit of a temperature", "write `300 °C` or `300 °F`"),
        ("26,5 °C", "a decimal comma", "write `26.5 °C`"),
        ("warm", "not a temperature", "write it like `26.5 °C`"),
    ],
)
def test_a_mistaken_scale_is_noticed(text: str, why: str, mend: str) -> None:
    with pytest.raises(MisreadError) as caught:
        water_temperature(text)
    assert why in caught.value.why
    assert mend in caught.value.mend


@pytest.mark.parametrize(
    ("text", "celsius"), [("15 °C", 15.0), ("35 °C", 35.0), ("59 °F", 15.0), ("95 °F", 35.0)]
)
def test_the_ends_of_a_tanks_range_belong_to_it(text: str, celsius: float) -> None:
    assert water_temperature(text) == celsius


@pytest.mark.parametrize("text", ["14.999 °C", "35.001 °C", "58.99 °F", "95.01 °F"])
def test_just_outside_a_tanks_range_is_outside(text: str) -> None:
    with pytest.raises(MisreadError):
        water_temperature(text)


def test_the_two_scales_cannot_be_mistaken_for_each_other() -> None:
    """No number is a tank's temperature in both scales, so a bare one has one likely meaning."""
    assert float(TEMPERATURE.units["°F"].from_base(Fraction(WATER.low))) > WATER.high


@pytest.mark.parametrize(
    ("measure", "value", "shown"),
    [
        (DURATION, 0.0, "0 s"),
        (DURATION, 5.0, "5 s"),
        (DURATION, 90.0, "90 s"),
        (DURATION, 60.0, "1 min"),
        (DURATION, 5400.0, "90 min"),
        (DURATION, 7200.0, "2 h"),
        (FREQUENCY, 10_000.0, "10 kHz"),
        (FREQUENCY, 150.0, "150 Hz"),
        (SHARE, 0.3, "30 %"),
        (SHARE, 1.0, "100 %"),
        (TEMPERATURE, 27.8, "27.8 °C"),
        (TEMPERATURE, 25.0, "25 °C"),
        (DIFFERENCE, 5.0, "5 °C"),
        (DIFFERENCE, 0.0625, "0.0625 °C"),
        (DIFFERENCE, 26.6 - 26.5, "0.1 °C"),
    ],
)
def test_values_are_shown_as_a_person_would_write_them(measure: Measure, value: float, shown: str) -> None:
    assert measure.show(value) == shown


@settings(deadline=None)
@given(st.sampled_from(ALL), st.integers(-99_999, 99_999), st.data())
def test_what_is_read_can_be_shown_and_read_again(
    measure: Measure, thousandths: int, data: st.DataObject
) -> None:
    unit = data.draw(st.sampled_from(sorted(measure.units)))
    value = measure.read(f"{thousandths / 1000:.3f} {unit}")
    again = measure.read(measure.show(value))
    assert math.isclose(again, value, abs_tol=1e-4)


def test_bounds_take_their_ends_and_nothing_beyond() -> None:
    bounds = Bounds(180.0, 3600.0, "too soon", "too late", "ask the maker")
    assert bounds.admit(180.0, DURATION) == 180.0
    assert bounds.admit(3600.0, DURATION) == 3600.0
    with pytest.raises(MisreadError) as low:
        bounds.admit(179.9, DURATION)
    assert (low.value.why, low.value.mend) == ("shorter than 3 min: too soon", "ask the maker (3 min to 1 h)")
    with pytest.raises(MisreadError) as high:
        bounds.admit(3600.1, DURATION)
    assert high.value.why == "longer than 1 h: too late"
