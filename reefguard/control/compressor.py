"""Stop a compressor from short-cycling.

A compressor restarted before its pressures equalise can stall against the
head and burn its motor.  This stage stands between what is *demanded* and
what the relay is *commanded*, on the boot clock alone.
"""

from dataclasses import dataclass

from reefguard.settings.model import Chiller
from reefguard.vocabulary import Reason, Why


@dataclass(frozen=True, slots=True)
class Compressor:
    """Whether it runs, since when, and when it last started (`None`: not known)."""

    running: bool
    since_s: float
    started_s: float | None = None


def at_power_up(now_s: float) -> Compressor:
    """Assume it stopped this instant.

    After a restart nobody knows when it last ran.  Waiting once more costs
    minutes; a short cycle can cost the compressor.
    """
    return Compressor(running=False, since_s=now_s)


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
            return Compressor(False, now_s, compressor.started_s), None
        if demanded:
            return compressor, None
        runs_until_s = compressor.since_s + limits.minimum_on_s
        if now_s < runs_until_s:
            return compressor, Why(Reason.MINIMUM_ON, until_s=runs_until_s)
        return Compressor(False, now_s, compressor.started_s), None

    if not demanded or protect:
        return compressor, None
    rests_until_s = apart_until_s = compressor.since_s + limits.minimum_off_s
    if compressor.started_s is not None:
        apart_until_s = compressor.started_s + limits.start_to_start_s
    if now_s >= rests_until_s and now_s >= apart_until_s:
        return Compressor(True, now_s, now_s), None
    # Where both hold, the one that ends last says how long it really takes.
    if rests_until_s >= apart_until_s:
        return compressor, Why(Reason.MINIMUM_OFF, until_s=rests_until_s)
    return compressor, Why(Reason.START_TO_START, until_s=apart_until_s)
