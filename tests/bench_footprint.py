"""What the guard costs a small machine: memory, processor, start, and wear of the disk.

Run by hand: `python tests/bench_footprint.py [DAYS]`, some four minutes for each day.
The result stands in DEVELOPERS.md.
A year of history and events is there already: a check that reads all of it must not stay in memory.
Each figure is a ratio, or a share, measured in one run: machines are noisy.
"""

import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from kept_year import kept_year

from reefguard.rehearsal.bench import Bench, prepare

# The libraries the guard is made of, imported by a script that then sleeps.
BARE = (
    "import apscheduler.triggers.cron, click, gpiozero, sqlite3, yaml, w1thermsensor, time; time.sleep(600)"
)


def resident_kib(pid: int) -> int:
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    found = re.search(r"VmRSS:\s+(\d+)", status)
    return int(found[1]) if found else 0


def cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def written_bytes(pid: int) -> int:
    found = re.search(
        r"^write_bytes: (\d+)", Path(f"/proc/{pid}/io").read_text(encoding="ascii"), re.MULTILINE
    )
    return int(found[1]) if found else 0


def start_guard(bench: Bench, speed: float) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "reefguard", "guard", "--settings", str(bench.settings)],
        env=bench.environment(speed),
        stderr=subprocess.DEVNULL,
    )


def until_first_tick(bench: Bench) -> float:
    """Return stopwatch seconds from exec to the status file of the first complete tick."""
    status = bench.run / "status.json"
    status.unlink(missing_ok=True)
    begun = time.perf_counter()
    guard = start_guard(bench, 1.0)
    while not status.exists():
        time.sleep(0.005)
    took = time.perf_counter() - begun
    guard.terminate()
    guard.wait()
    return took


def memory_and_processor(bench: Bench, span_s: float = 60.0) -> tuple[int, int, float]:
    """Return resident KiB of the guard and of the bare script, and the guard's share of one core."""
    environment = {**os.environ, "W1THERMSENSOR_NO_KERNEL_MODULE": "1"}
    bare = subprocess.Popen([sys.executable, "-c", BARE], env=environment)
    guard = start_guard(bench, 1.0)
    time.sleep(5.0)
    before = cpu_s(guard.pid)
    time.sleep(span_s)
    share = (cpu_s(guard.pid) - before) / span_s
    figures = (resident_kib(guard.pid), resident_kib(bare.pid), share)
    for process in (guard, bare):
        process.terminate()
        process.wait()
    return figures


def wear(bench: Bench, runtime: Path, days: int, speed: float = 360.0) -> tuple[float, int, list[int]]:
    """Return bytes written to the disk a simulated day, changes of outputs a day, resident KiB after each.

    The runtime directory is in memory, as under systemd.  The water swings so that both stages
    switch every hour or so.
    """
    from reefguard.records import status_file  # noqa: PLC0415  only this figure needs them
    from reefguard.rehearsal.bench import CUTOFF_ID, DISPLAY_ID, SUMP_ID  # noqa: PLC0415  the same
    from reefguard.rehearsal.bench_wire import BenchProbe  # noqa: PLC0415  the same

    guard = start_guard(bench, speed)
    time.sleep(3.0)
    begun, before = time.monotonic(), written_bytes(guard.pid)
    resident: list[int] = []
    while len(resident) < days:
        gone = time.monotonic() - begun
        hours = gone * speed / 3_600.0
        water_c = 25.8 + 1.6 * abs((hours % 2.0) - 1.0)
        for rom_id in (DISPLAY_ID, SUMP_ID, CUTOFF_ID):
            BenchProbe(bench.bus, rom_id).show(water_c)
        time.sleep(0.02)
        if guard.poll() is not None:
            sys.exit(f"the guard ended with {guard.returncode}")
        if gone * speed >= 86_400.0 * (len(resident) + 1):
            resident.append(resident_kib(guard.pid))
    per_day = (written_bytes(guard.pid) - before) / days
    status = status_file.read(runtime / "status.json")
    changes = sum(one["changes"] for one in status["outputs"].values()) if isinstance(status, dict) else 0
    guard.terminate()
    guard.wait()
    return per_day, round(changes / days), resident


def at_one_second(bench: Bench) -> Bench:
    text = bench.settings.read_text(encoding="utf-8").replace("sampling: 5 s", "sampling: 1 s")
    bench.settings.write_text(text, encoding="utf-8")
    return bench


def main() -> None:
    with tempfile.TemporaryDirectory(dir="/dev/shm") as quick, tempfile.TemporaryDirectory() as slow:
        bench = prepare(Path(quick))
        starts = sorted(until_first_tick(bench) for _ in range(7))
        print(f"exec to first complete tick: {starts[0]:.2f} / {starts[3]:.2f} / {starts[6]:.2f} s")
        kept_year(bench.state)
        guard_kib, bare_kib, share = memory_and_processor(at_one_second(bench))
        print(
            f"resident: guard {guard_kib} KiB, bare script {bare_kib} KiB, ratio {guard_kib / bare_kib:.3f}"
        )
        print(f"processor at 1 s sampling: {share:.2%} of one core")
        disk = prepare(Path(slow))
        runtime = Path(quick) / "run-of-the-other"
        text = disk.settings.read_text(encoding="utf-8").replace(f'"{disk.run}"', f'"{runtime}"')
        disk.settings.write_text(text, encoding="utf-8")
        kept_year(disk.state)
        per_day, changes, after_kib = wear(disk, runtime, int(sys.argv[1]) if len(sys.argv) > 1 else 1)
        print(f"written to disk: {per_day / 1e6:.2f} MB a day at {changes} changes of outputs a day")
        for day, kib in enumerate(after_kib, 1):
            print(f"resident after {day} further days: {kib} KiB, ratio {kib / bare_kib:.3f}")


if __name__ == "__main__":
    main()
