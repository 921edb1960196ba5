"""Degree heating weeks against the published example and the rules of NOAA Coral Reef Watch."""

import pytest

from reefguard.thermal.stress import degree_heating_weeks


def test_the_published_example() -> None:
    """HotSpots of 1.0, 2.0, 0.8 and 1.2 °C: (1.0 + 2.0 + 1.2) / 7 = 0.6 °C-weeks (CRW version 3.1)."""
    assert degree_heating_weeks([30.0, 31.0, 29.8, 30.2], 29.0) == pytest.approx(0.6)


def test_a_hot_spot_below_one_degree_does_not_count() -> None:
    assert degree_heating_weeks([29.99] * 84, 29.0) == 0.0


def test_only_the_last_twelve_weeks_count() -> None:
    assert degree_heating_weeks([31.0] * 84, 29.0) == pytest.approx(24.0)
    assert degree_heating_weeks([31.0] * 84 + [28.0] * 80, 29.0) == pytest.approx(4 * 2.0 / 7.0)
    assert degree_heating_weeks([31.0] + [28.0] * 84, 29.0) == 0.0


def test_four_weeks_of_one_degree_are_four() -> None:
    assert degree_heating_weeks([30.0] * 28, 29.0) == pytest.approx(4.0)


def test_no_days_no_stress() -> None:
    assert degree_heating_weeks([], 29.0) == 0.0
