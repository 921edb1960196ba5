"""Step 2 of the tick: is what the wire gave a water temperature?

A probe earns trust and keeps it:

    from        to          when
    distrusted  trusted     samples in order, each consistent with the one before, for `trusted_after_s`
    trusted     distrusted  no sample in order for `stale_after_s`

A trusted probe that misses a sample or gives an implausible one keeps its
last good value until that is stale.  Every check is made on the raw value;
the calibration offset comes after.
"""

import math
from typing import NamedTuple

from reefguard.settings.model import Trust, WaterProbe
from reefguard.vocabulary import Cause, Distrusted, Missed, Quality, RawSample, Reading, Trusted

# Water in a tank is liquid and bearable: a wide band, for a tank in trouble must still be read.
COLDEST_WATER_C = 0.0
WARMEST_WATER_C = 50.0

# DS18B20 data sheet 19-7487 Rev 6: 85.0 is the register at power-on (Table 1).  127.9375 (07FF) is
# what a failed conversion leaves, per the Linux driver w1_therm (features bit 0).
POWER_ON_C = 85.0
UNCONVERTED_C = 127.9375

# A single count at the coarsest resolution (9 bit) is 0.5 degrees C: the data sheet's Table 2.
# A smaller step says nothing about how fast the water changes.
STEP_C = 0.5

_UNTRIED = -math.inf


class ProbeMemory(NamedTuple):
    """What is remembered of one probe.  Times are those of its samples.

    Attributes:
        trusted: whether its last good value may be used.
        good_c: the last value believed while trusted, raw; `None` before the first.
        good_at_s: when that was measured.
        run_since_s: since when all samples were in order and consistent; `None` outside a run.
        last_c: the last plausible raw value, whether believed or not; `None` before the first.
        last_at_s: when that was measured.
        unchanged_since_s: since when the wire repeats the same number.
        seen_s: the time of the last sample judged.
        cause: what was wrong with it.
    """

    trusted: bool = False
    good_c: float | None = None
    good_at_s: float = _UNTRIED
    run_since_s: float | None = None
    last_c: float | None = None
    last_at_s: float = _UNTRIED
    unchanged_since_s: float = _UNTRIED
    seen_s: float = _UNTRIED
    cause: Cause = Cause.NOT_YET


def judge(
    memory: ProbeMemory, sample: RawSample, probe: WaterProbe, trust: Trust, now_s: float
) -> tuple[ProbeMemory, Reading]:
    """Take the newest sample of a probe into account, and say whether the probe may be used."""
    if sample.at_s > memory.seen_s:
        memory = _learn(memory, sample, trust)
    if memory.trusted and now_s - memory.good_at_s > trust.stale_after_s:
        memory = _lost(memory)
    return memory, _reading(memory, probe)


def _learn(memory: ProbeMemory, sample: RawSample, trust: Trust) -> ProbeMemory:
    """Judge a sample not seen before."""
    at_s = sample.at_s
    if isinstance(sample, Missed):
        return _rejected(memory, sample.cause, at_s)
    raw_c = sample.raw_c
    cause = _cause_by_value(raw_c)
    if cause is not Cause.NONE:
        return _rejected(memory, cause, at_s)

    unchanged_since_s = memory.unchanged_since_s if raw_c == memory.last_c else at_s
    steady = memory.last_c is not None and _may_follow(raw_c, memory.last_c, at_s - memory.last_at_s, trust)
    if at_s - unchanged_since_s >= trust.frozen_after_s:
        cause = Cause.FROZEN
    elif memory.good_c is not None and not _may_follow(raw_c, memory.good_c, at_s - memory.good_at_s, trust):
        cause = Cause.TOO_FAST
    if cause is not Cause.NONE:
        return memory._replace(
            run_since_s=None,
            last_c=raw_c,
            last_at_s=at_s,
            unchanged_since_s=unchanged_since_s,
            seen_s=at_s,
            cause=cause,
        )

    run_since_s = memory.run_since_s if steady and memory.run_since_s is not None else at_s
    trusted = memory.trusted or at_s - run_since_s >= trust.trusted_after_s
    if trusted:
        return ProbeMemory(True, raw_c, at_s, run_since_s, raw_c, at_s, unchanged_since_s, at_s, Cause.NONE)
    return memory._replace(
        run_since_s=run_since_s,
        last_c=raw_c,
        last_at_s=at_s,
        unchanged_since_s=unchanged_since_s,
        seen_s=at_s,
        cause=Cause.PROVING,
    )


def _cause_by_value(raw_c: float) -> Cause:
    """Return what is wrong with a number on its own."""
    if COLDEST_WATER_C < raw_c < WARMEST_WATER_C:
        return Cause.NONE
    if raw_c == POWER_ON_C:
        return Cause.POWER_ON
    if raw_c == UNCONVERTED_C:
        return Cause.UNCONVERTED
    return Cause.OUT_OF_RANGE


def _may_follow(raw_c: float, before_c: float, elapsed_s: float, trust: Trust) -> bool:
    """Return whether water can have gone from one value to the other in the time."""
    return abs(raw_c - before_c) <= STEP_C + trust.fastest_c_per_min * elapsed_s / 60.0


def _rejected(memory: ProbeMemory, cause: Cause, at_s: float) -> ProbeMemory:
    """Remember a sample that gave no plausible number; it ends any run."""
    return memory._replace(run_since_s=None, seen_s=at_s, cause=cause)


def _lost(memory: ProbeMemory) -> ProbeMemory:
    """Withdraw trust; what was wrong last stays the cause, silence itself if nothing was."""
    cause = Cause.STALE if memory.cause is Cause.NONE else memory.cause
    return memory._replace(trusted=False, run_since_s=None, cause=cause)


_MEASURED = frozenset({Cause.PROVING, Cause.TOO_FAST, Cause.FROZEN})
_NOT_MEASURED = frozenset(
    {Cause.ABSENT, Cause.EMPTY, Cause.UNREADABLE, Cause.NO_ANSWER, Cause.NOT_YET, Cause.STALE}
)


def _reading(memory: ProbeMemory, probe: WaterProbe) -> Reading:
    """Put the memory into the words of the rest of the program; the offset is applied here."""
    cause = memory.cause
    if memory.trusted and memory.good_c is not None:
        quality = Quality.PASS if cause is Cause.NONE else Quality.SUSPECT
        return Trusted(probe.name, memory.good_c + probe.offset_c, memory.good_at_s, quality, cause)
    if cause is Cause.PROVING:
        quality = Quality.NOT_EVALUATED
    elif cause in _NOT_MEASURED:
        quality = Quality.MISSING
    else:
        quality = Quality.FAIL
    raw_c = None
    if cause in _MEASURED and memory.last_c is not None:
        raw_c = memory.last_c + probe.offset_c
    return Distrusted(probe.name, raw_c, quality, cause)
