"""The chiller's one conjunction, each condition broken alone."""

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest
from builders import NOON

from reefguard.control.chiller import NAME, ChillerMemory, decide
from reefguard.control.compressor import Compressor
from reefguard.settings.model import Chiller, CutPoints, SafeBand, SensedInput, Wiring
from reefguard.vocabulary import (
    Cause,
    Command,
    CutoffReport,
    Distrusted,
    Inputs,
    Mode,
    Quality,
    Reading,
    Reason,
    Trusted,
    Wall,
    WaterEstimate,
    Why,
)

CHILLER = Chiller(
    Wiring(22),
    CutPoints(cut_in_c=27.5, cut_out_c=26.5),
    minimum_off_s=300.0,
    minimum_on_s=120.0,
    start_to_start_s=600.0,
    cutoff_silent_after_s=30.0,
)
BAND = SafeBand(24.0, 28.0)  # lower than a whole differential below the cut-out, 25.5 °C
NOW_S = 10_000.0
RESTED = ChillerMemory(False, Compressor(running=False, since_s=0.0))
RUNNING = ChillerMemory(True, Compressor(running=True, since_s=NOW_S - 10.0, starts_s=(NOW_S - 10.0,)))
PERMITS = CutoffReport("permitting", permits=True, why="warm enough", at_s=NOW_S)


def water(coldest_c: float, warmest_c: float | None = None) -> WaterEstimate:
    return WaterEstimate(coldest_c if warmest_c is None else warmest_c, "display", coldest_c, "sump", NOW_S)


def decided(
    memory: ChillerMemory,
    estimate: WaterEstimate | None,
    *,
    chiller: Chiller = CHILLER,
    band: SafeBand = BAND,
    mode: Mode = Mode.AUTOMATIC,
    readings: Sequence[Reading] = (),
    cutoff: CutoffReport | None = PERMITS,
    flow: bool | None = None,
    now_s: float = NOW_S,
) -> tuple[ChillerMemory, Command]:
    inputs = Inputs(now_s, Wall(NOON, trusted=True), {}, cutoff=cutoff, flow=flow)
    return decide(memory, inputs, readings=readings, estimate=estimate, mode=mode, chiller=chiller, band=band)


def test_warm_water_and_every_condition_start_it() -> None:
    memory, command = decided(RESTED, water(27.5))
    assert memory == ChillerMemory(True, Compressor(True, NOW_S, (NOW_S,)))
    assert command == Command(NAME, 1.0, Why(Reason.WARM, 27.5, 27.5, detail="sump"))


def test_a_hair_below_the_cut_in_does_not() -> None:
    _, command = decided(RESTED, water(27.4999))
    assert command == Command(NAME, 0.0, Why(Reason.NOT_WARM, 27.4999, 27.5, detail="sump"))


def test_the_coldest_decides_however_warm_the_warmest() -> None:
    assert not decided(RESTED, water(27.0, warmest_c=35.0))[1].on
    assert decided(RESTED, water(27.5, warmest_c=35.0))[1].on


def test_it_runs_down_to_the_exact_cut_out() -> None:
    long_running = ChillerMemory(True, Compressor(True, NOW_S - 120.0, (NOW_S - 120.0,)))
    _, command = decided(long_running, water(26.5001))
    assert command == Command(NAME, 1.0, Why(Reason.STILL_COOLING, 26.5001, 26.5, detail="sump"))
    memory, command = decided(long_running, water(26.5))
    assert command == Command(NAME, 0.0, Why(Reason.COOL_ENOUGH, 26.5, 26.5, detail="sump"))
    assert memory == ChillerMemory(False, Compressor(False, NOW_S, (NOW_S - 120.0,)))


def test_an_ordinary_stop_waits_for_the_minimum_on_time_and_says_so() -> None:
    memory, command = decided(RUNNING, water(26.5))
    assert command == Command(NAME, 1.0, Why(Reason.MINIMUM_ON, until_s=NOW_S + 110.0))
    assert not memory.calling


@pytest.mark.parametrize(
    ("band_low_c", "coldest_c", "runs"),
    [
        (24.0, 25.5001, True),  # running on for the machine's sake
        (24.0, 25.5, False),  # a whole differential below the cut-out
        (26.0, 26.0001, True),
        (26.0, 26.0, False),  # the band's lower end, where that is warmer
    ],
)
def test_cold_water_stops_it_within_the_minimum_on_time(
    band_low_c: float, coldest_c: float, runs: bool
) -> None:
    memory, command = decided(RUNNING, water(coldest_c), band=SafeBand(band_low_c, 28.0))
    assert command.on is runs
    assert memory.compressor.running is runs
    assert command.blocked is None  # nothing is wanted that could be held off


UNCERTAIN_WARNINGS = [Cause.TOO_FAST, Cause.PROVING]


def stranger(raw_c: float | None, cause: Cause) -> Distrusted:
    return Distrusted("new", raw_c, Quality.NOT_EVALUATED, cause)


@pytest.mark.parametrize("cause", UNCERTAIN_WARNINGS)
@pytest.mark.parametrize("memory", [RESTED, RUNNING])
def test_a_cold_number_not_yet_believed_holds_it_off(memory: ChillerMemory, cause: Cause) -> None:
    warm = Trusted("sump", 27.6, NOW_S, Quality.PASS, Cause.NONE)
    _, command = decided(memory, water(27.6), readings=[warm, stranger(26.5, cause)])
    assert command == Command(
        NAME,
        0.0,
        Why(Reason.WARM, 27.6, 27.5, detail="sump"),
        Why(Reason.COLD_WATER, 26.5, 26.5, detail="new"),
    )


@pytest.mark.parametrize("cause", UNCERTAIN_WARNINGS)
def test_a_number_above_the_cut_out_not_yet_believed_does_not(cause: Cause) -> None:
    assert decided(RESTED, water(27.6), readings=[stranger(26.5001, cause)])[1].on


@pytest.mark.parametrize("cause", [c for c in Cause if c not in UNCERTAIN_WARNINGS])
def test_a_number_that_is_no_water_does_not_stop_it(cause: Cause) -> None:
    assert decided(RESTED, water(27.6), readings=[stranger(20.0, cause)])[1].on


@pytest.mark.parametrize("cause", UNCERTAIN_WARNINGS)
def test_a_warning_without_a_number_is_none_and_hides_none(cause: Cause) -> None:
    assert decided(RESTED, water(27.6), readings=[stranger(None, cause)])[1].on
    cold = stranger(20.0, cause)
    assert not decided(RESTED, water(27.6), readings=[stranger(None, cause), cold])[1].on


@pytest.mark.parametrize("cause", UNCERTAIN_WARNINGS)
def test_a_warm_number_not_yet_believed_starts_nothing(cause: Cause) -> None:
    assert not decided(RESTED, water(27.0), readings=[stranger(35.0, cause)])[1].on
    assert not decided(RESTED, None, readings=[stranger(35.0, cause)])[1].on


@pytest.mark.parametrize("memory", [RESTED, RUNNING])
@pytest.mark.parametrize(
    ("estimate", "mode"),
    [(None, Mode.AUTOMATIC), (None, Mode.SCHEDULE), (water(30.0), Mode.SCHEDULE)],
)
def test_without_the_water_it_is_off_at_once_and_calls_no_more(
    memory: ChillerMemory, estimate: WaterEstimate | None, mode: Mode
) -> None:
    after, command = decided(memory, estimate, mode=mode)
    assert command == Command(NAME, 0.0, Why(Reason.NO_TRUSTED_WATER))
    assert not after.calling
    assert not after.compressor.running


FLOW_WIRED = replace(CHILLER, flow_input=SensedInput(6))
HELD = CutoffReport("tripped", permits=False, why="the water was too cold", at_s=NOW_S)


@pytest.mark.parametrize("memory", [RESTED, RUNNING])
@pytest.mark.parametrize(
    ("chiller", "cutoff", "flow", "blocked"),
    [
        (replace(CHILLER, out_of_service=True), PERMITS, None, Why(Reason.OUT_OF_SERVICE)),
        (CHILLER, None, None, Why(Reason.CUTOFF_SILENT)),
        (CHILLER, PERMITS._replace(at_s=NOW_S - 30.1), None, Why(Reason.CUTOFF_SILENT)),
        (CHILLER, PERMITS._replace(at_s=NOW_S + 30.1), None, Why(Reason.CUTOFF_SILENT)),
        (CHILLER, PERMITS._replace(at_s=math.nan), None, Why(Reason.CUTOFF_SILENT)),
        (CHILLER, HELD, None, Why(Reason.CUTOFF_HOLDS, detail="the water was too cold")),
        (FLOW_WIRED, PERMITS, False, Why(Reason.NO_FLOW)),
        (FLOW_WIRED, PERMITS, None, Why(Reason.NO_FLOW)),
    ],
)
def test_each_condition_alone_holds_it_off_at_once(
    memory: ChillerMemory, chiller: Chiller, cutoff: CutoffReport | None, flow: bool | None, blocked: Why
) -> None:
    after, command = decided(memory, water(27.6), chiller=chiller, cutoff=cutoff, flow=flow)
    assert command == Command(NAME, 0.0, Why(Reason.WARM, 27.6, 27.5, detail="sump"), blocked)
    assert after.calling
    assert not after.compressor.running


def test_a_report_is_silent_only_beyond_the_exact_time() -> None:
    assert decided(RESTED, water(27.6), cutoff=PERMITS._replace(at_s=NOW_S - 30.0))[1].on
    assert decided(RESTED, water(27.6), cutoff=PERMITS._replace(at_s=NOW_S + 30.0))[1].on


def test_a_cutoff_that_lives_elsewhere_is_not_waited_for() -> None:
    elsewhere = replace(CHILLER, cutoff_status=None)
    assert decided(RESTED, water(27.6), chiller=elsewhere, cutoff=None)[1].on
    assert decided(RESTED, water(27.6), chiller=elsewhere, cutoff=HELD)[1].on


def test_flow_seen_lets_it_run_and_no_switch_wired_asks_for_none() -> None:
    assert decided(RESTED, water(27.6), chiller=FLOW_WIRED, flow=True)[1].on
    assert decided(RESTED, water(27.6), chiller=CHILLER, flow=False)[1].on


def test_cold_water_is_told_before_all_else_that_holds() -> None:
    everything = replace(FLOW_WIRED, out_of_service=True)
    # Still calling at the cold limit: only a differential of nothing makes the two meet.
    narrow = replace(everything, cut=CutPoints(27.5, 27.5))
    _, command = decided(RESTED, water(27.5), chiller=narrow, cutoff=None)
    assert command.blocked == Why(Reason.COLD_WATER, 27.5, 27.5, detail="sump")


def test_a_resting_compressor_is_told_with_its_end() -> None:
    resting = ChillerMemory(False, Compressor(False, since_s=NOW_S - 299.0))
    memory, command = decided(resting, water(27.6))
    assert command.blocked == Why(Reason.MINIMUM_OFF, until_s=NOW_S + 1.0)
    assert not command.on
    assert memory.calling


def test_what_holds_a_wanted_chiller_is_told_before_its_rest() -> None:
    resting = ChillerMemory(False, Compressor(False, since_s=NOW_S - 10.0))
    assert decided(resting, water(27.6), cutoff=HELD)[1].blocked == Why(
        Reason.CUTOFF_HOLDS, detail="the water was too cold"
    )


def test_a_chiller_nobody_wants_is_not_blocked() -> None:
    resting = ChillerMemory(False, Compressor(False, since_s=NOW_S - 10.0))
    assert decided(resting, water(26.8), cutoff=HELD)[1] == Command(
        NAME, 0.0, Why(Reason.NOT_WARM, 26.8, 27.5, detail="sump")
    )
