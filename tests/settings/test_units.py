"""The two scales: against the fixed points and the factor of NIST SP 811 (2008), appendix B.8."""

import pytest

from reefguard.settings.model import Unit


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [(-40.0, -40.0), (0.0, 32.0), (25.0, 77.0), (100.0, 212.0)]
)
def test_a_temperature_has_its_zero_elsewhere(celsius: float, fahrenheit: float) -> None:
    assert Unit.CELSIUS.of(celsius) == celsius
    assert Unit.FAHRENHEIT.of(celsius) == pytest.approx(fahrenheit)


def test_a_difference_has_no_zero() -> None:
    assert Unit.CELSIUS.step_of(0.5) == 0.5
    assert Unit.FAHRENHEIT.step_of(0.5) == pytest.approx(0.9)
    assert Unit.FAHRENHEIT.step_of(0.0) == 0.0
