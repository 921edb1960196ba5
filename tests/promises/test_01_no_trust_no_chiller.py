"""Promise 1: without a trustworthy water reading the guard never energises the chiller."""

import math

import pytest
from builders import Life, bench_settings
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.vocabulary import Cause, Missed, RawSample, Reason, Sampled

NO_WATER = [85.0, 127.9375, 0.0, -55.0, 50.0, 125.0, math.nan, math.inf, -math.inf]


def a_running_chiller() -> Life:
    life = Life()
    life.last(400.0, 27.5)
    assert life.command("chiller").on
    return life


def test_not_before_a_probe_has_proved_itself_however_warm_it_reads() -> None:
    life = Life()
    for _ in range(12):
        life.tick(30.0)
        assert not life.command("chiller").on
        assert life.command("chiller").why.reason is Reason.NO_TRUSTED_WATER


@pytest.mark.parametrize("raw_c", NO_WATER)
def test_never_on_a_number_that_is_no_water(raw_c: float) -> None:
    life = Life()
    for _ in range(200):
        life.tick(raw_c)
        assert not life.command("chiller").on


@pytest.mark.parametrize("wire", [*NO_WATER, 40.0, *Cause])
def test_a_running_chiller_stops_once_the_last_good_reading_is_stale(wire: float | Cause) -> None:
    life = a_running_chiller()
    last_good_s = life.now_s
    while life.command("chiller").on:
        at_s = life.now_s + 5.0
        sample = Missed(wire, at_s) if isinstance(wire, Cause) else Sampled(wire, at_s)
        life.tick({"display": sample, "sump": sample})
        assert life.now_s - last_good_s <= 65.0
    assert life.now_s - last_good_s == 65.0
    assert life.command("chiller").why.reason is Reason.NO_TRUSTED_WATER


def test_a_wire_that_gives_nothing_new_is_no_reading() -> None:
    life = a_running_chiller()
    hung = dict(life.last_inputs.samples)
    life.last(60.0, hung)
    assert life.command("chiller").on
    life.tick(hung)
    assert not life.command("chiller").on


wires = st.one_of(
    st.sampled_from(NO_WATER), st.sampled_from(Cause), st.sampled_from([27.5, 30.0, 35.0, 42.0])
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(wires, wires, st.integers(1, 11)), max_size=25))
def test_no_mixture_of_sick_samples_ever_starts_it(
    life_of: list[tuple[float | Cause, float | Cause, int]],
) -> None:
    """A probe that is in order for less than the proving time at a stretch proves nothing, ever."""
    life = Life()
    for display, sump, count in life_of:
        for tick in range(count + 1):
            at_s = life.now_s + 5.0
            samples: dict[str, RawSample] = {}
            for name, wire in (("display", display), ("sump", sump)):
                shown = Cause.CRC if tick == count else wire  # no stretch of order lasts 60 s
                samples[name] = Missed(shown, at_s) if isinstance(shown, Cause) else Sampled(shown, at_s)
            life.tick(samples)
            assert life.decision.estimate is None
            assert not life.command("chiller").on


def test_one_trusted_probe_is_a_trustworthy_reading() -> None:
    life = Life(bench_settings(water_probes=bench_settings().water_probes[:1]))
    life.last(400.0, 27.5)
    assert life.command("chiller").on
