"""Stop a compressor from short-cycling.

A compressor restarted before its pressures equalise can stall against the
head and burn its motor.  This stage stands between what is *demanded* and
what the relay is *commanded*, on the boot clock alone.
"""

from dataclasses import dataclass

from reefguard.settings.model import Chiller
from reefguard.vocabulary import Reason, Why

# Makers of small hermetic compressors commonly allow six starts an hour (common practice); a person is told
# before that.
MOST_STARTS_AN_HOUR = 4


@dataclass(frozen=True, slots=True)
class Compressor:
    """Whether it runs, since when, and when it started lately.

    Attributes:
        running: whether it runs.
        since_s: since when it runs or stands.
        starts_s: its latest starts since the program's own, the newest last; as many as are looked at.
    """

    running: bool
    since_s: float
    starts_s: tuple[float, ...] = ()


def at_power_up(now_s: float) -> Compressor:
    """Assume it stopped this instant.

    After a restart nobody knows when it last ran.  Waiting once more costs
    minutes; a short cycle can cost the compressor.
    """
    return Compressor(running=False, since_s=now_s)


def starts_too_often(compressor: Compressor, now_s: float) -> bool:
    """Return whether it started more often within the last hour than is good for it.

    >>> starts_too_often(Compressor(True, 3_000.0, (0.0, 700.0, 1_500.0, 2_200.0, 3_000.0)), 3_100.0)
    True
    """
    starts_s = compressor.starts_s
    return len(starts_s) > MOST_STARTS_AN_HOUR and now_s - starts_s[-1 - MOST_STARTS_AN_HOUR] < 3_600.0


def constrain(
    compressor: Compressor, *, demanded: bool, protect: bool, now_s: float, limits: Chiller
) -> tuple[Compressor, Why | None]:
    """Return the compressor's next state, and what made it differ from the demand.

    `protect` is any reason to stop at once: cold water, no trusted reading, an
    open interlock, a person.  It outranks the minimum on time: the animals
    come before the machine.  Nothing shortens the rest.
    """
    if compressor.running:
        if protect:
            return Compressor(False, now_s, compressor.starts_s), None
        if demanded:
            return compressor, None
        runs_until_s = compressor.since_s + limits.minimum_on_s
        if now_s < runs_until_s:
            return compressor, Why(Reason.MINIMUM_ON, until_s=runs_until_s)
        return Compressor(False, now_s, compressor.starts_s), None

    if not demanded or protect:
        return compressor, None
    rests_until_s = apart_until_s = compressor.since_s + limits.minimum_off_s
    if compressor.starts_s:
        apart_until_s = compressor.starts_s[-1] + limits.start_to_start_s
    if now_s >= rests_until_s and now_s >= apart_until_s:
        return Compressor(True, now_s, (*compressor.starts_s[-MOST_STARTS_AN_HOUR:], now_s)), None
    # Where both hold, the one that ends last says how long it really takes.
    if rests_until_s >= apart_until_s:
        return compressor, Why(Reason.MINIMUM_OFF, until_s=rests_until_s)
    return compressor, Why(Reason.START_TO_START, until_s=apart_until_s)
