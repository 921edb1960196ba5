"""Findings about temperatures, times and trust."""

from collections.abc import Iterator

from reefguard.settings.model import CutPoints, Settings, Staging
from reefguard.settings.outcome import Accepted
from reefguard.settings.problems import CheckFinding
from reefguard.settings.quantities import DIFFERENCE, DURATION, TEMPERATURE

_LEAST_DIFFERENTIAL_C = 0.2
_SPREAD_IN_SPEC_C = 1.0
_LARGE_OFFSET_C = 0.5
_LONG_BLIND_S = 900.0
_USUAL_REST_S = 300.0


def _stages(settings: Settings) -> Iterator[tuple[str, CutPoints]]:
    if settings.fans is not None:
        yield "fans", settings.fans.cut
    if settings.chiller is not None:
        yield "chiller", settings.chiller.cut


def differential_too_small(accepted: Accepted) -> Iterator[CheckFinding]:
    """The probe must be able to tell start from stop."""
    for stage, cut in _stages(accepted.settings):
        # Rounded, so that 26.6 - 26.4 counts as the 0.2 it was written as.
        if round(cut.differential_c, 6) < _LEAST_DIFFERENTIAL_C:
            yield accepted.finding(
                accepted.start_key(stage),
                f"only {DIFFERENCE.show(cut.differential_c)} between start and stop",
                "the probe's step is 0.0625 °C (DS18B20 data sheet 19-7487), and it flickers by one or two",
                f"leave {DIFFERENCE.show(_LEAST_DIFFERENTIAL_C)} or more",
            )


def disagreement_too_strict(accepted: Accepted) -> Iterator[CheckFinding]:
    """Two sound probes may differ."""
    trust = accepted.settings.trust
    if trust.disagreement_c < _SPREAD_IN_SPEC_C:
        yield accepted.finding(
            "trust.disagreement",
            f"two probes {DIFFERENCE.show(trust.disagreement_c)} apart count as disagreeing",
            "each may be off by 0.5 °C within its data sheet (19-7487), so two sound ones may differ by 1 °C",
            "write 1 °C, unless both are calibrated",
        )


def chiller_before_fans(accepted: Accepted) -> Iterator[CheckFinding]:
    """The cheap and harmless stage goes first and stops last."""
    fans, chiller = accepted.settings.fans, accepted.settings.chiller
    if fans is None or chiller is None:
        return
    if chiller.cut.cut_in_c < fans.cut.cut_in_c:
        yield accepted.finding(
            accepted.start_key("chiller"),
            f"the chiller starts at {TEMPERATURE.show(chiller.cut.cut_in_c)}, "
            f"before the fans ({TEMPERATURE.show(fans.cut.cut_in_c)})",
            "the stage that is cheap and can hardly over-cool should go first (common practice)",
            "let the chiller start warmer than the fans",
        )
    if chiller.cut.cut_out_c < fans.cut.cut_out_c:
        yield accepted.finding(
            accepted.stop_key("chiller"),
            f"the chiller runs on down to {TEMPERATURE.show(chiller.cut.cut_out_c)}, "
            f"after the fans have stopped ({TEMPERATURE.show(fans.cut.cut_out_c)})",
            "the stage that can over-cool should stop first (common practice)",
            "let the chiller stop at or above where the fans stop",
        )


def alarm_before_cooling(accepted: Accepted) -> Iterator[CheckFinding]:
    """Cooling starts before the water leaves the safe band."""
    settings = accepted.settings
    high_c = settings.safe_band.high_c
    for stage, cut in _stages(settings):
        if cut.cut_in_c >= high_c:
            yield accepted.finding(
                accepted.start_key(stage),
                f"starts at {TEMPERATURE.show(cut.cut_in_c)}; the alarm is at {TEMPERATURE.show(high_c)}",
                "the water has left the safe band before this stage does anything",
                "let it start some tenths of a degree below `safe_band.high`",
            )
    fans = settings.fans
    if fans is None or fans.staging is not Staging.LEAD_LAG or fans.cut.cut_in_c >= high_c:
        return
    last_c = round(fans.cut.cut_in_c + fans.lag_step_c * (len(fans.fans) - 1), 6)
    if last_c >= high_c:
        yield accepted.finding(
            "fans.lag_step",
            f"the last fan starts at {TEMPERATURE.show(last_c)}; the alarm is at {TEMPERATURE.show(high_c)}",
            "the water has left the safe band before all fans run",
            "write a smaller step, or let the fans start cooler",
        )


def large_offset(accepted: Accepted) -> Iterator[CheckFinding]:
    """A probe that needs a large offset is outside its data sheet."""
    for probe in accepted.settings.water_probes:
        if abs(probe.offset_c) > _LARGE_OFFSET_C:
            yield accepted.finding(
                f"water_probes.{probe.name}.offset",
                f"{DIFFERENCE.show(probe.offset_c)}, which is more than the probe may be off",
                "a sound DS18B20 is within 0.5 °C (data sheet 19-7487): this one is not, or the reference",
                "compare again beside a second thermometer; if it holds, replace the probe",
            )


def heater_fights(accepted: Accepted) -> Iterator[CheckFinding]:
    """The heater is off before cooling has done its work."""
    off_c = accepted.settings.heater_off_above_c
    if off_c is None:
        return
    for stage, cut in _stages(accepted.settings):
        if off_c >= cut.cut_out_c:
            yield accepted.finding(
                "heater.off_above",
                f"the heater heats up to {TEMPERATURE.show(off_c)}, "
                f"and `{stage}` cools down to {TEMPERATURE.show(cut.cut_out_c)}",
                "they would work against each other: heat, power and wear for nothing",
                "set the heater's thermostat a degree below where cooling stops",
            )


def one_probe_only(accepted: Accepted) -> Iterator[CheckFinding]:
    """One probe has nothing to be held against."""
    if len(accepted.settings.water_probes) == 1:
        yield accepted.finding(
            "water_probes",
            "only one probe in the water",
            "one that reads wrong, and plausibly, is found out only beside a second",
            "add a second probe where the water moves, best in another part of the tank",
        )


def clock_vouched_for(accepted: Accepted) -> Iterator[CheckFinding]:
    """Only a battery keeps a clock right through a power cut."""
    if accepted.settings.clock_always_right:
        yield accepted.finding(
            "clock",
            "the clock is taken to be right from the start",
            "without a battery a Raspberry Pi's clock goes on after a power cut from where it last stood",
            "keep this only with a battery-backed clock that you have seen survive a power cut",
        )


def blind_for_long(accepted: Accepted) -> Iterator[CheckFinding]:
    """Schedule mode comes before the tank is warm."""
    schedule_s = accepted.settings.trust.schedule_after_s
    if schedule_s > _LONG_BLIND_S:
        yield accepted.finding(
            "trust.schedule_after",
            f"without a trusted reading, nothing cools by the lights for {DURATION.show(schedule_s)}",
            "lamps can warm a small tank by some tenths of a degree in that time (common practice)",
            f"write {DURATION.show(_LONG_BLIND_S)} or less",
        )


def cutoff_out_of_sight(accepted: Accepted) -> Iterator[CheckFinding]:
    """The guard should see the cutoff."""
    chiller = accepted.settings.chiller
    if chiller is not None and chiller.cutoff_status is None:
        yield accepted.finding(
            "chiller.cutoff",
            "the cutoff is elsewhere, and the guard cannot see it",
            "it cannot say that the cutoff has tripped, or died, nor stop the chiller for that",
            "look at the cutoff itself, and test it, as often as its own settings say",
        )


def compressor_hard_used(accepted: Accepted) -> Iterator[CheckFinding]:
    """A compressor has more rest than it cannot do without."""
    chiller = accepted.settings.chiller
    if chiller is None:
        return
    if chiller.minimum_off_s < _USUAL_REST_S:
        yield accepted.finding(
            "chiller.minimum_off",
            f"a rest of only {DURATION.show(chiller.minimum_off_s)}",
            "compressor makers name 3 min at least (Danfoss FRCC.PC.007: 180 s); 5 min is common practice",
            "keep this only if the chiller's manual gives it",
        )
    if chiller.start_to_start_s == 0.0:
        yield accepted.finding(
            "chiller.start_to_start",
            "no limit on starts an hour",
            "each start heats the motor; Danfoss FRCC.PC.007 allows its compressors 12 an hour at most",
            "write 10 min, unless the chiller's manual allows more",
        )


WEIGHED = (
    differential_too_small,
    disagreement_too_strict,
    chiller_before_fans,
    alarm_before_cooling,
    large_offset,
    heater_fights,
    one_probe_only,
    clock_vouched_for,
    blind_for_long,
    cutoff_out_of_sight,
    compressor_hard_used,
)
