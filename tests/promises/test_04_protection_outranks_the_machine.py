"""Promise 4: no minimum on time ever delays a stop for cold, lost probes, an interlock or a person."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from builders import Life, bench_settings

from reefguard.settings.model import SensedInput
from reefguard.vocabulary import CutoffReport, Reason, Sampled


def just_started() -> Life:
    """Return a life whose compressor started on this very tick, with an hour of minimum on time."""
    settings = bench_settings(trust=replace(bench_settings().trust, fastest_c_per_min=60.0))
    assert settings.chiller is not None
    chiller = replace(settings.chiller, minimum_on_s=3_600.0, flow_input=SensedInput(6))
    life = Life(replace(settings, chiller=chiller))
    while not (life.now_s and life.command("chiller").on):
        life.tick(27.5, flow=True)
    return life


def test_an_ordinary_stop_waits_here() -> None:
    life = just_started()
    life.last(3_595.0, 26.5, flow=True)
    assert life.command("chiller").on
    assert life.command("chiller").why.reason is Reason.MINIMUM_ON
    life.tick(26.5, flow=True)
    assert not life.command("chiller").on


def cold(life: Life) -> dict[str, Any]:
    return {"water": 25.9}


def one_probe_cold(life: Life) -> dict[str, Any]:
    at_s = life.now_s + 5.0
    return {"water": {"display": Sampled(27.5, at_s), "sump": Sampled(25.9, at_s)}}


def flow_lost(life: Life) -> dict[str, Any]:
    return {"water": 27.5, "flow": False}


def flow_unknown(life: Life) -> dict[str, Any]:
    return {"water": 27.5, "flow": None}


def cutoff_holds(life: Life) -> dict[str, Any]:
    report = CutoffReport("tripped", permits=False, why="test", at_s=life.now_s + 5.0)
    return {"water": 27.5, "cutoff": report}


def cutoff_silent(life: Life) -> dict[str, Any]:
    return {"water": 27.5, "cutoff": None}


def taken_out(life: Life) -> dict[str, Any]:
    assert life.settings.chiller is not None
    life.settings = replace(life.settings, chiller=replace(life.settings.chiller, out_of_service=True))
    return {"water": 27.5}


def probes_lost(life: Life) -> dict[str, Any]:
    return {"water": {}, "after_s": 60.1}


@pytest.mark.parametrize(
    "happens",
    [cold, one_probe_cold, flow_lost, flow_unknown, cutoff_holds, cutoff_silent, taken_out, probes_lost],
)
def test_each_protection_stops_it_on_the_next_tick(happens: Callable[[Life], dict[str, Any]]) -> None:
    life = just_started()
    what = {"flow": True, **happens(life)}
    life.tick(**what)
    assert not life.command("chiller").on


def test_a_new_probe_that_reads_cold_stops_it_before_it_has_proved_itself() -> None:
    life = Life()
    while not (life.now_s and life.command("chiller").on):
        at_s = life.now_s + 5.0
        life.tick({"display": Sampled(27.5, at_s)})
    at_s = life.now_s + 5.0
    life.tick({"display": Sampled(27.5, at_s), "sump": Sampled(26.5, at_s)})
    blocked = life.command("chiller").blocked
    assert blocked is not None
    assert (blocked.reason, blocked.detail) == (Reason.COLD_WATER, "sump")


def test_a_new_probe_that_reads_warm_starts_nothing() -> None:
    life = Life()
    life.last(400.0, 27.0)
    at_s = life.now_s + 5.0
    life.tick({"display": Sampled(27.0, at_s), "sump": Sampled(33.0, at_s)})
    assert not life.command("chiller").on
