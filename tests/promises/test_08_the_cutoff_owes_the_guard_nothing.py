"""Promise 8: whatever the guard does, the cutoff's decision is the same."""

import ast
import json
import resource
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from cutoff_bench import DEADLINE_S, CutoffBench

import reefguard.cutoff
from reefguard.rehearsal.bench import Bench, prepare

# The largest size that the kernel lets a file of a process grow to, now and at most.
FULL, ROOMY = (16, resource.RLIM_INFINITY), (resource.RLIM_INFINITY, resource.RLIM_INFINITY)

SOURCES = sorted(Path(reefguard.cutoff.__file__).parent.glob("*.py"))


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[CutoffBench]:
    made = CutoffBench(tmp_path)
    yield made
    made.stop()


class Guarded:
    """The cutoff's bench with a guard on it too."""

    def __init__(self, cutoff: CutoffBench) -> None:
        self.cutoff = cutoff
        self.places: Bench = prepare(cutoff.directory)
        with (cutoff.directory / "guard-log").open("w", encoding="utf-8") as log:
            self.guard = subprocess.Popen(
                [sys.executable, "-m", "reefguard", "guard", "--settings", str(self.places.settings)],
                env=cutoff.environment(),
                stderr=log,
            )
        cutoff.until((self.places.run / "status.json").exists)

    def end(self) -> None:
        """Make sure that no guard is left."""
        self.guard.kill()
        self.guard.wait(timeout=DEADLINE_S)


@pytest.fixture
def guarded(bench: CutoffBench) -> Iterator[Guarded]:
    made = Guarded(bench)
    yield made
    made.end()


def nothing(guarded: Guarded) -> None:
    """The guard goes on."""


def dies(guarded: Guarded) -> None:
    guarded.guard.send_signal(signal.SIGKILL)
    guarded.guard.wait(timeout=DEADLINE_S)


def hangs(guarded: Guarded) -> None:
    guarded.guard.send_signal(signal.SIGSTOP)


def stops(guarded: Guarded) -> None:
    guarded.guard.send_signal(signal.SIGTERM)
    guarded.guard.wait(timeout=DEADLINE_S)


def lies(guarded: Guarded) -> None:
    """It is taken over, and says that all is well and what the cutoff shall do."""
    dies(guarded)
    lie = json.dumps({"state": "permitting", "permits": True, "water_c": 26.0, "reset": True})
    (guarded.places.run / "status.json").write_text(lie, encoding="utf-8")
    (guarded.places.run / "requests").mkdir()
    (guarded.places.run / "requests" / "reset").write_text("guard", encoding="utf-8")
    (guarded.places.cutoff_run / "status.json").write_text(lie, encoding="utf-8")


def fills_the_disk(guarded: Guarded) -> None:
    """No file of the cutoff's can grow beyond 16 bytes from now on."""
    assert guarded.cutoff.process is not None
    resource.prlimit(guarded.cutoff.process.pid, resource.RLIMIT_FSIZE, FULL)


@pytest.mark.parametrize("deed", [nothing, dies, hangs, stops, lies, fills_the_disk])
def test_the_decision_is_the_same_whatever_the_guard_does(
    guarded: Guarded, deed: Callable[[Guarded], None]
) -> None:
    cutoff = guarded.cutoff
    cutoff.start_permitting()
    deed(guarded)
    assert cutoff.level() == "1"
    cutoff.water(24.5)
    cutoff.until(lambda: cutoff.level() == "0")
    cutoff.water(26.0)
    cutoff.until(lambda: "state: tripped" in cutoff.latch() or cutoff.latch() == "")

    # Tripped it stays, over the restart too, and however little the disk took.
    cutoff.end(signal.SIGKILL)
    cutoff.start()
    cutoff.until_state("tripped")
    cutoff.samples_pass(300.0)
    assert cutoff.level() == "0"


def test_a_full_disk_empties_the_latch_and_is_told(bench: CutoffBench) -> None:
    bench.start_permitting()
    assert bench.process is not None
    resource.prlimit(bench.process.pid, resource.RLIMIT_FSIZE, FULL)
    bench.water(24.0)
    bench.until(lambda: bench.level() == "0")
    bench.until(lambda: bench.latch() == "")
    # Space again: the trip itself is written, with its cause.
    resource.prlimit(bench.process.pid, resource.RLIMIT_FSIZE, ROOMY)
    bench.until(lambda: "cause: too cold" in bench.latch())


def test_it_opens_no_file_of_the_guards(guarded: Guarded) -> None:
    cutoff = guarded.cutoff
    cutoff.start_permitting()
    assert cutoff.process is not None
    held = {str(path.readlink()) for path in Path(f"/proc/{cutoff.process.pid}/fd").iterdir()}
    of_guard = (str(guarded.places.run), str(guarded.places.state))
    assert not [path for path in held if path.startswith(of_guard)]
    for source in SOURCES:
        assert "/run/reefguard/" not in source.read_text(encoding="utf-8")


@pytest.mark.parametrize("source", SOURCES, ids=lambda source: source.name)
def test_it_imports_nothing_of_the_guards(source: Path) -> None:
    for name in imported(source):
        if name.startswith("reefguard"):
            assert name == "reefguard.cutoff" or name.startswith("reefguard.cutoff."), name
        assert name.split(".")[0] not in {"threading", "apscheduler", "w1thermsensor", "multiprocessing"}
        if source.name != "service.py":
            assert name != "socket"


def imported(source: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield node.module or ""


@pytest.mark.parametrize("source", SOURCES, ids=lambda source: source.name)
def test_it_decides_nothing_by_the_wall_clock(source: Path) -> None:
    """A clock set by a person, a time server or a hostile guard cannot reach a decision."""
    text = source.read_text(encoding="utf-8")
    assert "time.time(" not in text
    assert "CLOCK_REALTIME" not in text
    if source.name != "clock.py":
        assert "datetime" not in text
