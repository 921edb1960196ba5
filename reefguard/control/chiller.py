"""May the chiller run?  Off, unless every condition holds.

It runs only while
    the water is known and warm
    and nothing reads cold
    and it is in service
    and the cutoff permits it
    and its water flows
    and its compressor has rested.
"""

from collections.abc import Sequence
from typing import NamedTuple

from reefguard.control import wish
from reefguard.control.compressor import Compressor, constrain
from reefguard.control.two_position import calls
from reefguard.settings.model import Chiller, SafeBand
from reefguard.vocabulary import (
    Command,
    CutoffReport,
    Distrusted,
    Inputs,
    Mode,
    Reading,
    Reason,
    WaterEstimate,
    Why,
    Wish,
)

NAME = "chiller"

# How long the guard leaves its own contact closed while the cutoff's is open for a proof test.  Were it
# to open at once, nobody could tell which of the two contacts stopped the chiller.  Shorter than the
# shortest rest that the cutoff's limits allow (180 s), so the guard's contact is open before the
# cutoff's closes again.
PROOF_TEST_S = 120.0


class ChillerMemory(NamedTuple):
    """Whether the water calls for it, and how its compressor stands."""

    calling: bool
    compressor: Compressor


def decide(
    memory: ChillerMemory,
    inputs: Inputs,
    *,
    readings: Sequence[Reading],
    estimate: WaterEstimate | None,
    mode: Mode,
    chiller: Chiller,
    band: SafeBand,
    asked: Wish | None = None,
) -> tuple[ChillerMemory, Command]:
    """Return what the chiller shall do, and why; `asked`: what a person asks of an output."""
    calling, demand = _demand(memory.calling, estimate, mode, chiller)
    wanted = calling
    asked = wish.asked_of(NAME, asked, inputs.now_s)
    if asked is not None:
        wanted, demand = asked.on, wish.why(asked)
    protection = _protection(
        inputs,
        runs=memory.compressor.running,
        readings=readings,
        estimate=estimate,
        mode=mode,
        chiller=chiller,
        band=band,
    )
    compressor, hold = constrain(
        memory.compressor,
        demanded=wanted,
        protect=protection is not None,
        now_s=inputs.now_s,
        limits=chiller,
    )
    if compressor.running:
        # Running on for the machine's sake is the reason then, not the water.
        command = Command(NAME, 1.0, demand if hold is None else hold)
    else:
        blocked = (protection or hold) if wanted else None
        command = Command(NAME, 0.0, demand, blocked)
    return ChillerMemory(calling, compressor), command


def _demand(before: bool, estimate: WaterEstimate | None, mode: Mode, chiller: Chiller) -> tuple[bool, Why]:
    """Return whether the water calls for the chiller.  The coldest probe decides."""
    if estimate is None or mode is Mode.SCHEDULE:
        return False, _NO_WATER
    cut = chiller.cut
    coldest_c = estimate.coldest_c
    calling = calls(coldest_c, cut, before=before)
    if coldest_c >= cut.cut_in_c:
        return calling, Why(Reason.WARM, coldest_c, cut.cut_in_c, detail=estimate.coldest_probe)
    if calling:
        return calling, Why(Reason.STILL_COOLING, coldest_c, cut.cut_out_c, detail=estimate.coldest_probe)
    if coldest_c <= cut.cut_out_c:
        return calling, Why(Reason.COOL_ENOUGH, coldest_c, cut.cut_out_c, detail=estimate.coldest_probe)
    return calling, Why(Reason.NOT_WARM, coldest_c, cut.cut_in_c, detail=estimate.coldest_probe)


_NO_WATER = Why(Reason.NO_TRUSTED_WATER)


def _protection(
    inputs: Inputs,
    *,
    runs: bool,
    readings: Sequence[Reading],
    estimate: WaterEstimate | None,
    mode: Mode,
    chiller: Chiller,
    band: SafeBand,
) -> Why | None:
    """Return the first condition that does not hold, or `None` when all do."""
    if estimate is None or mode is Mode.SCHEDULE:
        return _NO_WATER
    cold = _cold(readings, estimate, chiller, band)
    if cold is not None:
        return cold
    if chiller.out_of_service:
        return Why(Reason.OUT_OF_SERVICE)
    if chiller.cutoff_status is not None:
        held = _cutoff(inputs.cutoff, inputs.now_s, chiller.cutoff_silent_after_s, runs=runs)
        if held is not None:
            return held
    if chiller.flow_input is not None and inputs.flow is not True:
        return Why(Reason.NO_FLOW)
    return None


def _cold(
    readings: Sequence[Reading], estimate: WaterEstimate, chiller: Chiller, band: SafeBand
) -> Why | None:
    """Return why the water counts as cold, if it does.

    Trusted water is cold a whole differential below the cut-out, or at the
    safe band's lower end.  A reading that is not trusted (yet) may not start
    the chiller, but at or below the cut-out it may stop it: believing a cold
    reading too early costs a rest, too late an animal.
    """
    cold_c = max(band.low_c, chiller.cut.cut_out_c - chiller.cut.differential_c)
    if estimate.coldest_c <= cold_c:
        return Why(Reason.COLD_WATER, estimate.coldest_c, cold_c, detail=estimate.coldest_probe)
    cut_out_c = chiller.cut.cut_out_c
    for reading in readings:
        if not isinstance(reading, Distrusted) or not reading.may_warn_of_cold:
            continue
        if reading.raw_c is not None and reading.raw_c <= cut_out_c:
            return Why(Reason.COLD_WATER, reading.raw_c, cut_out_c, detail=reading.probe)
    return None


def is_current(report: CutoffReport, now_s: float, silent_after_s: float) -> bool:
    """Return whether a report is of now: not too old, nor of a time that cannot be (to come, or NaN)."""
    return abs(now_s - report.at_s) <= silent_after_s


def is_proof_test(report: CutoffReport | None, now_s: float) -> bool:
    """Return whether the cutoff's contact is open for a proof test that somebody is watching now."""
    if report is None or report.permits or report.proof_test_since_s is None:
        return False
    return 0.0 <= now_s - report.proof_test_since_s <= PROOF_TEST_S


def _cutoff(report: CutoffReport | None, now_s: float, silent_after_s: float, *, runs: bool) -> Why | None:
    """Return how the cutoff holds the chiller, if it does.  Never heard from is silent.

    A proof test stops no chiller that runs, for the cutoff's own contact shall; it lets none start.
    """
    if report is None or not is_current(report, now_s, silent_after_s):
        return Why(Reason.CUTOFF_SILENT)
    if not report.permits and not (runs and is_proof_test(report, now_s)):
        return Why(Reason.CUTOFF_HOLDS, detail=report.why)
    return None
