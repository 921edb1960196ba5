"""From values and times to pixels, and the round numbers that an axis names."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

MINUTE_S, HOUR_S, DAY_S = 60.0, 3_600.0, 86_400.0

LARGEST = 1e9
"""No quantity of a tank is larger; what is, is not drawn."""

_TIME_STEPS_S = (
    *(1.0, 2.0, 5.0, 10.0, 15.0, 30.0),
    *(MINUTE_S * step for step in (1, 2, 5, 10, 15, 30)),
    *(HOUR_S * step for step in (1, 2, 3, 6, 12)),
    *(DAY_S * step for step in (1, 2, 5, 10, 20, 50, 100, 200, 500)),
)

TimeLabel: TypeAlias = Callable[[float, float], str]
"""Takes the seconds since the axis' origin and the seconds between two ticks; returns a word."""


def clock_label(since_s: float, step_s: float) -> str:
    """Name a time by the clock, with the origin at midnight; a later midnight by its day.

    >>> clock_label(21_600.0, 3_600.0), clock_label(172_800.0, 21_600.0), clock_label(0.0, 86_400.0)
    ('06:00', 'day 3', 'day 1')
    """
    day, second = divmod(round(since_s), 86_400)
    if second == 0 and (day != 0 or step_s >= DAY_S):
        return f"day {day + 1}"
    minutes, seconds = divmod(second, 60)
    clock = f"{minutes // 60:02d}:{minutes % 60:02d}"
    return f"{clock}:{seconds:02d}" if step_s < MINUTE_S else clock


@dataclass(frozen=True, slots=True)
class TimeAxis:
    """The stretch of time that a chart shows.

    Attributes:
        start_s: in seconds of the run.
        end_s: later than `start_s`.
        origin_s: where the counting of `label` begins: for `clock_label`, the midnight that
            begins day 1.  Ticks lie at round distances from it.
        label: names a tick.
    """

    start_s: float
    end_s: float
    origin_s: float = 0.0
    label: TimeLabel = field(default=clock_label)

    def __post_init__(self) -> None:
        """Refuse an empty axis.

        Raises:
            ValueError: not finite, or no time between start and end.
        """
        finite = all(map(math.isfinite, (self.start_s, self.end_s, self.origin_s)))
        if not finite or self.end_s - self.start_s < 1.0:
            raise ValueError(f"a time axis from {self.start_s} s to {self.end_s} s shows nothing")

    def ticks(self, width_px: float) -> tuple[tuple[float, str], ...]:
        """Choose as many round times as can be named side by side.

        Args:
            width_px: of the axis.

        Returns:
            Each time in seconds of the run, with its name.
        """
        least_s = (self.end_s - self.start_s) / max(1.0, width_px / 72.0)
        step_s = next((step for step in _TIME_STEPS_S if step >= least_s), round_step(least_s))
        first = math.ceil((self.start_s - self.origin_s) / step_s)
        last = math.floor((self.end_s - self.origin_s) / step_s)
        return tuple(
            (self.origin_s + index * step_s, self.label(index * step_s, step_s))
            for index in range(first, last + 1)
        )


@dataclass(frozen=True, slots=True)
class Across:
    """Where times lie on the paper."""

    axis: TimeAxis
    left: float
    width: float

    @property
    def right(self) -> float:
        """The plot's right edge."""
        return self.left + self.width

    @property
    def column_s(self) -> float:
        """How long one pixel lasts."""
        return (self.axis.end_s - self.axis.start_s) / self.width

    def x(self, at_s: float) -> float:
        """Return where a time lies, held between the plot's edges."""
        share = (at_s - self.axis.start_s) / (self.axis.end_s - self.axis.start_s)
        return self.left + self.width * min(1.0, max(0.0, share))

    def shows(self, start_s: float, end_s: float) -> bool:
        """Whether any of a stretch of time lies on the paper."""
        return end_s >= self.axis.start_s and start_s <= self.axis.end_s


@dataclass(frozen=True, slots=True)
class Up:
    """Where values lie on the paper."""

    low: float
    high: float
    top: float
    height: float

    def y(self, value: float) -> float:
        """Return where a value lies; far outside the range, somewhere outside."""
        share = (self.high - value) / (self.high - self.low)
        return self.top + self.height * min(100.0, max(-100.0, share))


def drawable(value: float | None) -> float | None:
    """Return a value that can be drawn, or `None` for one that cannot."""
    # NaN is not below anything.
    return value if value is not None and abs(value) <= LARGEST else None


def round_step(least: float) -> float:
    """Return the smallest of 1, 2 or 5 times a power of ten that is not below `least`.

    >>> round_step(0.3), round_step(12.0)
    (0.5, 20.0)
    """
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * factor for factor in (1.0, 2.0, 5.0, 10.0) if power * factor >= least * (1.0 - 1e-9))


def value_step(low: float, high: float, height_px: float) -> float:
    """Return the round distance between two ticks of a value axis."""
    return round_step((high - low) / max(2.0, height_px / 32.0))


def value_ticks(low: float, high: float, step: float) -> tuple[tuple[float, str], ...]:
    """Return the round values from `low` to `high`, each with its name.

    >>> value_ticks(24.9, 26.1, 0.5)
    ((25.0, '25.0'), (25.5, '25.5'), (26.0, '26.0'))
    """
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    first, last = math.ceil(low / step - 1e-6), math.floor(high / step + 1e-6)
    return tuple((index * step, f"{index * step:.{decimals}f}") for index in range(first, last + 1))


def round_range(values: Sequence[float], least_span: float, height_px: float) -> tuple[float, float]:
    """Return a range of round ends that holds all values.

    Args:
        values: drawable; may be empty.
        least_span: an axis never shows less, so that noise stays small.
        height_px: of the axis.
    """
    low, high = (min(values), max(values)) if values else (0.0, 0.0)
    missing = max(0.0, least_span - (high - low))
    low, high = low - missing / 2.0, high + missing / 2.0
    step = value_step(low, high, height_px)
    return math.floor(low / step + 1e-6) * step, math.ceil(high / step - 1e-6) * step
