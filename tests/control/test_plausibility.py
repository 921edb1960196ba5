"""What a probe must do to be believed, and what it may still do once it is."""

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.control.plausibility import ProbeMemory, judge
from reefguard.settings.model import Trust, WaterProbe
from reefguard.vocabulary import Cause, Distrusted, Missed, Quality, RawSample, Reading, Sampled, Trusted

PROBE = WaterProbe("display", "28-000000000101")
TRUST = Trust()  # stale 60 s, trusted 60 s, frozen 24 h, 1 °C/min
COUNT_C = 0.0625

Wire = tuple[float, float | Cause]


def sample_of(at_s: float, wire: float | Cause) -> RawSample:
    return Missed(wire, at_s) if isinstance(wire, Cause) else Sampled(wire, at_s)


def fed(
    *wires: Wire, memory: ProbeMemory | None = None, probe: WaterProbe = PROBE, trust: Trust = TRUST
) -> tuple[ProbeMemory, Reading]:
    """Judge each sample at the moment it was taken; return what is left after the last."""
    reading: Reading = Distrusted("", None, Quality.MISSING, Cause.NOT_YET)
    memory = ProbeMemory() if memory is None else memory
    for at_s, wire in wires:
        memory, reading = judge(memory, sample_of(at_s, wire), probe, trust, at_s)
    return memory, reading


def steady(begin_s: float, end_s: float, raw_c: float) -> list[Wire]:
    """Return samples every 5 s, trembling by one count."""
    count = round((end_s - begin_s) / 5)
    return [(begin_s + 5 * tick, raw_c + COUNT_C * (tick % 2)) for tick in range(count + 1)]


def proven(raw_c: float = 26.0, at_s: float = 1_000.0) -> ProbeMemory:
    """Return a probe that has just earned trust, with `raw_c` as its last good value."""
    memory, reading = fed(*steady(at_s - 60.0, at_s, raw_c))
    assert reading == Trusted("display", raw_c, at_s, Quality.PASS, Cause.NONE)
    return memory


def silent(memory: ProbeMemory, now_s: float) -> Reading:
    """Return the reading when the wire has given nothing new."""
    return judge(memory, Missed(Cause.NOT_YET, -math.inf), PROBE, TRUST, now_s)[1]


def test_a_probe_never_read_is_missing() -> None:
    assert silent(ProbeMemory(), 5.0) == Distrusted("display", None, Quality.MISSING, Cause.NOT_YET)


def test_trust_is_earned_at_the_exact_second_and_not_a_sample_before() -> None:
    memory, reading = fed(*steady(0.0, 55.0, 26.0))
    assert reading == Distrusted("display", 26.0 + COUNT_C, Quality.NOT_EVALUATED, Cause.PROVING)
    assert fed((59.9, 26.0), memory=memory)[1].cause is Cause.PROVING
    assert fed((60.0, 26.0), memory=memory)[1] == Trusted("display", 26.0, 60.0, Quality.PASS, Cause.NONE)


@pytest.mark.parametrize("wire", [Cause.CRC, Cause.EMPTY, 85.0, 127.9375, 60.0, math.nan, 29.0])
def test_anything_out_of_order_begins_the_proof_again(wire: float | Cause) -> None:
    memory, _ = fed(*steady(0.0, 50.0, 26.0), (55.0, wire))
    memory, reading = fed(*steady(60.0, 115.0, 26.0), memory=memory)
    assert isinstance(reading, Distrusted)
    assert isinstance(fed((120.0, 26.0), memory=memory)[1], Trusted)


def test_an_inconsistent_number_may_begin_a_proof_of_its_own() -> None:
    memory, reading = fed(*steady(0.0, 50.0, 26.0), *steady(55.0, 110.0, 29.0))
    assert reading.cause is Cause.PROVING
    assert fed((115.0, 29.0), memory=memory)[1] == Trusted("display", 29.0, 115.0, Quality.PASS, Cause.NONE)


def test_one_sample_looked_at_for_long_proves_nothing() -> None:
    memory = ProbeMemory()
    for now_s in range(5, 500, 5):
        memory, reading = judge(memory, Sampled(26.0, 5.0), PROBE, TRUST, float(now_s))
        assert reading.cause is Cause.PROVING


def test_a_sample_older_than_the_last_teaches_nothing() -> None:
    memory = proven(at_s=1_000.0)
    assert judge(memory, Sampled(30.0, 999.9), PROBE, TRUST, 1_001.0)[0] == memory
    assert judge(memory, Sampled(30.0, 1_000.0), PROBE, TRUST, 1_001.0)[0] == memory


@pytest.mark.parametrize(
    ("now_s", "kept"), [(1_000.0, True), (1_059.9, True), (1_060.0, True), (1_060.1, False)]
)
def test_the_last_good_value_is_kept_until_it_is_stale_and_no_longer(now_s: float, kept: bool) -> None:
    reading = silent(proven(26.0, 1_000.0), now_s)
    assert isinstance(reading, Trusted) is kept
    assert reading.cause is (Cause.NONE if kept else Cause.STALE)
    assert reading.quality is (Quality.PASS if kept else Quality.MISSING)


def test_a_trusted_probe_that_misses_keeps_its_value_and_says_what_is_wrong() -> None:
    _, reading = fed((1_005.0, Cause.CRC), memory=proven(26.0, 1_000.0))
    assert reading == Trusted("display", 26.0, 1_000.0, Quality.SUSPECT, Cause.CRC)


def test_one_good_sample_mends_a_trusted_probe() -> None:
    _, reading = fed((1_005.0, 85.0), (1_010.0, 26.0), memory=proven(26.0, 1_000.0))
    assert reading == Trusted("display", 26.0, 1_010.0, Quality.PASS, Cause.NONE)


def test_trust_once_lost_is_earned_anew_in_full() -> None:
    memory, reading = fed(*[(1_000.0 + s, Cause.EMPTY) for s in range(5, 70, 5)], memory=proven())
    assert reading == Distrusted("display", None, Quality.MISSING, Cause.EMPTY)
    memory, reading = fed(*steady(1_070.0, 1_125.0, 26.0), memory=memory)
    assert reading.cause is Cause.PROVING
    assert isinstance(fed((1_130.0, 26.0), memory=memory)[1], Trusted)


@pytest.mark.parametrize(
    ("raw_c", "cause"),
    [
        (85.0, Cause.POWER_ON),
        (127.9375, Cause.UNCONVERTED),
        (84.9375, Cause.OUT_OF_RANGE),
        (127.875, Cause.OUT_OF_RANGE),
        (50.0, Cause.OUT_OF_RANGE),
        (49.9375, Cause.PROVING),
        (0.0625, Cause.PROVING),
        (0.0, Cause.OUT_OF_RANGE),
        (-0.5, Cause.OUT_OF_RANGE),
        (-55.0, Cause.OUT_OF_RANGE),
        (math.nan, Cause.OUT_OF_RANGE),
        (math.inf, Cause.OUT_OF_RANGE),
        (-math.inf, Cause.OUT_OF_RANGE),
    ],
)
def test_a_number_that_is_no_water_is_told_by_its_value(raw_c: float, cause: Cause) -> None:
    _, reading = fed((5.0, raw_c))
    assert reading.cause is cause


def test_every_check_is_made_on_the_raw_value_and_the_offset_comes_after() -> None:
    calibrated = replace(PROBE, offset_c=-0.9)
    assert fed((5.0, 85.0), probe=calibrated)[1].cause is Cause.POWER_ON
    assert fed((5.0, 50.5), probe=calibrated)[1].cause is Cause.OUT_OF_RANGE
    assert fed((5.0, 0.5), probe=calibrated)[1] == Distrusted(
        "display", 0.5 - 0.9, Quality.NOT_EVALUATED, Cause.PROVING
    )
    _, reading = fed(*steady(0.0, 60.0, 26.0), probe=calibrated)
    assert reading == Trusted("display", 26.0 - 0.9, 60.0, Quality.PASS, Cause.NONE)


@pytest.mark.parametrize("direction", [1, -1])
@pytest.mark.parametrize(
    ("after_s", "step_c", "believed"),
    [
        (7.5, 0.625, True),  # exactly the tolerance of 0.5 °C and 1 °C/min for 7.5 s
        (7.5, 0.6251, False),
        (60.0, 1.5, True),
        (60.0, 1.5001, False),
    ],
)
def test_water_changes_no_faster_than_the_limit(
    after_s: float, step_c: float, believed: bool, direction: int
) -> None:
    raw_c = 25.0 + direction * step_c
    _, reading = fed((1_000.0 + after_s, raw_c), memory=proven(25.0, 1_000.0))
    if believed:
        assert reading == Trusted("display", raw_c, 1_000.0 + after_s, Quality.PASS, Cause.NONE)
    else:
        assert reading == Trusted("display", 25.0, 1_000.0, Quality.SUSPECT, Cause.TOO_FAST)


def test_a_real_step_is_believed_once_water_could_have_made_it_and_proved_it() -> None:
    # 3 °C: 0.5 °C are free, the other 2.5 °C take 2.5 min, then 1 min of proof.
    memory = proven(26.0, 1_000.0)
    told: dict[float, Reading] = {}
    for at_s, wire in steady(1_005.0, 1_215.0, 29.0 - COUNT_C):
        memory, told[at_s] = fed((at_s, wire), memory=memory)
    assert told[1_060.0] == Trusted("display", 26.0, 1_000.0, Quality.SUSPECT, Cause.TOO_FAST)
    assert isinstance(told[1_065.0], Distrusted)
    assert {told[at_s].cause for at_s in told if at_s < 1_145.0} == {Cause.TOO_FAST}
    assert {told[at_s].cause for at_s in told if 1_150.0 <= at_s < 1_205.0} == {Cause.PROVING}
    assert told[1_215.0] == Trusted("display", 29.0 - COUNT_C, 1_215.0, Quality.PASS, Cause.NONE)


def test_a_glitch_does_not_move_what_the_next_sample_is_held_against() -> None:
    _, reading = fed((1_005.0, 40.0), (1_010.0, 39.9), memory=proven(26.0, 1_000.0))
    assert reading == Trusted("display", 26.0, 1_000.0, Quality.SUSPECT, Cause.TOO_FAST)


def frozen(until_s: float, every_s: float = 30.0) -> tuple[ProbeMemory, Reading]:
    memory, begin_s = proven(26.0, 1_000.0), 1_000.0
    wires = [(begin_s + every_s * tick, 26.0) for tick in range(1, round((until_s - begin_s) / every_s) + 1)]
    return fed(*wires, memory=memory)


def test_one_value_for_too_long_is_frozen_at_the_exact_second() -> None:
    last_s = 1_000.0 + TRUST.frozen_after_s
    memory, reading = frozen(last_s - 30.0)
    assert reading.cause is Cause.NONE
    memory, reading = fed((last_s, 26.0), memory=memory)
    assert reading == Trusted("display", 26.0, last_s - 30.0, Quality.SUSPECT, Cause.FROZEN)
    memory, reading = fed((last_s + 30.0, 26.0), (last_s + 60.0, 26.0), memory=memory)
    assert reading == Distrusted("display", 26.0, Quality.FAIL, Cause.FROZEN)


@pytest.mark.parametrize("wire", [Cause.CRC, 85.0, 127.9375, 60.0, math.nan])
def test_a_sample_without_water_does_not_thaw_a_frozen_probe_and_one_count_does(wire: float | Cause) -> None:
    memory, _ = frozen(1_000.0 + TRUST.frozen_after_s)
    last_s = memory.seen_s
    memory, reading = fed((last_s + 30.0, wire), (last_s + 60.0, 26.0), memory=memory)
    assert reading.cause is Cause.FROZEN
    memory, reading = fed((last_s + 90.0, 26.0 + COUNT_C), memory=memory)
    assert reading.cause is Cause.PROVING
    memory, reading = fed((last_s + 120.0, 26.0 + COUNT_C), memory=memory)
    assert reading.cause is Cause.PROVING


def test_one_count_within_the_time_is_life() -> None:
    memory, _ = frozen(1_000.0 + TRUST.frozen_after_s - 60.0)
    seen_s = memory.seen_s
    _, reading = fed((seen_s + 30.0, 26.0 + COUNT_C), (seen_s + 60.0, 26.0 + COUNT_C), memory=memory)
    assert reading.cause is Cause.NONE


@pytest.mark.parametrize(
    ("cause", "quality"),
    [
        (Cause.ABSENT, Quality.MISSING),
        (Cause.EMPTY, Quality.MISSING),
        (Cause.UNREADABLE, Quality.MISSING),
        (Cause.NO_ANSWER, Quality.MISSING),
        (Cause.NOT_YET, Quality.MISSING),
        (Cause.CRC, Quality.FAIL),
        (Cause.ZEROS, Quality.FAIL),
        (Cause.MALFORMED, Quality.FAIL),
    ],
)
def test_a_missed_sample_has_no_number(cause: Cause, quality: Quality) -> None:
    _, reading = fed((5.0, 26.0), (10.0, cause))
    assert reading == Distrusted("display", None, quality, cause)
    assert not reading.may_warn_of_cold


def test_only_a_number_not_yet_believed_may_warn_of_cold() -> None:
    warning = [cause for cause in Cause if Distrusted("display", 20.0, Quality.FAIL, cause).may_warn_of_cold]
    assert warning == [Cause.TOO_FAST, Cause.PROVING]


# A wire's life: seconds to the next sample, and what it gives.
numbers = st.one_of(
    st.sampled_from([26.0, 26.0625, 26.125, 25.5]),
    st.sampled_from([85.0, 127.9375, math.nan, math.inf, -math.inf, 0.0, 50.0, 40.0, 20.0, 28.0]),
    st.floats(),
)
wires = st.lists(
    st.tuples(st.sampled_from([0.0, 5.0, 7.3, 30.0, 61.0]), numbers | st.sampled_from(Cause)), max_size=60
)


@settings(deadline=None)
@given(wires)
def test_what_is_trusted_was_proven_and_is_fresh_for_any_wire(life: list[Wire]) -> None:
    """Trust without its proof can never happen: it is checked here by looking back over all samples."""
    now_s, memory = 1_000.0, ProbeMemory()
    history: list[Wire] = []
    was_trusted = False
    for wait_s, wire in life:
        now_s += wait_s
        memory, reading = judge(memory, sample_of(now_s, wire), PROBE, TRUST, now_s)
        if wait_s > 0.0 or not history:
            history.append((now_s, wire))
        if isinstance(reading, Trusted):
            assert now_s - reading.at_s <= TRUST.stale_after_s
            assert (reading.at_s, reading.water_c) in history
            assert 0.0 < reading.water_c < 50.0
            assert was_trusted or _proven_by(history)
        was_trusted = isinstance(reading, Trusted)


def _proven_by(history: Sequence[Wire]) -> bool:
    """Return whether the newest samples are in order, consistent, and span the proving time."""
    (last_s, last) = history[-1]
    for at_s, wire in reversed(history):
        if isinstance(wire, Cause) or isinstance(last, Cause) or not 0.0 < wire < 50.0:
            return False
        if abs(wire - last) > 0.5 + (last_s - at_s) / 60.0:
            return False
        if history[-1][0] - at_s >= TRUST.trusted_after_s:
            return True
        last_s, last = at_s, wire
    return False
