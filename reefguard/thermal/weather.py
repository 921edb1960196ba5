"""The air outdoors over time: a design day by three numbers, or a series of hours."""

import math
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final, NamedTuple, Protocol

from reefguard.thermal.moist_air import STANDARD_PRESSURE_PA, humidity_ratio, saturated_pa

DAY_S: Final = 86_400.0
_HOUR_S: Final = 3_600.0
_COLDEST_C, _WARMEST_C = -60.0, 60.0


class OutsideAir(NamedTuple):
    """The air outdoors.

    Attributes:
        air_c: dry-bulb temperature, degrees Celsius.
        humidity_ratio: mass of vapour for each mass of dry air, kg/kg.
    """

    air_c: float
    humidity_ratio: float


class Weather(Protocol):
    """The air outdoors at any moment."""

    def at(self, elapsed_s: float) -> OutsideAir:
        """Return the air, so long after the midnight that begins the first day."""


def saturated_ratio(air_c: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return the humidity ratio of saturated air, over ice below freezing."""
    return humidity_ratio(saturated_pa(air_c), pressure_pa)


@dataclass(frozen=True, slots=True)
class DesignDay:
    """A day that repeats itself, by three numbers.

    Temperature follows a cosine between coolest and hottest.  The vapour in the air stays what it is at the
    hottest hour, for the dew point hardly moves within a day (common practice), and less where the cool
    of the night cannot hold it.

    Attributes:
        hottest_c: in the shade.
        coolest_c: half a day away from it.
        relative_humidity: at the hottest hour, a share.
        hottest_hour: of the day.
        pressure_pa: of the air.
    """

    hottest_c: float
    coolest_c: float
    relative_humidity: float
    hottest_hour: float = 16.0
    pressure_pa: float = STANDARD_PRESSURE_PA
    _minutes: tuple[OutsideAir, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Work the day out, minute by minute.

        Raises:
            ValueError: one of the numbers cannot be, in words.
        """
        if not 0.0 <= self.relative_humidity <= 1.0:
            message = f"relative_humidity is {self.relative_humidity!r}; it is a share from 0 to 1"
            raise ValueError(message)
        if not _COLDEST_C <= self.coolest_c <= self.hottest_c <= _WARMEST_C:
            message = (
                f"coolest_c is {self.coolest_c!r} and hottest_c {self.hottest_c!r}; they go upwards "
                f"between {_COLDEST_C:.0f} and {_WARMEST_C:.0f} degrees C"
            )
            raise ValueError(message)
        ratio = humidity_ratio(self.relative_humidity * saturated_pa(self.hottest_c), self.pressure_pa)
        middle_c = (self.hottest_c + self.coolest_c) / 2.0
        swing_c = (self.hottest_c - self.coolest_c) / 2.0
        minutes = []
        for minute in range(1_441):
            air_c = middle_c + swing_c * math.cos((minute / 60.0 - self.hottest_hour) * math.pi / 12.0)
            minutes.append(OutsideAir(air_c, min(ratio, saturated_ratio(air_c, self.pressure_pa))))
        object.__setattr__(self, "_minutes", tuple(minutes))

    def at(self, elapsed_s: float) -> OutsideAir:
        """Return the air, so long after any midnight, to the minute."""
        return self._minutes[int(elapsed_s % DAY_S / 60.0)]


@dataclass(frozen=True, slots=True)
class HourlyWeather:
    """A series of hours.

    Attributes:
        first_day: its date; `None` when the series has none.
        hours: the air at each full hour from midnight on; after the last hour its last day repeats.
    """

    first_day: date | None
    hours: tuple[OutsideAir, ...]

    def __post_init__(self) -> None:
        """See that there is a day at least.

        Raises:
            ValueError: fewer than 24 hours.
        """
        if len(self.hours) < 24:
            message = f"{len(self.hours)} hours; a series has at least the 24 of a day"
            raise ValueError(message)

    @property
    def days(self) -> int:
        """How many whole days it has."""
        return len(self.hours) // 24

    def at(self, elapsed_s: float) -> OutsideAir:
        """Return the air, in a straight line between the hours."""
        position = elapsed_s / _HOUR_S
        count = len(self.hours)
        if position >= count - 1:
            # The last day again and again.
            position = count - 24 + (position - count) % 24.0
        index = int(position)
        share = position - index
        here = self.hours[index]
        there = self.hours[index + 1] if index + 1 < count else self.hours[count - 24]
        return OutsideAir(
            here.air_c + share * (there.air_c - here.air_c),
            here.humidity_ratio + share * (there.humidity_ratio - here.humidity_ratio),
        )

    def days_from(self, first: int, count: int) -> "HourlyWeather":
        """Return some days of it as a series of their own, with its date.

        Raises:
            ValueError: it has no such days.
        """
        first_day = None if self.first_day is None else self.first_day + timedelta(days=first)
        return HourlyWeather(first_day, self.hours[24 * first : 24 * (first + count)])


def hottest_day(series: HourlyWeather) -> int:
    """Return the index of the day with the highest mean temperature."""
    return max(range(series.days), key=lambda day: _mean(series, day, 0))


def muggiest_day(series: HourlyWeather) -> int:
    """Return the index of the day with the highest mean humidity ratio."""
    return max(range(series.days), key=lambda day: _mean(series, day, 1))


def _mean(series: HourlyWeather, day: int, part: int) -> float:
    return sum(air[part] for air in series.hours[24 * day : 24 * day + 24]) / 24.0
