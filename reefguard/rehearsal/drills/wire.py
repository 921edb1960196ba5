"""Probes in memory: what guard and cutoff get to read from each, sound or not.

A probe follows the water late, is off by a constant, and gives sixteenths of
a degree, as a DS18B20 does.  What a fault gives is what the two programs make
of the kernel's file for it; a test holds this table against both readers.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from reefguard.cutoff.ds18b20 import COLDEST_C, WARMEST_C, Failed, Fault, Measured, Sample
from reefguard.rehearsal.drills.drill import Turn
from reefguard.rehearsal.drills.timeline import ProbeTurn
from reefguard.vocabulary import Cause, Missed, RawSample, Sampled

_STEPS_PER_C: Final = 16.0

# What the wire gives as a number all the same.
_NUMBERS: Final[Mapping[Turn, float]] = {
    Turn.POWER_ON: 85.0,
    Turn.UNCONVERTED: 127.9375,
    Turn.OUT_OF_RANGE: -55.0,
}
_MISSES: Final[Mapping[Turn, tuple[Cause, Fault]]] = {
    Turn.ABSENT: (Cause.ABSENT, Fault.ABSENT),
    Turn.EMPTY: (Cause.EMPTY, Fault.EMPTY),
    Turn.CHECKSUM: (Cause.CRC, Fault.CRC),
    Turn.ZEROS: (Cause.ZEROS, Fault.ZEROS),
    Turn.MALFORMED: (Cause.MALFORMED, Fault.MALFORMED),
    Turn.UNREADABLE: (Cause.UNREADABLE, Fault.UNREADABLE),
    Turn.NO_ANSWER: (Cause.NO_ANSWER, Fault.LATE),
}


@dataclass(slots=True)
class BodyOfProbe:
    """One probe in the water.

    Attributes:
        error_c: by which it is off, within the data sheet's ±0.5 °C.
        lag_s: the time constant with which it follows the water.
        body_c: its own temperature.
        frozen_c: the value it repeats while it is frozen.
    """

    error_c: float
    lag_s: float
    body_c: float
    frozen_c: float | None = None

    def shows(
        self, water_c: float, room_c: float, span_s: float, at_s: float, mark: ProbeTurn | None
    ) -> float:
        """Follow for a while; return what the chip measures, whatever the wire then makes of it."""
        around_c = room_c if mark is not None and mark.turn is Turn.IN_AIR else water_c
        self.body_c += (around_c - self.body_c) * min(1.0, span_s / self.lag_s)
        shown_c = self.body_c + self.error_c
        if mark is not None:
            if mark.turn is Turn.OFF_BY:
                shown_c += mark.by
            elif mark.turn is Turn.DRIFTING:
                shown_c += mark.by * (at_s - mark.since_s) / 3_600.0
        rounded_c = round(shown_c * _STEPS_PER_C) / _STEPS_PER_C
        if mark is not None and mark.turn is Turn.FROZEN:
            if self.frozen_c is None:
                self.frozen_c = rounded_c
            return self.frozen_c
        self.frozen_c = None
        return rounded_c


def to_guard(shown_c: float, mark: ProbeTurn | None, at_s: float) -> RawSample:
    """Return what the guard's sensor loop makes of it."""
    if mark is not None:
        missed = _MISSES.get(mark.turn)
        if missed is not None:
            return Missed(missed[0], at_s)
        shown_c = _NUMBERS.get(mark.turn, shown_c)
    return Sampled(shown_c, at_s)


def to_cutoff(shown_c: float, mark: ProbeTurn | None) -> Sample | None:
    """Return what the cutoff makes of it; `None` when no answer has come."""
    if mark is not None:
        if mark.turn is Turn.NO_ANSWER:
            return None
        missed = _MISSES.get(mark.turn)
        if missed is not None:
            return Failed(missed[1])
        if mark.turn is Turn.POWER_ON:
            return Failed(Fault.POWER_ON)
        if mark.turn is Turn.UNCONVERTED:
            return Failed(Fault.UNCONVERTED)
        shown_c = _NUMBERS.get(mark.turn, shown_c)
    if not COLDEST_C <= shown_c <= WARMEST_C:
        return Failed(Fault.OUT_OF_RANGE)
    return Measured(shown_c)
