"""Each finding comes with its cause and goes with it."""

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import pytest
from builders import NOON, Life, bench_settings, permitting

from reefguard.control.findings import find
from reefguard.settings.model import Chiller, FanStage, SensedInput, Settings, WaterProbe
from reefguard.vocabulary import (
    Cause,
    CutoffReport,
    Finding,
    Missed,
    RawSample,
    RoomAir,
    Sampled,
    Severity,
    Wall,
)


class Watched(Life):
    """A life that keeps the findings of its last tick."""

    findings: Mapping[str, Finding]

    def tick(self, water: float | Mapping[str, RawSample], after_s: float = 5.0, **changes: Any) -> Any:
        decision = super().tick(water, after_s, **changes)
        found = find(self.memory, decision, self.last_inputs, self.settings)
        self.findings = {finding.name: finding for finding in found}
        assert len(self.findings) == len(found)
        for finding in found:
            assert finding.what.strip()
            assert finding.mend.strip()
            assert "None" not in finding.what
        return decision

    def split(self, display: float | Cause, sump: float | Cause) -> dict[str, RawSample]:
        """Return samples of the tick to come, 5 s from now."""
        at_s = self.now_s + 5.0
        return {
            name: Missed(wire, at_s) if isinstance(wire, Cause) else Sampled(wire, at_s)
            for name, wire in (("display", display), ("sump", sump))
        }

    def last_split(self, seconds: float, display: float | Cause, sump: float | Cause) -> None:
        until_s = self.now_s + seconds
        while self.now_s < until_s:
            self.tick(self.split(display, sump))


def watched(settings: Settings | None = None) -> Watched:
    """Return a life in automatic mode, with the water in order."""
    life = Watched(settings)
    life.last(120.0, 26.0)
    assert life.findings == {}
    return life


def fan_stage(**changes: Any) -> FanStage:
    stage = bench_settings().fans
    assert stage is not None
    return replace(stage, **changes)


def chiller(**changes: Any) -> Chiller:
    one = bench_settings().chiller
    assert one is not None
    return replace(one, **changes)


def severities(life: Watched) -> dict[str, Severity]:
    return {name: finding.severity for name, finding in life.findings.items()}


WARNING, CRITICAL = Severity.WARNING, Severity.CRITICAL


@pytest.mark.parametrize(
    ("name", "begins_c", "ends_c"), [("water high", 27.8125, 27.8), ("water low", 23.9375, 24.0)]
)
def test_water_outside_the_band_to_the_exact_limit(name: str, begins_c: float, ends_c: float) -> None:
    life = watched(bench_settings(trust=replace(bench_settings().trust, fastest_c_per_min=60.0)))
    life.tick(begins_c)
    assert severities(life) == {name: CRITICAL}
    life.tick(ends_c)
    assert life.findings == {}


def test_the_warmest_tells_high_and_the_coldest_tells_low() -> None:
    life = Watched()
    life.last_split(120.0, 28.0, 23.0)
    assert severities(life) == {
        "water high": CRITICAL,
        "water low": CRITICAL,
        "probe display suspect": WARNING,
        "probe sump suspect": WARNING,
    }
    assert "display reads 28.00 °C" in life.findings["water high"].what
    assert "sump reads 23.00 °C" in life.findings["water low"].what


def test_water_is_awaited_at_a_start_until_a_probe_is_trusted() -> None:
    life = Watched()
    life.tick(26.0)
    assert severities(life) == {
        "water awaited": WARNING,
        "probe display not used": WARNING,
        "probe sump not used": WARNING,
    }
    life.last(60.0, 26.0)
    assert life.findings == {}


def test_lost_water_is_awaited_first_and_missed_when_the_schedule_takes_over() -> None:
    life = watched()
    lost_s = life.now_s
    while life.now_s < lost_s + 60.0:
        life.tick(life.split(Cause.EMPTY, Cause.EMPTY))
        assert "water awaited" not in life.findings
    life.tick(life.split(Cause.EMPTY, Cause.EMPTY))
    assert severities(life)["water awaited"] is WARNING
    assert "3 min after the last reading" in life.findings["water awaited"].mend
    life.last_split(120.0, Cause.EMPTY, Cause.EMPTY)
    assert severities(life)["no water"] is CRITICAL
    assert "water awaited" not in life.findings
    life.last(120.0, 26.0)
    assert life.findings == {}


@pytest.mark.parametrize(
    "wire",
    [Cause.ABSENT, Cause.EMPTY, Cause.CRC, Cause.ZEROS, Cause.NO_ANSWER, 85.0, 127.9375, 60.0, 40.0],
)
def test_a_sick_probe_is_suspect_half_way_to_stale_and_then_not_used(wire: float | Cause) -> None:
    life = watched()
    life.last_split(30.0, 26.0, wire)
    assert life.findings == {}
    life.last_split(5.0, 26.0, wire)
    assert severities(life) == {"probe sump suspect": WARNING}
    life.last_split(30.0, 26.0, wire)
    assert severities(life) == {"probe sump not used": WARNING}
    assert "28-000000000102" in life.findings["probe sump not used"].what
    life.last(80.0, 26.0)
    assert life.findings == {}


@pytest.mark.parametrize("cause", Cause)
def test_each_cause_has_something_to_do_about_it(cause: Cause) -> None:
    life = Watched()
    life.tick(life.split(cause, cause))
    finding = life.findings["probe sump not used"]
    assert cause.value in finding.what
    assert len(finding.mend) > 10


def test_two_that_disagree_are_both_suspect_at_once() -> None:
    life = watched()
    for display_c in (26.5, 27.0, 27.5):
        life.tick(life.split(display_c, 26.0), 30.0)
    life.last_split(60.0, 27.5, 26.0)
    assert severities(life) == {"probe display suspect": WARNING, "probe sump suspect": WARNING}
    assert "the warmest decides for the fans" in life.findings["probe sump suspect"].mend


def test_the_odd_one_out_is_not_used() -> None:
    settings = bench_settings()
    third = WaterProbe("rear", "28-000000000104")
    life = Watched(replace(settings, water_probes=(*settings.water_probes, third)))
    for _ in range(20):
        at_s = life.now_s + 5.0
        life.tick({"display": Sampled(26.0, at_s), "sump": Sampled(26.1, at_s), "rear": Sampled(24.5, at_s)})
    assert severities(life) == {"probe rear not used": WARNING}


def test_an_unknown_time_is_told_while_it_lasts() -> None:
    life = watched()
    life.tick(26.0, wall=Wall(NOON, trusted=False))
    assert severities(life) == {"time unknown": WARNING}
    assert "lights input" not in life.findings["time unknown"].what
    life.tick(26.0, wall=Wall(NOON, trusted=False), lights_sensed=True)
    assert life.findings == {}


def test_an_unknown_time_says_so_when_the_lights_input_is_silent_too() -> None:
    lights = replace(bench_settings().lights, sense=SensedInput(5))
    life = watched(bench_settings(lights=lights))
    life.tick(26.0, wall=Wall(NOON, trusted=False))
    assert "and the lights input does not answer" in life.findings["time unknown"].what


def test_a_fan_that_ran_all_day_is_told_beyond_the_exact_time() -> None:
    life = watched(bench_settings(fans=fan_stage(all_day_s=600.0), chiller=None))
    life.tick(26.5)
    life.tick(26.6875)
    life.last(600.0, 26.6875)
    assert life.findings == {}
    life.tick(26.6875)
    assert severities(life) == {"fan1 all day": WARNING, "fan2 all day": WARNING}
    life.tick(26.1875)
    assert life.findings == {}


def test_a_fan_held_off_because_it_would_heat_is_told() -> None:
    life = watched()
    humid = RoomAir(28.0, 0.9, life.now_s)
    life.tick(26.5)
    life.tick(26.625, room=humid)
    assert severities(life) == {"fan1 would heat": WARNING, "fan2 would heat": WARNING}
    life.tick(26.625)
    assert life.findings == {}


def warm_enough_for_the_chiller(life: Watched) -> None:
    for water_c in (26.5, 27.0, 27.25):
        life.tick(water_c, 30.0)
    life.last(300.0, 27.25)


def test_a_long_run_of_the_chiller_is_told_beyond_the_exact_time() -> None:
    life = watched(bench_settings(chiller=chiller(longest_run_s=900.0)))
    warm_enough_for_the_chiller(life)
    began_s = life.memory.counters[-1].since_s
    life.last(began_s + 900.0 - life.now_s, 27.25)
    assert life.command("chiller").on
    assert life.findings == {}
    life.tick(27.25)
    assert severities(life) == {"chiller long run": WARNING}
    assert "15 min 5 s" in life.findings["chiller long run"].what
    life.tick(26.6, 30.0)
    assert life.findings == {}


def test_a_chiller_that_short_cycles_is_told() -> None:
    life = watched(bench_settings(chiller=chiller(minimum_on_s=60.0, minimum_off_s=300.0)))
    warm_enough_for_the_chiller(life)
    for _ in range(4):
        assert life.findings == {}
        while life.command("chiller").on:
            life.tick(26.0, 30.0)
        while not life.command("chiller").on:
            life.tick(27.25, 30.0)
    assert severities(life) == {"chiller starts too often": WARNING}


def test_no_flow_is_told_when_the_chiller_is_wanted() -> None:
    life = Watched(bench_settings(chiller=chiller(flow_input=SensedInput(6))))
    life.last(120.0, 26.0, flow=False)
    assert life.findings == {}
    life.tick(27.25, 120.0, flow=False)
    assert severities(life) == {"chiller no flow": CRITICAL}
    life.tick(27.25, flow=True)
    assert life.findings == {}


@pytest.mark.parametrize(
    "report",
    [
        lambda now_s: None,
        lambda now_s: permitting(now_s - 30.1),
        lambda now_s: permitting(now_s + 30.1),
        lambda now_s: permitting(math.nan),
    ],
)
def test_a_silent_cutoff_is_told_even_when_nothing_is_wanted(
    report: Callable[[float], CutoffReport | None],
) -> None:
    life = watched()
    life.tick(26.0, cutoff=report(life.now_s + 5.0))
    assert severities(life) == {"cutoff silent": CRITICAL}
    life.tick(26.0, cutoff=permitting(life.now_s + 5.0 - 30.0))
    assert life.findings == {}


@pytest.mark.parametrize(
    ("state", "severity", "mend"),
    [("tripped", CRITICAL, "reefguard cutoff reset"), ("proving", WARNING, "wait")],
)
def test_a_cutoff_that_holds_is_told(state: str, severity: Severity, mend: str) -> None:
    life = watched()
    held = CutoffReport(state, permits=False, why="the water was at 22.9 °C", at_s=life.now_s)
    life.tick(26.0, cutoff=held)
    name = "cutoff tripped" if state == "tripped" else "cutoff holds"
    assert severities(life) == {name: severity}
    assert "the water was at 22.9 °C" in life.findings[name].what
    assert mend in life.findings[name].mend
    life.tick(26.0)
    assert life.findings == {}


def test_a_cutoff_that_lives_elsewhere_is_not_missed() -> None:
    life = watched(bench_settings(chiller=chiller(cutoff_status=None)))
    life.tick(26.0, cutoff=None)
    assert life.findings == {}


def test_a_tank_without_fans_or_without_chiller_has_no_findings_about_them() -> None:
    watched(bench_settings(fans=None))
    watched(bench_settings(chiller=None)).tick(26.0, cutoff=None)


def test_a_chiller_that_runs_uncommanded_is_told_once_it_had_time_to_stop() -> None:
    life = watched(bench_settings(chiller=chiller(running_input=SensedInput(5))))
    warm_enough_for_the_chiller(life)
    assert life.command("chiller").on
    life.tick(26.5, 200.0, chiller_running=True)
    assert not life.command("chiller").on
    life.last(30.0, 26.5, chiller_running=True)
    assert life.findings == {}
    life.tick(26.5, chiller_running=True)
    assert severities(life) == {"chiller runs uncommanded": Severity.CRITICAL}
    life.tick(26.5, chiller_running=False)
    assert life.findings == {}


def test_a_chiller_that_does_not_start_is_told_once_it_had_time_to() -> None:
    life = watched(bench_settings(chiller=chiller(running_input=SensedInput(5), longest_run_s=7_200.0)))
    warm_enough_for_the_chiller(life)
    began_s = life.memory.counters[-1].since_s
    life.last(began_s + 600.0 - life.now_s, 27.25, chiller_running=False)
    assert life.findings == {}
    life.tick(27.25, chiller_running=False)
    assert severities(life) == {"chiller does not start": WARNING}
    life.tick(27.25, chiller_running=True)
    assert life.findings == {}


@pytest.mark.parametrize(
    ("water_c", "names"),
    [
        (28.8, {"water high"}),
        (28.875, {"water far too high", "water high"}),
        (23.0, {"water low"}),
        (22.9375, {"water far too low", "water low"}),
    ],
)
def test_a_degree_outside_the_band_is_far(water_c: float, names: set[str]) -> None:
    life = watched()
    life.last(600.0, water_c)
    assert {name for name in life.findings if name.startswith("water")} == names
    assert all("safe band" in life.findings[name].what for name in names)
