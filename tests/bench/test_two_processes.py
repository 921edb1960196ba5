"""Guard and cutoff as two processes on one bench: what the water does, and what has power then."""

import signal
from pathlib import Path

import pytest
from bench_rig import Rig

from reefguard.rehearsal.bench import CHILLER, CUTOFF


def test_a_warm_day_from_the_first_fan_to_the_last_chill(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.water(25.5)
        rig.cutoff()
        rig.guard()
        rig.until(lambda: rig.mode() == "automatic" and rig.pin(CUTOFF) == "1", "both are at work")
        rig.ticks()
        assert rig.pins() == {"fan1": "0", "fan2": "0", "chiller": "0", "cutoff": "1"}

        # Between cut-out and cut-in everything stays as it was: off.
        rig.water(26.5)
        rig.always(
            lambda: rig.pins()["fan1"] == rig.pins()["chiller"] == "0", 60.0, "all off below the cut-in"
        )

        rig.water(26.75)
        rig.until(lambda: rig.pins()["fan1"] == rig.pins()["fan2"] == "1", "the fans run")
        assert rig.pin(CHILLER) == "0"

        rig.water(27.25)
        rig.until_status(rig.chiller_has_power, "the chiller runs")
        assert "at or above the cut-in of 27.20 °C" in rig.output("chiller")["why"]

        # Between cut-in and cut-out everything stays as it was: on.
        rig.water(26.75)
        rig.always(rig.chiller_has_power, 180.0, "the chiller runs on down to the cut-out")

        rig.water(26.5)
        rig.until(lambda: rig.pin(CHILLER) == "0", "the chiller stops at the cut-out")
        assert rig.pins() == {"fan1": "1", "fan2": "1", "chiller": "0", "cutoff": "1"}

        rig.water(26.125)
        rig.until(lambda: rig.pins()["fan1"] == rig.pins()["fan2"] == "0", "the fans stop at their cut-out")
        said = rig.log()
        assert said.count("chiller on: ") == said.count("fan1 on: ") == 1
        assert rig.end("guard") == 0
        assert rig.end("cutoff") == 0


def test_between_a_stop_and_the_next_start_the_compressor_rests_and_says_until_when(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.chilling()
        rig.water(26.5)
        rig.until_status(lambda: rig.pin(CHILLER) == "0", "the chiller stops")
        stopped_s = rig.output("chiller")["since_s"]
        rig.water(27.5)
        rig.until(lambda: rig.output("chiller")["blocked_by"], "it is wanted and held off")
        assert "minimum off time" in rig.output("chiller")["why"]
        assert rig.output("chiller")["blocked_until_s"] == pytest.approx(stopped_s + 180.0, abs=0.01)
        rig.until_status(rig.chiller_has_power, "it runs again")
        assert rig.output("chiller")["since_s"] - stopped_s >= 180.0 - 0.01


def test_cold_water_stops_the_chiller_within_its_minimum_on_time(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.settings(("minimum_on: 2 min", "minimum_on: 30 min"))
        rig.chilling()
        rig.water(26.5)
        # A degree at once is faster than water can, so it is believed only after a while.
        rig.until(lambda: "minimum on time" in rig.output("chiller").get("why", ""), "it is cool enough")
        rig.always(lambda: rig.pin(CHILLER) == "1", 30.0, "it runs on for the compressor's sake")
        rig.water(26.0)
        rig.until(lambda: rig.pin(CHILLER) == "0", "cold water stops it all the same")


def test_the_cutoff_trips_at_its_limit_whatever_the_guards_probes_say(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.chilling()
        rig.water(27.5, cutoff_c=24.0)
        rig.until(lambda: rig.pin(CUTOFF) == "0", "the cutoff drops its relay")
        assert not rig.chiller_has_power()
        rig.until_status(lambda: rig.pin(CHILLER) == "0", "the guard takes its own contact away too")
        assert rig.output("chiller")["blocked_by"].startswith("the over-cool cutoff forbids it")
        assert rig.findings()["cutoff tripped"]["severity"] == "critical"

        # Warm again, but no person has reset it.
        rig.water(27.5)
        rig.always(lambda: not rig.chiller_has_power(), 200.0, "a trip holds until a person resets it")

        answer = rig.command("cutoff", "reset", "--limits", str(rig.bench.limits))
        assert answer.returncode == 0, answer
        rig.until(rig.chiller_has_power, "after a reset, the proof and the rest, the chiller runs")


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSTOP])
def test_when_the_cutoff_goes_silent_the_guard_takes_the_chiller_off(
    tmp_path: Path, number: signal.Signals
) -> None:
    with Rig(tmp_path) as rig:
        rig.settings(("cutoff_silent_after: 3 min", "cutoff_silent_after: 1 min"))
        rig.chilling()
        rig.programs["cutoff"].send_signal(number)
        rig.until_status(lambda: rig.pin(CHILLER) == "0", "the guard opens its contact")
        assert rig.pin(CUTOFF) == "1"  # the bench keeps a dead program's level, as a Pi's kernel does
        assert "cutoff is silent" in rig.output("chiller")["why"]
        assert rig.findings()["cutoff silent"]["severity"] == "critical"
        assert rig.command("status", "--settings", str(rig.bench.settings)).returncode == 2

        rig.programs["cutoff"].send_signal(signal.SIGCONT)
        if number is signal.SIGKILL:
            rig.programs["cutoff"].wait()
            rig.cutoff()
        rig.until(rig.chiller_has_power, "the cutoff is back, and the chiller with it")


def test_a_cutoff_that_was_stopped_says_so_and_the_guard_believes_it(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.chilling()
        assert rig.end("cutoff") == 0
        assert rig.pin(CUTOFF) == "0"
        rig.until(lambda: rig.pin(CHILLER) == "0", "the guard opens its contact")


def test_a_second_guard_with_the_same_runtime_directory_refuses(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.chilling()
        second = rig.command("guard", "--settings", str(rig.bench.settings))
        assert second.returncode == 69
        assert "another guard runs" in second.stderr
        assert str(rig.bench.run) in second.stderr
        assert rig.chiller_has_power(), "the second guard touched a pin"

        # Not even a guard that was to make one tick only.
        assert rig.command("guard", "--settings", str(rig.bench.settings), "--once").returncode == 69
        rig.end("guard", signal.SIGKILL)
        rig.guard()
        rig.until(lambda: rig.mode() == "automatic", "a dead guard's lock binds nobody")
