"""Promise 7: at or below its limit the cutoff drops its relay and holds it until a person's reset.

The real process, on a bench: its probe is a file, its relay's pin is a file.
"""

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from cutoff_bench import CutoffBench, scratchpad, w1_at, w1_text

# More than the rest and the proof together: had it been going to permit, it would have.
LONG_ENOUGH_S = 300.0


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[CutoffBench]:
    made = CutoffBench(tmp_path)
    yield made
    made.stop()


def reset(bench: CutoffBench) -> tuple[int, str]:
    ran = bench.command("reset", "--limits", str(bench.limits), SUDO_USER="alex")
    return ran.returncode, ran.stdout


def test_cooling_may_run_only_after_rest_and_proof(bench: CutoffBench) -> None:
    bench.commission()
    bench.water(25.5)
    bench.start()
    bench.until(lambda: bench.level() == "0")
    bench.until_state("held off")
    started_s = bench.status()["since_s"]
    bench.until(lambda: bench.level() == "1")
    bench.until_state("permitting")
    assert bench.status()["since_s"] - started_s >= 180.0


def test_water_that_has_not_recovered_proves_nothing(bench: CutoffBench) -> None:
    bench.commission()
    bench.water(24.9375)
    bench.start()
    bench.until_state("held off")
    bench.samples_pass(LONG_ENOUGH_S)
    assert bench.level() == "0"
    bench.water(25.0)
    bench.until(lambda: bench.level() == "1")


@pytest.mark.parametrize("polarity", ["active high", "active low"])
def test_water_at_the_limit_trips_and_stays_tripped(bench: CutoffBench, polarity: str) -> None:
    may_run, held_off = {"active high": ("1", "0"), "active low": ("0", "1")}[polarity]
    bench.write_limits(_polarity=polarity)
    bench.commission()
    bench.water(25.5)
    bench.start()
    bench.until_state("permitting")
    bench.until(lambda: bench.level() == may_run)
    bench.water(24.5)
    bench.until(lambda: bench.level() == held_off)
    bench.until_state("tripped")
    assert bench.status()["cause"] == "too cold"
    bench.water(26.0)
    bench.samples_pass(LONG_ENOUGH_S)
    assert bench.level() == held_off
    assert "state: tripped\ncause: too cold\nwater: 24.5 °C\n" in bench.latch()


def test_the_relay_drops_before_the_latch_is_written_on_a_disk_that_hangs(bench: CutoffBench) -> None:
    bench.start_permitting()
    os.mkfifo(bench.state / ".latch.new")
    bench.water(24.0)
    bench.until(lambda: bench.level() == "0")


@pytest.mark.parametrize("end", [signal.SIGKILL, signal.SIGTERM, signal.SIGABRT])
def test_a_trip_survives_any_end(bench: CutoffBench, end: signal.Signals) -> None:
    bench.start_permitting()
    bench.water(24.0)
    bench.until_state("tripped")
    bench.end(end)
    bench.water(26.0)
    before = bench.latch()
    bench.start()
    bench.until_state("tripped")
    bench.samples_pass(LONG_ENOUGH_S)
    assert bench.level() == "0"
    assert bench.status()["cause"] == "too cold"
    assert bench.latch() == before


def damage_missing(latch: Path) -> None:
    latch.unlink()


def damage_empty(latch: Path) -> None:
    latch.write_bytes(b"")


def damage_cut(latch: Path) -> None:
    latch.write_bytes(latch.read_bytes()[:-1])


def damage_changed(latch: Path) -> None:
    latch.write_bytes(latch.read_bytes().replace(b"state", b"State"))


def damage_noise(latch: Path) -> None:
    latch.write_bytes(bytes(range(256)) * 40)


@pytest.mark.parametrize(
    "damage",
    [damage_missing, damage_empty, damage_cut, damage_changed, damage_noise],
    ids=lambda d: d.__name__,
)
def test_a_latch_that_cannot_be_believed_holds_off_until_a_reset(bench: CutoffBench, damage: object) -> None:
    bench.commission()
    assert callable(damage)
    damage(bench.state / "latch")
    bench.water(25.5)
    bench.start()
    bench.until_state("tripped")
    bench.samples_pass(LONG_ENOUGH_S)
    assert (bench.level(), bench.status()["cause"]) == ("0", "latch unreadable")
    assert reset(bench)[0] == 0
    bench.until(lambda: bench.level() == "1")
    assert "state: clear\n" in bench.latch()


@pytest.mark.parametrize("limits", [None, "", "limit: 24.5\n", "\x00"])
def test_without_a_valid_limits_file_it_does_not_start_and_cooling_is_off(
    bench: CutoffBench, limits: str | None
) -> None:
    bench.start_permitting()
    bench.end(signal.SIGKILL)
    bench.limits.unlink()
    if limits is not None:
        bench.limits.write_text(limits, encoding="utf-8")
    ended = bench.command("--limits", str(bench.limits), "--state", str(bench.state))
    assert ended.returncode == 78
    assert bench.level() == "0"


FAULTS = {
    "no file": None,
    "empty": "",
    "a wrong checksum": w1_at(25.5).replace("4b 46", "4b 47"),
    "the kernel's NO": w1_at(25.5).replace("YES", "NO"),
    "cut short": w1_at(25.5)[:30],
    "all zero": w1_text(bytes(9)),
    "power-on": w1_at(85.0),
    "a failed conversion": w1_at(127.9375),
    "out of range": w1_text(scratchpad(60.0)),
}


@pytest.mark.parametrize("text", FAULTS.values(), ids=FAULTS.keys())
def test_no_good_reading_is_held_off_and_releases_once_it_is_good_again(
    bench: CutoffBench, text: str | None
) -> None:
    bench.write_limits(probe_timeout="4 min")
    bench.start_permitting()
    if text is None:
        bench.probe_file.unlink()
    else:
        bench.probe_says(text)
    bench.until(lambda: bench.level() == "0")
    bench.until(lambda: bench.status()["cause"] == "probe lost")
    bench.water(25.5)
    bench.until(lambda: bench.level() == "1")
    assert bench.status()["self_releases"] >= 1


def test_a_read_that_never_returns_is_held_off_and_the_watch_goes_on(bench: CutoffBench) -> None:
    bench.write_limits(probe_timeout="4 min")
    bench.start_permitting()
    fifo = bench.probe_file.with_name("fifo")
    os.mkfifo(fifo)
    fifo.replace(bench.probe_file)
    bench.until(lambda: bench.level() == "0")
    bench.until(lambda: bench.status()["cause"] == "probe lost")
    # The loop still turns, answers a person and ends when told to.
    bench.samples_pass(100.0)
    assert reset(bench)[0] == 1
    assert bench.end(signal.SIGTERM) == 0
    assert bench.status()["state"] == "stopped"


def test_a_probe_lost_too_often_in_a_day_waits_for_a_person_even_over_restarts(bench: CutoffBench) -> None:
    bench.write_limits(releases_per_day="1")
    bench.start_permitting()
    bench.probe_says("")
    bench.until(lambda: bench.status()["cause"] == "probe lost")
    bench.end(signal.SIGKILL)
    bench.water(25.5)
    bench.start()
    bench.until(lambda: bench.level() == "1")
    bench.probe_says("")
    bench.until_state("tripped")
    assert (bench.level(), bench.status()["cause"]) == ("0", "too many releases")
    bench.water(25.5)
    bench.samples_pass(LONG_ENOUGH_S)
    assert bench.level() == "0"
    assert reset(bench)[0] == 0
    bench.until(lambda: bench.level() == "1")


def test_a_reset_is_refused_over_cold_water_and_obeyed_over_recovered(bench: CutoffBench) -> None:
    bench.start_permitting()
    bench.water(24.0)
    bench.until_state("tripped")
    status, said = reset(bench)
    assert (status, bench.level()) == (1, "0")
    assert "not reset: the water is 24.00 °C" in said
    assert "must first reach 25.00 °C" in said
    assert bench.status()["last_reset"]["who"] == "alex"

    bench.probe_says("")
    bench.until(lambda: "did not answer" in reset(bench)[1])
    bench.water(25.0)
    bench.until(lambda: reset(bench)[0] == 0)
    assert bench.level() == "0"
    reset_s = bench.status()["since_s"]
    bench.until(lambda: bench.level() == "1")
    bench.until_state("permitting")
    assert bench.status()["since_s"] - reset_s >= 60.0
    assert "state: clear\n" in bench.latch()


def test_a_reset_where_nothing_tripped_changes_nothing(bench: CutoffBench) -> None:
    bench.start_permitting()
    status, said = reset(bench)
    assert (status, "there is no trip to reset" in said) == (1, True)
    assert bench.level() == "1"


def test_a_reset_from_before_the_start_is_not_obeyed(bench: CutoffBench) -> None:
    bench.water(25.5)
    (bench.runtime / "requests").mkdir(parents=True)
    (bench.runtime / "requests" / "old").write_text("alex", encoding="utf-8")
    bench.start()
    bench.until_state("tripped")
    bench.samples_pass(LONG_ENOUGH_S)
    assert (bench.status()["state"], bench.status()["last_reset"]) == ("tripped", None)


def test_a_stop_drops_the_relay_and_says_so(bench: CutoffBench) -> None:
    bench.start_permitting()
    assert bench.end(signal.SIGTERM) == 0
    assert bench.level() == "0"
    assert (bench.status()["state"], bench.status()["permits"]) == ("stopped", False)
    assert "state: clear\n" in bench.latch()
    assert "Traceback" not in bench.log()
