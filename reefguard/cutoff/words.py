"""The cutoff's decision in sentences for a person.  Pure."""

from reefguard.cutoff.ds18b20 import Failed, Sample
from reefguard.cutoff.limits import Setup
from reefguard.cutoff.quantities import written_span
from reefguard.cutoff.trip import Answer, Cause, Cutoff, HeldOff, Hold, Permitting, Tripped


def temperature(value_c: float, setup: Setup) -> str:
    """Write a temperature in the unit the limits file uses."""
    return f"{value_c * 9 / 5 + 32:.1f} °F" if setup.fahrenheit else f"{value_c:.2f} °C"


def state_name(cutoff: Cutoff) -> str:
    """Return the state's name, as in the status file."""
    match cutoff.state:
        case Permitting():
            return "permitting"
        case HeldOff():
            return "held off"
    return "tripped"


def sentence(cutoff: Cutoff, latest: Sample | None, setup: Setup) -> str:
    """Say how things stand, why, and what comes next.

    Args:
        cutoff: as it stands.
        latest: what the probe said last.
        setup: limits and unit.
    """
    state = cutoff.state
    match state:
        case Permitting():
            return f"cooling may run: {grounds(cutoff, latest, setup)}"
        case HeldOff():
            return f"cooling is held off: {grounds(cutoff, latest, setup)}"
    return f"cooling is held off until a person resets it: {_tripped(state, cutoff, setup)}"


def grounds(cutoff: Cutoff, latest: Sample | None, setup: Setup) -> str:
    """Say why things stand so and what comes next, to be read after the state's name.

    The status holds this: whoever shows it has said already that cooling is held off.  It takes what
    `sentence` takes.
    """
    state = cutoff.state
    match state:
        case Permitting():
            return _water(cutoff, latest, setup)
        case HeldOff(why):
            return f"{_HOLDS[why]}; {_awaited(cutoff, latest, setup)}"
    return f"{_tripped(state, cutoff, setup)}; a person must reset it"


_HOLDS = {
    Hold.STARTING: "the cutoff has just started",
    Hold.PROBE_LOST: "its probe gave no good reading for too long",
    Hold.RESET: "it has been reset",
    Hold.CLOCK: "the clock ran backwards",
    Hold.PROOF_TEST: "its contact is open for a proof test",
}


def _water(cutoff: Cutoff, latest: Sample | None, setup: Setup) -> str:
    """Say what the water is, or why that is not known."""
    evidence = cutoff.evidence
    if isinstance(latest, Failed):
        return f"no good reading ({latest.fault.value})"
    if evidence.frozen(cutoff.seen_s, setup.limits):
        return "no good reading (the probe has repeated one value for too long)"
    if evidence.water_c is None or evidence.silent(cutoff.seen_s, setup.limits):
        return "no good reading (the probe is silent)"
    compared = "at or below" if evidence.cold is not None else "above"
    limit = temperature(setup.limits.limit_c, setup)
    return f"the water is {temperature(evidence.water_c, setup)}, {compared} the limit of {limit}"


def _awaited(cutoff: Cutoff, latest: Sample | None, setup: Setup) -> str:
    """Say what must come before cooling may run."""
    limits, warm = setup.limits, cutoff.evidence.warm
    recovered = temperature(limits.recovered_c, setup)
    if warm is None:
        water = _water(cutoff, latest, setup)
        return f"{water}; it must stay at {recovered} or above for {written_span(limits.good_for_s)}"
    rest_s = limits.rest_s - (cutoff.seen_s - cutoff.off_since_s)
    proof_s = limits.good_for_s - warm.lasted_s
    if rest_s > max(proof_s, 0.0):
        return f"the relay rests for another {written_span(rest_s)}"
    if proof_s > 0.0:
        return f"the water must stay at {recovered} or above for another {written_span(proof_s)}"
    return "it takes one more good reading"


def _tripped(trip: Tripped, cutoff: Cutoff, setup: Setup) -> str:
    limits = setup.limits
    match trip.cause:
        case Cause.TOO_COLD:
            limit = temperature(limits.limit_c, setup)
            was = "was" if trip.water_c is None else f"was {temperature(trip.water_c, setup)},"
            return f"the water {was} at or below the limit of {limit}"
        case Cause.TOO_MANY_RELEASES:
            return f"its probe was lost {len(cutoff.losses_s)} times in 24 h"
    return "its latch file is missing or damaged, so whether it had tripped is not known"


def answer_sentence(answer: Answer, cutoff: Cutoff, latest: Sample | None, setup: Setup) -> str:
    """Say what became of a reset, and what to do."""
    limits = setup.limits
    water = _water(cutoff, latest, setup)
    match answer:
        case Answer.ACCEPTED:
            return (
                "reset: cooling may run once the water has stayed at "
                f"{temperature(limits.recovered_c, setup)} or above for {written_span(limits.good_for_s)} "
                f"and the relay has rested for {written_span(limits.rest_s)}"
            )
        case Answer.NOT_TRIPPED:
            return f"there is no trip to reset: {sentence(cutoff, latest, setup)}"
        case Answer.NO_GOOD_READING:
            return f"not reset: {water}; find out why, then reset again"
    return (
        f"not reset: {water}, and must first reach {temperature(limits.recovered_c, setup)}; "
        "find out what cooled it, let it warm up, then reset again"
    )


def proof_sentence(accepted: bool, cutoff: Cutoff, latest: Sample | None, setup: Setup) -> str:
    """Say what became of the wish for a proof test; `cutoff` is as it stood before."""
    if not accepted:
        return (
            "no proof test: the contact is open already, so nothing would be seen to stop; "
            f"{sentence(cutoff, latest, setup)}"
        )
    limits = setup.limits
    return (
        "proof test: the contact is open; nothing is latched, and cooling may run again by itself once the "
        f"water has stayed at {temperature(limits.recovered_c, setup)} or above for "
        f"{written_span(limits.good_for_s)} and the relay has rested for {written_span(limits.rest_s)}"
    )
