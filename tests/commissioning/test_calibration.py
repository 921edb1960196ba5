"""An offset is found over steady water at 25 to 27 °C, and never for a broken probe."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reefguard.commissioning.calibration import (
    Found,
    NotYet,
    Sampled,
    Steady,
    ice_point,
    offset,
    steadiness,
)


def every_5_s(*values_c: float) -> list[Sampled]:
    return [Sampled(5.0 * place, value_c) for place, value_c in enumerate(values_c)]


def steady(mean_c: float) -> Steady:
    return Steady(mean_c, 0.0, 25)


def test_steady_water_is_steady_on_the_second() -> None:
    samples = every_5_s(*[26.0, 26.0625] * 13)
    assert steadiness(samples[:24], 119.9) == NotYet("watched for too short a time")
    found = steadiness(samples[:25], 120.0)
    assert isinstance(found, Steady)
    assert (found.spread_c, found.readings) == (0.0625, 25)
    assert found.mean_c == pytest.approx(26.03)


def test_drift_is_not_steady() -> None:
    rising = every_5_s(*[26.0 + 0.0625 * (place // 8) for place in range(25)])
    assert steadiness(rising, 120.0) == NotYet("it moved by 0.19 °C in 2 min")


def test_a_probe_that_misses_readings_is_not_steady() -> None:
    assert isinstance(steadiness(every_5_s(26.0), 120.0), NotYet)
    assert isinstance(
        steadiness([Sampled(0.0, 26.0), *(Sampled(100.0 + n, 26.0) for n in range(6))], 121.0), NotYet
    )
    assert isinstance(steadiness([], 0.0), NotYet)


@pytest.mark.parametrize(
    ("raw_c", "reference_c", "outcome"),
    [
        (26.0, 26.0, Found(0.0)),
        (26.3125, 26.0, Found(-0.31)),
        (25.5, 26.0, Found(0.5)),
        (25.0, 26.0, "more than the 0.5 °C"),
        (27.0, 26.0, "more than the 0.5 °C"),
        (24.98, 26.0, "replace the probe"),
        (27.02, 26.0, "replace the probe"),
        (24.9, 24.9, "bring the water"),
        (27.1, 27.1, "bring the water"),
        (25.0, 25.0, Found(0.0)),
        (27.0, 27.0, Found(0.0)),
    ],
)
def test_an_offset(raw_c: float, reference_c: float, outcome: Found | str) -> None:
    found = offset(steady(raw_c), reference_c)
    if isinstance(outcome, Found):
        assert found == outcome
    else:
        assert outcome in (found.caution if isinstance(found, Found) else found.mend)


@given(st.floats(-60.0, 130.0), st.floats(-60.0, 130.0))
def test_no_offset_over_a_degree_ever_gets_out(raw_c: float, reference_c: float) -> None:
    found = offset(steady(raw_c), reference_c)
    if isinstance(found, Found):
        assert abs(found.offset_c) <= 1.0
        assert raw_c + found.offset_c == pytest.approx(reference_c, abs=0.0051)
    elif found.broken:
        assert abs(reference_c - raw_c) > 0.99


@pytest.mark.parametrize(
    ("raw_c", "wrong"), [(0.0, False), (0.5, False), (-1.3, True), (-3.5, True), (1.5, True)]
)
def test_the_ice_point(raw_c: float, wrong: bool) -> None:
    assert bool(ice_point(raw_c, 0.2)) is wrong
