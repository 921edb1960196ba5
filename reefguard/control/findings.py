"""What a person should know about this tick: what, how soon, and how to mend it.

Findings are the state of one moment, without delays.  They say what is, so
that `reefguard status` can; whom to wake, and when, is the alarms' decision.
"""

from collections.abc import Iterator
from functools import lru_cache

from reefguard.control.chiller import is_current, is_proof_test
from reefguard.control.compressor import MOST_STARTS_AN_HOUR, starts_too_often
from reefguard.control.counters import Counter
from reefguard.control.photoperiod import Told
from reefguard.control.proof_tests import proof_findings
from reefguard.control.step import Decision, Memory
from reefguard.control.words import span, temperature
from reefguard.settings.model import FAR_OUTSIDE_C, Chiller, FanStage, Settings
from reefguard.vocabulary import Cause, Command, Distrusted, Finding, Inputs, Mode, Quality, Reason, Severity


def find(memory: Memory, decision: Decision, inputs: Inputs, settings: Settings) -> tuple[Finding, ...]:
    """Return the findings of this tick, in the order a person should look at them."""
    # Called every tick, and most ticks find nothing: each part is asked only where something may be wrong.
    found: list[Finding] = []
    water, band = decision.estimate, settings.safe_band
    if water is None or water.warmest_c > band.high_c or water.coldest_c < band.low_c:
        found.extend(_water(decision, settings))
    for reading in decision.readings:
        if reading.quality is not Quality.PASS:
            found.extend(_probes(decision, inputs.now_s, settings))
            break
    if decision.lights.told is Told.NOBODY:
        found.append(_time_unknown(settings))
    if settings.fans is not None:
        found.extend(_fans(memory, decision, inputs.now_s, settings.fans))
    if settings.chiller is not None:
        found.extend(_chiller(memory, decision, inputs, settings.chiller))
    return tuple(found)


def _water(decision: Decision, settings: Settings) -> Iterator[Finding]:
    band, unit = settings.safe_band, settings.shown_in
    water = decision.estimate
    if water is None:
        yield _no_water(decision, settings)
        return
    if water.warmest_c > band.high_c + FAR_OUTSIDE_C:
        yield Finding(
            Severity.CRITICAL,
            "water far too high",
            f"{water.warmest_probe} reads {temperature(water.warmest_c, unit)}, "
            f"far above the safe band's {temperature(band.high_c, unit)}",
            "lights off, doors and lids open, fans over the water; cool it by hand, slowly",
        )
    if water.warmest_c > band.high_c:
        yield Finding(
            Severity.CRITICAL,
            "water high",
            f"{water.warmest_probe} reads {temperature(water.warmest_c, unit)}, "
            f"above the safe band's {temperature(band.high_c, unit)}",
            "see that fans and chiller run, shade or switch off the lights, open doors and lids",
        )
    if water.coldest_c < band.low_c - FAR_OUTSIDE_C:
        yield Finding(
            Severity.CRITICAL,
            "water far too low",
            f"{water.coldest_probe} reads {temperature(water.coldest_c, unit)}, "
            f"far below the safe band's {temperature(band.low_c, unit)}",
            "unplug the chiller, then see that the heater works",
        )
    if water.coldest_c < band.low_c:
        yield Finding(
            Severity.CRITICAL,
            "water low",
            f"{water.coldest_probe} reads {temperature(water.coldest_c, unit)}, "
            f"below the safe band's {temperature(band.low_c, unit)}",
            "see that the chiller really stands still, and that the heater works",
        )


def _no_water(decision: Decision, settings: Settings) -> Finding:
    if any(isinstance(one, Distrusted) and one.cause is Cause.PROVING for one in decision.readings):
        return Finding(
            Severity.WARNING,
            "water awaited",
            "no probe is trusted yet; until then the chiller stays off",
            "wait: a probe in order is trusted within minutes",
        )
    if decision.mode is Mode.SCHEDULE:
        return Finding(
            Severity.CRITICAL,
            "no water",
            "no trusted water reading: the fans follow the lights, the chiller stays off",
            "look at the probes below, and measure the water by hand until one is back",
        )
    return Finding(
        Severity.WARNING,
        "water awaited",
        "no trusted water reading at the moment: the fans stay as they were, the chiller is off",
        "nothing yet: the schedule takes over "
        f"{span(settings.trust.schedule_after_s)} after the last reading",
    )


def _probes(decision: Decision, now_s: float, settings: Settings) -> Iterator[Finding]:
    # A single missed sample is the wire's everyday life; half the way to stale is worth a word.
    lately_s = settings.trust.stale_after_s / 2.0
    for reading, probe in zip(decision.readings, settings.water_probes, strict=True):
        if isinstance(reading, Distrusted):
            yield Finding(
                Severity.WARNING,
                f"probe {probe.name} not used",
                f"probe {probe.name} ({probe.rom_id}) is not used: {reading.cause.value}",
                _PROBE_MENDS.get(reading.cause, "see whether it hangs in the water and its plug sits firmly"),
            )
        elif reading.quality is Quality.SUSPECT and (
            reading.cause is Cause.DISAGREES or now_s - reading.at_s > lately_s
        ):
            yield Finding(
                Severity.WARNING,
                f"probe {probe.name} suspect",
                f"probe {probe.name} ({probe.rom_id}) is used with caution: {reading.cause.value}",
                _PROBE_MENDS.get(reading.cause, "watch it; if it comes often, look at its cable and plug"),
            )


# How long a chiller may take to follow, its own delays included (common practice).
_STOPS_WITHIN_S = 30.0
_STARTS_WITHIN_S = 600.0

# After a proof test the cutoff holds the chiller for its rest, 5 min as a rule: that wakes nobody.
_TESTED_LATELY_S = 900.0

_PROBE_MENDS = {
    Cause.NOT_YET: "wait for the first reading",
    Cause.PROVING: "wait: it is used once it has stayed in order long enough",
    Cause.ABSENT: "compare its id with the names in the 1-wire directory; look at plug and cable",
    Cause.ZEROS: "look for a short between data line and ground: it blinds every probe on that bus",
    Cause.CRC: "look at cable length, branches and the pull-up resistor",
    Cause.FROZEN: "replace the probe: water always moves a little",
    Cause.ODD_ONE_OUT: "compare it with a thermometer in the same water, then calibrate or replace it",
    Cause.DISAGREES: "compare each with a thermometer in the same water; until then the warmest decides for "
    "the fans and the coldest for the chiller",
    Cause.POWER_ON: "look at its power wire: it restarts in the middle of measuring",
}


def _time_unknown(settings: Settings) -> Finding:
    sensed = " and the lights input does not answer" if settings.lights.sense is not None else ""
    return Finding(
        Severity.WARNING,
        "time unknown",
        f"the clock is not known to be right{sensed}: nobody can tell whether the lights are on",
        "connect the network so that the clock is set, or wire a lights input",
    )


def _fans(memory: Memory, decision: Decision, now_s: float, stage: FanStage) -> Iterator[Finding]:
    # Fans come first among counters and commands.
    for fan, counter, command in zip(stage.fans, memory.counters, decision.commands, strict=False):
        run_s = counter.run_s(now_s)
        if run_s > stage.all_day_s:
            yield _all_day(fan.name, int(run_s // 60.0))
        if _held_by(command, Reason.WOULD_HEAT):
            yield Finding(
                Severity.WARNING,
                f"{fan.name} would heat",
                f"{fan.name} is held off: with this room air a fan would heat the water",
                "dry or cool the air: open doors and windows, ventilate; else only a chiller helps",
            )


@lru_cache(maxsize=16)
def _all_day(fan: str, minutes: int) -> Finding:
    """Return what to say of a fan that ran so long; the same for a whole minute, so it is worded once."""
    return Finding(
        Severity.WARNING,
        f"{fan} all day",
        f"{fan} has run for {span(60.0 * minutes)} without a rest",
        "few fans are made for that: check its rating, add a fan, and see why it must",
    )


def _chiller(memory: Memory, decision: Decision, inputs: Inputs, chiller: Chiller) -> Iterator[Finding]:
    counter, command = memory.counters[-1], decision.commands[-1]
    if counter.run_s(inputs.now_s) > chiller.longest_run_s:
        yield Finding(
            Severity.WARNING,
            "chiller long run",
            f"the chiller has run for {span(counter.run_s(inputs.now_s))} without reaching its cut-out",
            "see whether it heats the air it breathes, whether its filter is clean, whether it is too small",
        )
    if memory.chiller is not None and starts_too_often(memory.chiller.compressor, inputs.now_s):
        yield Finding(
            Severity.WARNING,
            "chiller starts too often",
            f"the chiller has started more than {MOST_STARTS_AN_HOUR} times within an hour",
            "widen its differential; see whether water circulates past the probe, and whether it is too big",
        )
    if inputs.chiller_running is not None and not is_proof_test(inputs.cutoff, inputs.now_s):
        yield from _feedback(command, counter, inputs)
    if _held_by(command, Reason.NO_FLOW):
        yield Finding(
            Severity.CRITICAL,
            "chiller no flow",
            "the chiller is wanted, but no water flow is seen through it",
            "look at its pump, hoses and valves, and at the flow switch",
        )
    if chiller.cutoff_status is None:
        return
    if inputs.proof_tests is not None:
        yield from proof_findings(inputs.proof_tests, inputs.wall, chiller.proof_test_every_days)
    report = inputs.cutoff
    if report is None or not is_current(report, inputs.now_s, chiller.cutoff_silent_after_s):
        yield Finding(
            Severity.CRITICAL,
            "cutoff silent",
            "the over-cool cutoff is silent: the chiller is held off",
            "start its service, or see `reefguard cutoff status`",
        )
    elif report.proof_test_since_s is not None and _lately(report.proof_test_since_s, inputs.now_s):
        yield Finding(
            Severity.WARNING,
            "proof test",
            f"the cutoff's contact is open for a proof test: {report.why}",
            "nothing: the chiller comes back by itself",
        )
    elif not report.permits:
        tripped = report.state == "tripped"
        yield Finding(
            Severity.CRITICAL if tripped else Severity.WARNING,
            "cutoff tripped" if tripped else "cutoff holds",
            f"the over-cool cutoff holds the chiller off: {report.why}",
            "see `reefguard cutoff status`, mend the cause, then `reefguard cutoff reset`"
            if tripped
            else "wait, and see `reefguard cutoff status`",
        )


def _lately(since_s: float, now_s: float) -> bool:
    return 0.0 <= now_s - since_s <= _TESTED_LATELY_S


def _feedback(command: Command, counter: Counter, inputs: Inputs) -> Iterator[Finding]:
    """Hold the running feedback against the command, once the chiller has had time to follow."""
    since_s = inputs.now_s - counter.since_s
    if inputs.chiller_running and not command.on and since_s > _STOPS_WITHIN_S:
        yield Finding(
            Severity.CRITICAL,
            "chiller runs uncommanded",
            f"the chiller has been commanded off for {span(since_s)}, and its feedback says that it runs",
            "unplug it: a relay is stuck, or it is fed past the relays; have an electrician look",
        )
    if inputs.chiller_running is False and command.on and since_s > _STARTS_WITHIN_S:
        yield Finding(
            Severity.WARNING,
            "chiller does not start",
            f"the chiller has been commanded on for {span(since_s)}, and its feedback says that it stands",
            "look at its own thermostat, its plug and its fuse",
        )


def _held_by(command: Command, reason: Reason) -> bool:
    return command.blocked is not None and command.blocked.reason is reason
