"""The over-cool cutoff's whole decision: may cooling run?

    from        to          when
    HELD OFF    PERMITTING  the probe has been good and the water warm for `good_for_s`
                            without a break, and the relay has been off for `rest_s`
    HELD OFF    TRIPPED     the water has been at or below the limit for `trip_after_s`  (TOO_COLD)
    HELD OFF    HELD OFF    the clock ran backwards: the proof begins again
    PERMITTING  TRIPPED     the water has been at or below the limit for `trip_after_s`  (TOO_COLD)
    PERMITTING  TRIPPED     no good reading for `probe_timeout_s`, once too often a day  (TOO_MANY_RELEASES)
    PERMITTING  HELD OFF    no good reading for `probe_timeout_s`
    PERMITTING  HELD OFF    the clock ran backwards
    PERMITTING  HELD OFF    a person tests whether its contact stops the chiller (`open_for_test`)
    TRIPPED     HELD OFF    a person resets it, and the water has recovered

There is no other transition.  Cooling may run in PERMITTING only.  It starts
HELD OFF, or TRIPPED when the latch says so or cannot be read
(LATCH_UNREADABLE).  What tripped it first stays the cause.

A lost probe releases by itself once it has proved good again.  That release
is counted when the probe is *lost*, so that a restart in between cannot
forget it.

A proof test latches nothing: whoever walks away from one must not find the
tank cooked.  It ends as any other drop does, once the water has proved warm
anew and the relay has rested.

Pure, and imports nothing from the rest of reefguard: see DEVELOPERS.md, "Why
the cutoff repeats itself".  Times are seconds of the boot clock.
"""

import math
from dataclasses import dataclass
from enum import Enum
from typing import NamedTuple, TypeAlias

from reefguard.cutoff.ds18b20 import Failed, Sample

DAY_S = 86_400.0


class Hold(Enum):
    """Why cooling is held off, for now."""

    STARTING = "starting"
    PROBE_LOST = "probe lost"
    RESET = "reset"
    CLOCK = "clock ran backwards"
    PROOF_TEST = "proof test"


class Cause(Enum):
    """What tripped it."""

    TOO_COLD = "too cold"
    TOO_MANY_RELEASES = "too many releases"
    LATCH_UNREADABLE = "latch unreadable"


@dataclass(frozen=True, slots=True)
class HeldOff:
    """Cooling may not run now; it ends by itself."""

    why: Hold


@dataclass(frozen=True, slots=True)
class Permitting:
    """Cooling may run."""


@dataclass(frozen=True, slots=True)
class Tripped:
    """Cooling may not run until a person resets it; `water_c` is the reading that tripped it."""

    cause: Cause
    water_c: float | None = None


State: TypeAlias = HeldOff | Permitting | Tripped


class Answer(Enum):
    """What became of a reset."""

    ACCEPTED = "accepted"
    NOT_TRIPPED = "not tripped"
    NO_GOOD_READING = "no good reading"
    NOT_RECOVERED = "not recovered"


@dataclass(frozen=True, slots=True)
class Limits:
    """Read once at start; changing one needs a restart, on purpose.

    Attributes:
        limit_c: at or below this the water is too cold.
        recovery_c: how far above the limit the water must come back (a difference).
        trip_after_s: how long it must be too cold.
        probe_timeout_s: how long the probe may be silent.
        good_for_s: how long the probe must be good, and the water warm, before cooling may run.
        rest_s: how long the relay stays off after a drop and after a start.
        releases_per_day: how many losses of the probe in 24 h are forgiven without a person.
        frozen_after_s: one value repeated for this long is not a reading.
    """

    limit_c: float
    recovery_c: float
    trip_after_s: float
    probe_timeout_s: float
    good_for_s: float
    rest_s: float
    releases_per_day: int
    frozen_after_s: float

    @property
    def recovered_c(self) -> float:
        """The temperature the water must reach before cooling may run."""
        return self.limit_c + self.recovery_c


class Streak(NamedTuple):
    """Good readings that all say the same, from the first to the latest."""

    since_s: float
    until_s: float

    @property
    def lasted_s(self) -> float:
        """The time between the first and the latest."""
        return self.until_s - self.since_s


class Evidence(NamedTuple):
    """What the readings so far argue for.

    Attributes:
        last_good_s: when the last good reading came (at first: the start).
        water_c: that reading.
        cold: readings at or below the limit; only a good reading above it breaks this.
        warm: readings at or above recovery; anything else, and silence, breaks this.
        repeated_c: the value the probe keeps giving.
        repeated_since_s: since when.
    """

    last_good_s: float
    water_c: float | None = None
    cold: Streak | None = None
    warm: Streak | None = None
    repeated_c: float | None = None
    repeated_since_s: float = 0.0

    def silent(self, now_s: float, limits: Limits) -> bool:
        """Whether the probe has been without a good reading for too long."""
        return now_s - self.last_good_s >= limits.probe_timeout_s

    def frozen(self, now_s: float, limits: Limits) -> bool:
        """Whether the probe has repeated one value for too long."""
        return self.repeated_c is not None and now_s - self.repeated_since_s >= limits.frozen_after_s


class Cutoff(NamedTuple):
    """Where it stands, and the evidence for leaving.

    Attributes:
        state: held off, permitting or tripped.
        since_s: when it came into that state.
        seen_s: the latest time it was told.
        off_since_s: when the relay last dropped, or the start.
        evidence: what the readings argue for.
        losses_s: when the probe was lost while permitting, over the last 24 h.
    """

    state: State
    since_s: float
    seen_s: float
    off_since_s: float
    evidence: Evidence
    losses_s: tuple[float, ...] = ()

    @property
    def permits_cooling(self) -> bool:
        """True in PERMITTING only; the relay follows this and nothing else."""
        return isinstance(self.state, Permitting)


def at_start(latched: Tripped | None, *, losses_s: tuple[float, ...] = (), now_s: float) -> Cutoff:
    """Begin with cooling off: tripped as the latch says, or held off.

    The relay counts as just dropped.  A loss from the future counts as of now.
    """
    return Cutoff(
        state=latched if latched is not None else HeldOff(Hold.STARTING),
        since_s=now_s,
        seen_s=now_s,
        off_since_s=now_s,
        evidence=Evidence(last_good_s=now_s),
        losses_s=tuple(min(loss_s, now_s) for loss_s in losses_s),
    )


def step(
    cutoff: Cutoff, *, sample: Sample | None, reset_requested: bool, now_s: float, limits: Limits
) -> tuple[Cutoff, Answer | None]:
    """Take one sample (or none: nothing new came) and perhaps a person's reset into account."""
    if not cutoff.seen_s <= now_s < math.inf:
        answer = Answer.NO_GOOD_READING if reset_requested else None
        return _begin_again(cutoff, now_s), answer

    lost = cutoff.evidence.silent(now_s, limits)
    evidence = weigh(cutoff.evidence, sample, now_s, limits)
    too_cold = evidence.cold is not None and evidence.cold.lasted_s >= limits.trip_after_s
    losses_s = _of_last_day(cutoff.losses_s, now_s) if cutoff.losses_s else ()
    cutoff = Cutoff(cutoff.state, cutoff.since_s, now_s, cutoff.off_since_s, evidence, losses_s)

    match cutoff.state:
        case Tripped():
            if reset_requested:
                return _reset(cutoff, now_s, limits)
            return cutoff, None
        case HeldOff() | Permitting() if too_cold:
            cutoff = _enter(cutoff, Tripped(Cause.TOO_COLD, evidence.water_c), now_s)
        case Permitting() if lost:
            cutoff = lose_probe(cutoff, now_s, limits)
        case HeldOff() if _proven(evidence, now_s, limits) and now_s - cutoff.off_since_s >= limits.rest_s:
            cutoff = _enter(cutoff, Permitting(), now_s)
    return cutoff, Answer.NOT_TRIPPED if reset_requested else None


def lose_probe(cutoff: Cutoff, now_s: float, limits: Limits) -> Cutoff:
    """Drop because nothing more can be read; trip if that happened too often."""
    if not cutoff.permits_cooling:
        return cutoff
    losses_s = (*_of_last_day(cutoff.losses_s, now_s), now_s)
    too_many = len(losses_s) > limits.releases_per_day
    state = Tripped(Cause.TOO_MANY_RELEASES) if too_many else HeldOff(Hold.PROBE_LOST)
    return _enter(cutoff, state, now_s)._replace(losses_s=losses_s)


def open_for_test(cutoff: Cutoff, now_s: float) -> Cutoff:
    """Drop because a person wants to see the chiller stop; the water must then prove warm anew.

    Changes nothing unless cooling may run: the contact is open already, and a trip must stay one.
    """
    if not cutoff.permits_cooling:
        return cutoff
    opened = _enter(cutoff, HeldOff(Hold.PROOF_TEST), now_s)
    return opened._replace(evidence=opened.evidence._replace(warm=None))


def weigh(evidence: Evidence, sample: Sample | None, now_s: float, limits: Limits) -> Evidence:
    """Add one sample to the evidence."""
    if evidence.silent(now_s, limits):
        evidence = evidence._replace(warm=None)
    if sample is None:
        return evidence
    if isinstance(sample, Failed) or not math.isfinite(sample.water_c):
        return evidence._replace(warm=None)

    water_c = sample.water_c
    if water_c != evidence.repeated_c:
        evidence = evidence._replace(repeated_c=water_c, repeated_since_s=now_s)
    if evidence.frozen(now_s, limits):
        return evidence._replace(warm=None)
    return Evidence(
        last_good_s=now_s,
        water_c=water_c,
        cold=_extended(evidence.cold, now_s) if water_c <= limits.limit_c else None,
        warm=_extended(evidence.warm, now_s) if water_c >= limits.recovered_c else None,
        repeated_c=evidence.repeated_c,
        repeated_since_s=evidence.repeated_since_s,
    )


def _extended(streak: Streak | None, now_s: float) -> Streak:
    return Streak(now_s if streak is None else streak.since_s, now_s)


def _proven(evidence: Evidence, now_s: float, limits: Limits) -> bool:
    """Whether the water has been warm for long enough, by a reading of this very moment."""
    warm = evidence.warm
    return warm is not None and warm.until_s == now_s and warm.lasted_s >= limits.good_for_s


def _reset(cutoff: Cutoff, now_s: float, limits: Limits) -> tuple[Cutoff, Answer]:
    """Let a person's reset through only over recovered water; the proof then begins anew."""
    evidence = cutoff.evidence
    if evidence.warm is None:
        reading_c = None if evidence.silent(now_s, limits) else evidence.water_c
        colder = reading_c is not None and reading_c < limits.recovered_c
        return cutoff, Answer.NOT_RECOVERED if colder else Answer.NO_GOOD_READING
    released = _enter(cutoff, HeldOff(Hold.RESET), now_s)
    return released._replace(evidence=evidence._replace(warm=None), losses_s=()), Answer.ACCEPTED


def _begin_again(cutoff: Cutoff, now_s: float) -> Cutoff:
    """Trust no time seen so far; a trip stays."""
    begun_s = now_s if math.isfinite(now_s) else cutoff.seen_s
    latched = cutoff.state if isinstance(cutoff.state, Tripped) else None
    begun = at_start(latched, losses_s=cutoff.losses_s, now_s=begun_s)
    return begun if latched else begun._replace(state=HeldOff(Hold.CLOCK))


def _enter(cutoff: Cutoff, state: State, now_s: float) -> Cutoff:
    off_since_s = now_s if cutoff.permits_cooling else cutoff.off_since_s
    return cutoff._replace(state=state, since_s=now_s, off_since_s=off_since_s)


def _of_last_day(losses_s: tuple[float, ...], now_s: float) -> tuple[float, ...]:
    return tuple(loss_s for loss_s in losses_s if now_s - loss_s < DAY_S)
