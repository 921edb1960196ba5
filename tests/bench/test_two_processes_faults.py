"""Each fault a probe can have, on both water probes at once, and on one of them."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from bench_rig import Rig

from reefguard.rehearsal.bench import CHILLER
from reefguard.rehearsal.bench_wire import BenchProbe

WARM_C = 27.5


def _jump(probe: BenchProbe) -> None:
    probe.show(WARM_C + 15.0)


# What befalls a probe, and what the status then says is wrong with it.
FAULTS: dict[str, tuple[Callable[[BenchProbe], None], str]] = {
    "empty file": (BenchProbe.show_nothing, "the kernel's file is empty: the probe did not answer"),
    "wrong checksum": (BenchProbe.fail_checksum, "the checksum does not match: the line is disturbed"),
    "shorted line": (BenchProbe.short_line, "all bytes are zero: the data line is shorted"),
    "power lost": (BenchProbe.lose_power, "85.000 °C, which the chip holds until it has measured"),
    "not converted": (
        BenchProbe.fail_conversion,
        "127.9375 °C, which the chip gives after a failed conversion",
    ),
    "gone from the bus": (BenchProbe.vanish, "no such probe on the 1-wire bus"),
    "blocks the reader": (BenchProbe.hang, "the read did not come back in time: the bus hangs"),
    "half a line": (lambda probe: probe.write(b"b8 01 4b 46 7f"), "the file is not in the kernel's format"),
    "jump": (_jump, "changed faster than water can"),
}


def _brisk(rig: Rig) -> None:
    """Have the rig's times short: here everything is waited for, and nothing is measured."""
    rig.settings(
        ("sampling: 5 s", "sampling: 10 s"),
        ("stale_after: 3 min", "stale_after: 1 min"),
        ("schedule_after: 4 min", "schedule_after: 90 s"),
        ("minimum_on: 2 min", "minimum_on: 30 min"),  # which no lost probe waits for
        ("cutoff_silent_after: 3 min", "cutoff_silent_after: 10 min"),
    )


def _wrong_with_both(rig: Rig, cause: str) -> bool:
    return {probe["cause"] for probe in rig.status()["probes"].values()} == {cause}


def _only_used(rig: Rig, name: str) -> bool:
    return [probe for probe, said in rig.status()["probes"].items() if said["used"]] == [name]


def test_each_fault_on_both_probes_takes_the_chiller_off_and_leaves_the_fans_to_the_schedule(
    tmp_path: Path,
) -> None:
    with Rig(tmp_path, speed=120.0) as rig:
        _brisk(rig)
        rig.chilling()
        for befall, wrong in FAULTS.values():
            befall(rig.display)
            befall(rig.sump)
            rig.until(lambda: rig.pin(CHILLER) == "0", f"the chiller is off: {wrong}")
            rig.until(lambda: rig.mode() == "schedule", f"the mode is schedule: {wrong}")
            rig.until(partial(_wrong_with_both, rig, wrong), f"the status says of both probes: {wrong}")
            rig.ticks()
            assert rig.status()["water"] is None
            assert rig.output("chiller")["why"] == "no trusted water reading, so no chiller"
            assert rig.findings()["no water"]["severity"] == "critical"

            rig.water(WARM_C)
            rig.until(lambda: rig.mode() == "automatic", f"automatic is earned again after: {wrong}")
            rig.until(rig.chiller_has_power, f"the chiller runs again after: {wrong}")
        rig.display.hang()
        assert rig.end("guard") == 0, "a reader that hangs holds up no stop"


def test_with_one_faulty_probe_the_other_carries_on(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.chilling()
        for good, faulty in (("display", rig.sump), ("sump", rig.display)):
            rig.water(WARM_C)
            rig.until(lambda: all(one["used"] for one in rig.status()["probes"].values()), "both are used")
            faulty.show_nothing()
            rig.until(partial(_only_used, rig, good), f"{good} alone is used")
            rig.always(lambda: rig.mode() == "automatic", 90.0, "one good probe is enough")
            assert rig.status()["water"]["coldest_probe"] == rig.status()["water"]["warmest_probe"] == good
            assert rig.chiller_has_power()


def test_probes_that_wander_faster_than_water_can_are_never_trusted(tmp_path: Path) -> None:
    with Rig(tmp_path, speed=120.0) as rig:
        _brisk(rig)
        rig.chilling()
        turn = 0

        def wander() -> None:
            nonlocal turn
            turn += 1
            for probe in (rig.display, rig.sump):
                probe.show((12.0, 42.0)[turn % 2])

        def scheduled() -> bool:
            wander()
            return rig.mode() == "schedule"

        rig.until(scheduled, "the mode is schedule")
        assert rig.pin(CHILLER) == "0", "what is commanded is driven before it is told"

        def still() -> bool:
            wander()
            return rig.mode() == "schedule" and rig.pin(CHILLER) == "0"

        rig.always(still, 180.0, "wandering earns no trust")


def test_a_fall_that_is_not_believed_yet_stops_the_chiller_at_once_and_starts_nothing(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.chilling()
        rig.sump.show(21.0)
        rig.until_status(lambda: rig.pin(CHILLER) == "0", "a cold reading stops the chiller")
        assert rig.output("chiller")["changes"] == 2
        assert rig.pins()["fan1"] == "1", "the warm probe keeps the fans"


def test_a_probe_that_repeats_one_value_for_half_a_day_is_frozen(tmp_path: Path) -> None:
    with Rig(tmp_path, speed=3_600.0) as rig:
        rig.settings(
            ("sampling: 5 s", "sampling: 10 s"),
            ("stale_after: 3 min", "stale_after: 10 min"),
            ("schedule_after: 4 min", "schedule_after: 10 min\n  frozen_after: 12 h"),
            (f'cutoff: "{rig.bench.cutoff_run / "status.json"}"', "cutoff: elsewhere"),
        )
        rig.water(27.5)
        rig.guard()
        rig.until(lambda: rig.mode() == "automatic", "at first they are believed")
        begun_s = rig.status()["written_s"]
        rig.until(partial(_wrong_with_both, rig, "has not changed at all for too long"), "both are frozen")
        assert rig.status()["written_s"] - begun_s > 40_000.0
        rig.until(lambda: rig.mode() == "schedule" and rig.pin(CHILLER) == "0", "no chiller on frozen probes")
        assert "replace the probe" in rig.findings()["probe sump not used"]["mend"]
