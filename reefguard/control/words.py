"""Each reason as a sentence a keeper can read aloud."""

from reefguard.settings.model import Unit
from reefguard.vocabulary import Command, Reason, Why


def temperature(celsius: float, unit: Unit) -> str:
    """Return a temperature with its unit, in hundredths (the probe resolves sixteenths).

    >>> temperature(26.5625, Unit.CELSIUS)
    '26.56 °C'
    >>> temperature(25.0, Unit.FAHRENHEIT)
    '77.00 °F'
    """
    return f"{unit.of(celsius):.2f} {unit.value}"


def span(seconds: float) -> str:
    """Return a length of time in at most two units.

    >>> span(200)
    '3 min 20 s'
    >>> span(7_260)
    '2 h 1 min'
    >>> span(-3)
    '0 s'
    """
    whole = max(0, round(seconds))
    hours, rest = divmod(whole, 3_600)
    minutes, left = divmod(rest, 60)
    if hours:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    if minutes:
        return f"{minutes} min {left} s" if left else f"{minutes} min"
    return f"{left} s"


def because(why: Why, now_s: float, unit: Unit) -> str:
    """Return the reason as a sentence without a full stop."""
    sentence = _SENTENCES[why.reason]
    return sentence.format(
        water="" if why.water_c is None else temperature(why.water_c, unit),
        limit="" if why.limit_c is None else temperature(why.limit_c, unit),
        left="" if why.until_s is None else span(why.until_s - now_s),
        detail=why.detail,
    )


def explain(command: Command, now_s: float, unit: Unit) -> str:
    """Return why an output is as it is: the demand, and what holds it off if something does."""
    if command.blocked is None:
        return because(command.why, now_s, unit)
    return (
        f"wanted ({because(command.why, now_s, unit)}), but held off: {because(command.blocked, now_s, unit)}"
    )


_SENTENCES = {
    Reason.WARM: "{detail} reads {water}, at or above the cut-in of {limit}",
    Reason.STILL_COOLING: "{detail} reads {water}, not yet down to the cut-out of {limit}",
    Reason.COOL_ENOUGH: "{detail} reads {water}, at or below the cut-out of {limit}",
    Reason.NOT_WARM: "{detail} reads {water}, below the cut-in of {limit}",
    Reason.LIGHTS_ON: "no trusted water reading, and the lights are on ({detail})",
    Reason.AFTER_RUN: "no trusted water reading, and the lights went off lately: runs on for another {left}",
    Reason.LIGHTS_OFF: "no trusted water reading, and the lights are off ({detail})",
    Reason.TIME_UNKNOWN_RUN: "no trusted water reading, and nobody knows whether the lights are on: runs",
    Reason.TIME_UNKNOWN_REST: "no trusted water reading, and nobody knows whether the lights are on: rests",
    Reason.AWAITING_READING: "as before, until a trusted water reading comes or the schedule takes over",
    Reason.NO_TRUSTED_WATER: "no trusted water reading, so no chiller",
    Reason.ASKED_ON: "{detail} asks for it to run, for another {left} at most",
    Reason.ASKED_OFF: "{detail} asks for it to rest, for another {left} at most",
    Reason.MINIMUM_OFF: "the compressor rests for another {left} (minimum off time)",
    Reason.START_TO_START: "the compressor may start again in {left} (start-to-start time)",
    Reason.MINIMUM_ON: "cool enough, but the compressor runs on for another {left} (minimum on time)",
    Reason.COLD_WATER: "{detail} reads {water}, at or below {limit}: too cold to chill",
    Reason.CUTOFF_HOLDS: "the over-cool cutoff forbids it: {detail}",
    Reason.CUTOFF_SILENT: "the over-cool cutoff is silent: is its service running?",
    Reason.NO_FLOW: "no water flow is seen through the chiller",
    Reason.OUT_OF_SERVICE: "taken out of service in the settings",
    Reason.WOULD_HEAT: "a fan would heat: water at {water}, and this air cools only above {limit}",
}
