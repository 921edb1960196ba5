"""Promise 9. Death is off.

When the guard or the cutoff is killed, hangs or ends, the chiller is off soon,
and each fan is in the state its settings name for that.  Whether the chiller
has power is both contacts, in series: GPIO22 and GPIO23.
"""

import random
import shutil
import signal
import time
from pathlib import Path

import pytest
from bench_rig import Rig

from reefguard.records import guard_memory, safe_levels
from reefguard.records.guard_memory import Kept
from reefguard.records.safe_levels import SafeLevel
from reefguard.rehearsal.bench import CHILLER, CUTOFF, FAN_1, FAN_2

# Every polarity and contact, and both states of rest, at once.
CROSSED = (
    (
        "fan1: {pin: GPIO17, polarity: active high, contact: normally open, at_rest: stopped}",
        "fan1: {pin: GPIO17, polarity: active low, contact: normally open, at_rest: running}",
    ),
    (
        "fan2: {pin: GPIO27, polarity: active high, contact: normally open, at_rest: stopped}",
        "fan2: {pin: GPIO27, polarity: active high, contact: normally closed, at_rest: stopped}",
    ),
    ("pin: GPIO22\n  polarity: active high", "pin: GPIO22\n  polarity: active low"),
)
AT_REST = {FAN_1: "0", FAN_2: "1", CHILLER: "1"}
COOLING = {FAN_1: "0", FAN_2: "0", CHILLER: "0"}


def _levels(rig: Rig) -> dict[int, str]:
    return {gpio: rig.pin(gpio) for gpio in AT_REST}


def _crossed_and_cooling(rig: Rig) -> None:
    rig.settings(*CROSSED)
    rig.water(27.5)
    rig.cutoff()
    rig.guard()
    rig.until(lambda: _levels(rig) == COOLING, "all cool")


def test_a_clean_stop_leaves_every_pin_driven_at_rest(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        _crossed_and_cooling(rig)
        assert rig.end("guard") == 0
        assert _levels(rig) == AT_REST
        # Nobody shall take what it said last for what is.
        assert rig.command("status", "--settings", str(rig.bench.settings)).returncode == 3


def test_whatever_ends_the_guard_what_runs_after_it_drives_every_pin_to_rest(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        _crossed_and_cooling(rig)
        rig.end("guard", signal.SIGKILL)
        assert _levels(rig) == COOLING  # as a Pi's kernel leaves them
        after = rig.command("guard", "--safe-levels", "--settings", str(rig.bench.settings))
        assert after.returncode == 0, after
        assert _levels(rig) == AT_REST


@pytest.mark.parametrize(
    ("settings", "named_by_the_service_manager"),
    [
        pytest.param(None, True, id="the settings are gone"),
        pytest.param(b"\xff\x00 no text", True, id="the settings are no text"),
        pytest.param("state", False, id="a broken file still names its state directory"),
    ],
)
def test_safe_levels_need_no_readable_settings(
    tmp_path: Path, settings: bytes | str | None, named_by_the_service_manager: bool
) -> None:
    with Rig(tmp_path) as rig:
        rig.settings(*CROSSED)
        rig.water(27.5)
        rig.guard()
        rig.until(lambda: rig.pin(FAN_2) == "0" and safe_levels.load(rig.bench.state), "a fan runs, safely")
        rig.end("guard", signal.SIGKILL)
        if settings is None:
            rig.bench.settings.unlink()
        elif isinstance(settings, bytes):
            rig.bench.settings.write_bytes(settings)
        else:
            rig.settings(("tank: the bench", "tank: [the bench"))
        more = {"STATE_DIRECTORY": str(rig.bench.state)} if named_by_the_service_manager else {}
        after = rig.command("guard", "--safe-levels", "--settings", str(rig.bench.settings), **more)
        assert after.returncode == 0, after
        assert _levels(rig) == AT_REST


def test_safe_levels_of_long_ago_are_not_driven_where_the_settings_keep_their_state_elsewhere(
    tmp_path: Path,
) -> None:
    service_managers = tmp_path / "service-manager"
    service_managers.mkdir()
    safe_levels.save(service_managers, (SafeLevel("chiller", 5, high=True, load_on=False),))
    with Rig(tmp_path / "bench") as rig:
        rig.settings(*CROSSED)
        rig.water(27.5)
        rig.guard(STATE_DIRECTORY=str(service_managers))
        rig.until(lambda: rig.pin(FAN_2) == "0" and safe_levels.load(rig.bench.state), "a fan runs, safely")
        rig.end("guard", signal.SIGKILL)
        after = rig.command("guard", "--safe-levels", STATE_DIRECTORY=str(service_managers))
        assert after.returncode == 0, after
        assert _levels(rig) == AT_REST
        assert rig.pin(5) == ""

        # And the last good copy is found where the broken file says.
        rig.settings(("tank: the bench", "tank: [the bench"))
        rig.guard(STATE_DIRECTORY=str(service_managers))
        rig.until(lambda: "running on previous settings" in rig.findings(), "it runs on the last good copy")


def test_safe_levels_are_taken_from_the_settings_where_the_disk_could_not_keep_them(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.settings(*CROSSED)
        shutil.rmtree(rig.bench.state)
        rig.bench.state.write_text("a file where the state directory belongs", encoding="utf-8")
        after = rig.command("guard", "--safe-levels", "--settings", str(rig.bench.settings))
        assert after.returncode == 0, after
        assert _levels(rig) == AT_REST


def test_one_pin_that_cannot_be_driven_keeps_no_other_from_its_rest(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.settings(*CROSSED)
        (rig.bench.directory / "gpio" / "GPIO22").mkdir()  # the chiller's, the first of all
        after = rig.command("guard", "--safe-levels", "--settings", str(rig.bench.settings))
        assert after.returncode == 69
        assert "chiller on GPIO22" in after.stderr
        assert (rig.pin(FAN_1), rig.pin(FAN_2)) == (AT_REST[FAN_1], AT_REST[FAN_2])


def test_after_a_kill_the_chiller_is_off_with_the_next_start_and_rests_the_whole_minimum(
    tmp_path: Path,
) -> None:
    with Rig(tmp_path) as rig:
        rig.chilling()
        rig.end("guard", signal.SIGKILL)
        killed_s = rig.status()["written_s"]
        rig.guard()
        rig.until(lambda: rig.pin(CHILLER) == "0", "a start begins with the chiller off")
        rig.until_status(rig.chiller_has_power, "the chiller runs again")
        assert rig.output("chiller")["since_s"] >= killed_s + 180.0


def test_the_memory_can_be_read_whenever_the_guard_is_killed_and_no_kill_shortens_a_rest(
    tmp_path: Path,
) -> None:
    moments = random.Random(20)  # noqa: S311  moments, not secrets
    with Rig(tmp_path) as rig:
        rig.settings(("minimum_off: 3 min", "minimum_off: 30 min"))  # many lives long
        rig.water(27.5)
        rig.cutoff()
        rig.until(lambda: rig.pin(CUTOFF) == "1", "the cutoff permits")
        memory = rig.bench.state / guard_memory.FILE_NAME
        for life in range(8):
            guard = rig.guard()
            if life == 0:
                rig.until(memory.exists, "there is a memory to lose")
            # Warm and cool by turns: each change of an output writes the memory.
            for water_c in (26.0, 27.5) * moments.randint(1, 4):
                rig.water(water_c)
                time.sleep(moments.uniform(0.0, 0.15))
            guard.send_signal(moments.choice([signal.SIGKILL, signal.SIGSTOP]))
            kept = guard_memory.load(rig.bench.state)
            assert isinstance(kept, Kept), kept
            guard.kill()
            guard.wait()
            assert rig.pin(CHILLER) in {"", "0"}, "no guard lived long enough for a rest to be over"


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSTOP])
def test_over_cold_water_the_cutoff_takes_the_power_from_a_chiller_that_a_dead_guard_left_on(
    tmp_path: Path, number: signal.Signals
) -> None:
    with Rig(tmp_path) as rig:
        rig.chilling()
        rig.programs["guard"].send_signal(number)
        rig.water(24.0)
        rig.until(lambda: rig.pin(CUTOFF) == "0", "the cutoff trips")
        assert rig.pin(CHILLER) == "1", "the guard had left it on"
        assert not rig.chiller_has_power()
        rig.until(lambda: rig.cutoff_status()["state"] == "tripped", "the cutoff says so")

        # The guard goes on, or starts again: the trip holds, and its own contact opens.
        if number is signal.SIGKILL:
            rig.programs["guard"].wait()
            rig.guard()
        else:
            rig.programs["guard"].send_signal(signal.SIGCONT)
        rig.until(lambda: rig.pin(CHILLER) == "0", "the guard's contact opens too")
        rig.water(27.5)
        rig.until(lambda: rig.output("chiller").get("blocked_by"), "the guard knows what holds the chiller")
        assert not rig.chiller_has_power()


def test_a_guard_asked_to_stop_at_any_moment_leaves_nothing_on(tmp_path: Path) -> None:
    moments = random.Random(9)  # noqa: S311  moments, not secrets
    with Rig(tmp_path) as rig:
        rig.water(27.5)
        for _ in range(6):
            guard = rig.guard()
            time.sleep(moments.uniform(0.0, 1.5))
            guard.send_signal(signal.SIGTERM)
            code = guard.wait()
            # Before it listens, the signal simply ends it; it has touched no pin yet.
            assert code in {0, -signal.SIGTERM}
            assert {rig.pin(gpio) for gpio in (FAN_1, FAN_2, CHILLER)} <= {"", "0"}
            assert "Traceback" not in rig.log()


def test_the_service_manager_cleans_up_after_every_end_of_the_guard() -> None:
    unit = (Path(__file__).parents[2] / "systemd" / "reefguard.service").read_text(encoding="utf-8")
    lines = unit.splitlines()
    assert "ExecStopPost=/opt/reefguard/bin/reefguard guard --safe-levels" in lines
    assert "Restart=always" in lines
    assert "RestartPreventExitStatus=78" in lines
    assert any(line.startswith("WatchdogSec=") for line in lines)
