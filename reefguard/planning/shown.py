"""Quantities as a person reads them: rounded to what the model knows, each with its unit."""

from dataclasses import dataclass
from itertools import pairwise

from reefguard.planning.found import LongerThan, Spread
from reefguard.settings.model import Unit
from reefguard.thermal.refrigeration import W_PER_BTU_H


@dataclass(frozen=True, slots=True)
class Shown:
    """Writes temperatures in the keeper's unit."""

    unit: Unit

    def number(self, value_c: float) -> float:
        """Return a temperature in the unit, for a drawing."""
        return self.unit.of(value_c)

    def temperature(self, value_c: float) -> str:
        """Write a temperature.

        >>> Shown(Unit.FAHRENHEIT).temperature(25.0)
        '77.0 °F'
        """
        return f"{self.number(value_c):.1f} {self.unit.value}"

    def difference(self, value_k: float) -> str:
        """Write a difference of temperatures.

        >>> Shown(Unit.FAHRENHEIT).difference(1.0)
        '1.8 °F'
        """
        return f"{self.unit.step_of(value_k):.1f} {self.unit.value}"

    def between(self, spread: Spread) -> str:
        """Write the ends of an uncertain temperature."""
        low, high = self.temperature(spread.low), self.temperature(spread.high)
        return f"{low.split()[0]} to {high}"

    def uncertain(self, spread: Spread) -> str:
        """Write an uncertain temperature with its ends."""
        return f"{self.temperature(spread.best)} ({self.between(spread)})"


def watts(value_w: float) -> str:
    """Write a power.

    >>> watts(437.2)
    '440 W'
    """
    return f"{rounded(value_w)} W"


def cooling(value_w: float) -> str:
    """Write a cooling capacity in both units it is sold by.

    >>> cooling(437.2)
    '440 W (1500 BTU/h)'
    """
    return f"{rounded(value_w)} W ({rounded(value_w / W_PER_BTU_H)} BTU/h)"


def rounded(value: float) -> int:
    """Round to two or three figures: the model does not know more.

    >>> [rounded(value) for value in (37.4, 437.0, 1234.0)]
    [37, 440, 1250]
    """
    step = 1 if abs(value) < 100.0 else 10 if abs(value) < 1_000.0 else 50
    return round(value / step) * step


def percent(share: float) -> str:
    """Write a share.

    >>> percent(0.7)
    '70 %'
    """
    return f"{100.0 * share:.0f} %"


def clock(hour: float) -> str:
    """Write a time of day.

    >>> clock(15.25)
    '15:15'
    """
    minutes = round(hour * 60.0) % 1_440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def hours(value: float | LongerThan) -> str:
    """Write a time that somebody has.

    >>> hours(0.75), hours(2.9), hours(LongerThan(48.0))
    ('45 min', '2.9 h', 'more than 48 h')
    """
    if isinstance(value, LongerThan):
        return f"more than {value.hours:.0f} h"
    return f"{value * 60.0:.0f} min" if value < 1.0 else f"{value:.1f} h"


def hour_ranges(found: tuple[int, ...]) -> str:
    """Write hours of the day as ranges.

    >>> hour_ranges((0, 1, 2, 22, 23))
    '00:00 to 03:00 and 22:00 to 24:00'
    """
    ranges: list[tuple[int, int]] = []
    for hour in found:
        if ranges and ranges[-1][1] == hour:
            ranges[-1] = (ranges[-1][0], hour + 1)
        else:
            ranges.append((hour, hour + 1))
    return " and ".join(f"{begin:02d}:00 to {end:02d}:00" for begin, end in ranges)


BOND = "\N{NO-BREAK SPACE}"
_UNIT_BEGINS = "°%WLhKAmBk"


def bound(text: str) -> str:
    """Bind numbers to the units behind them, so that no line ends between the two.

    >>> bound("25.2 °C at 3 of 4 places").replace(BOND, "_")
    '25.2_°C at 3 of 4 places'
    """
    words = text.split(" ")
    joined = words[:1]
    for before, word in pairwise(words):
        joined.append((BOND if before[-1:].isdigit() and word[:1] in _UNIT_BEGINS else " ") + word)
    return "".join(joined)
