"""Promise 2: a probe that reads high cannot over-cool the tank, one that reads low cannot cook it."""

from dataclasses import replace

import pytest
from builders import Life, bench_settings
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.settings.model import WaterProbe
from reefguard.vocabulary import Reason, Sampled

SETTINGS = bench_settings(trust=replace(bench_settings().trust, fastest_c_per_min=1e6))
CHILLER, FANS = SETTINGS.chiller, SETTINGS.fans


def lived(display_c: float, sump_c: float, seconds: float = 700.0) -> Life:
    life = Life(SETTINGS)
    while life.now_s < seconds:
        at_s = life.now_s + 5.0
        life.tick({"display": Sampled(display_c, at_s), "sump": Sampled(sump_c, at_s)})
    return life


@pytest.mark.parametrize("high_c", [27.2, 30.0, 45.0])
@pytest.mark.parametrize("swapped", [False, True])
def test_a_probe_that_reads_high_starts_no_chiller(high_c: float, swapped: bool) -> None:
    pair = (high_c, 27.1)
    life = lived(*(pair[::-1] if swapped else pair))
    assert not life.command("chiller").on
    assert life.command("chiller").why.reason is Reason.NOT_WARM


@pytest.mark.parametrize("low_c", [26.5, 20.0, 2.0])
@pytest.mark.parametrize("swapped", [False, True])
def test_a_probe_that_reads_low_stops_no_fan(low_c: float, swapped: bool) -> None:
    pair = (low_c, 26.6)
    life = lived(*(pair[::-1] if swapped else pair))
    assert life.command("fan1").on
    assert life.command("fan2").on


def test_a_probe_that_sinks_takes_a_running_chiller_with_it() -> None:
    life = lived(27.5, 27.5)
    assert life.command("chiller").on
    at_s = life.now_s + 5.0
    life.tick({"display": Sampled(27.5, at_s), "sump": Sampled(25.9, at_s)})
    assert not life.command("chiller").on
    assert life.command("fan1").on


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(15.0, 35.0), st.floats(15.0, 35.0)), min_size=1, max_size=40))
def test_for_any_two_readings_each_danger_has_its_probe(pairs: list[tuple[float, float]]) -> None:
    life = lived(27.5, 27.5)
    ran = life.command("chiller").on
    for display_c, sump_c in pairs:
        at_s = life.now_s + 5.0
        life.tick({"display": Sampled(display_c, at_s), "sump": Sampled(sump_c, at_s)})
        on = life.command("chiller").on
        coldest_c, warmest_c = min(display_c, sump_c), max(display_c, sump_c)
        if on:
            assert coldest_c > 25.9
        if on and not ran:
            assert coldest_c > 26.6
        if warmest_c >= 26.6:
            assert life.command("fan1").on
        if warmest_c <= 26.2:
            assert not life.command("fan1").on
        ran = on


def test_of_three_the_one_that_stands_alone_decides_nothing() -> None:
    three = replace(SETTINGS, water_probes=(*SETTINGS.water_probes, WaterProbe("rear", "28-000000000104")))
    life = Life(three)
    while life.now_s < 700.0:
        at_s = life.now_s + 5.0
        life.tick({"display": Sampled(27.5, at_s), "sump": Sampled(27.6, at_s), "rear": Sampled(20.0, at_s)})
    assert life.command("chiller").on
    assert life.decision.estimate is not None
    assert life.decision.estimate.coldest_probe == "display"
