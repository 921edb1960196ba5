"""Promise 13. The disk may fail.

Full, read-only or corrupt storage never stops the control; it is a finding.
A power cut at any byte leaves the old memory or the new one, and whatever is
found there, the compressor rests.
"""

import json
import re
import resource
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from bench_rig import Rig
from builders import bench_settings
from hypothesis import example, given, settings
from hypothesis import strategies as st

from reefguard.guard.recall import recalled
from reefguard.guard.settings_source import COPY_NAME
from reefguard.records import guard_memory, safe_levels
from reefguard.records.guard_memory import FILE_NAME, Kept, KeptOutput, Unreadable
from reefguard.rehearsal.bench import CHILLER, CUTOFF, FAN_1
from reefguard.vocabulary import Mode

KEPT = Kept(
    boot_id="9b2c6b1e-0000-4000-8000-000000000001",
    saved_s=5_000.0,
    saved_wall="2031-07-14T20:45:00+02:00",
    mode=Mode.AUTOMATIC,
    last_known_s=4_998.0,
    compressor_stopped_s=4_000.0,
    outputs={"fan1": KeptOutput(True, 1.0, 3_600.5, 7), "chiller": KeptOutput(False, 0.0, 120.0, 2)},
)


def _controls(rig: Rig) -> None:
    """See that the fans come and go, and the chiller comes, as the water asks."""
    rig.until(lambda: rig.pin(CUTOFF) == "1", "the cutoff permits")
    rig.water(27.0)
    rig.until(lambda: rig.pin(FAN_1) == "1", "the fans run")
    rig.water(26.0)
    rig.until(lambda: rig.pin(FAN_1) == "0", "the fans rest")
    rig.water(27.5)
    rig.until(rig.chiller_has_power, "the chiller runs")


def test_control_goes_on_without_a_state_directory_and_the_finding_goes_once_it_is_back(
    tmp_path: Path,
) -> None:
    with Rig(tmp_path) as rig:
        rig.cutoff()
        rig.until(lambda: rig.pin(CUTOFF) == "1", "the cutoff permits")
        shutil.move(rig.bench.state, tmp_path / "elsewhere")
        rig.bench.state.write_text("a file where the state directory belongs", encoding="utf-8")
        rig.guard()
        _controls(rig)
        finding = rig.findings()["storage failing"]
        assert str(rig.bench.state) in finding["what"]
        assert finding["mend"]

        rig.bench.state.unlink()
        shutil.move(tmp_path / "elsewhere", rig.bench.state)
        rig.until(lambda: "storage failing" not in rig.findings(), "the mended disk is seen to be in order")
        assert isinstance(guard_memory.load(rig.bench.state), Kept)
        assert safe_levels.load(rig.bench.state), "what a clean-up needs was not kept once it could be"
        assert (rig.bench.state / COPY_NAME).exists()
        assert rig.end("guard") == 0


def test_control_goes_on_when_no_file_can_grow(tmp_path: Path) -> None:
    # 512 bytes: a pin can be written, neither the memory nor the status can.
    with Rig(tmp_path) as rig:
        rig.cutoff()
        guard = subprocess.Popen(
            [sys.executable, "-m", "reefguard", "guard", "--settings", str(rig.bench.settings)],
            env=rig.environment(),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,  # its log is no file, and so can still be read
        )
        resource.prlimit(guard.pid, resource.RLIMIT_FSIZE, (512, 512))
        try:
            _controls(rig)
            guard.terminate()
            _, said = guard.communicate(timeout=60.0)
        finally:
            guard.kill()
            guard.wait()
        assert guard.returncode == 0
        assert rig.pin(CHILLER) == "0"
        assert re.search(rf"the (memory|events) in {rig.bench.state} cannot be written: .+", said.decode())
        assert f"the status file in {rig.bench.run} cannot be written: File too large" in said.decode()
        assert not (rig.bench.state / FILE_NAME).exists()
        assert not list(rig.bench.state.glob(".*")), "half-written files were left behind"


def test_a_memory_of_garbage_is_set_aside_and_said_and_control_begins_afresh(tmp_path: Path) -> None:
    garbage = b'{"checksum": "0", "memory": \x00'
    with Rig(tmp_path) as rig:
        (rig.bench.state / FILE_NAME).write_bytes(garbage)
        rig.guard()
        rig.until(lambda: rig.mode() == "automatic", "the guard is at work")
        assert f"the memory in {rig.bench.state} cannot be used" in rig.log()
        assert (rig.bench.state / f"{FILE_NAME}.unreadable").read_bytes() == garbage
        rig.until(lambda: isinstance(guard_memory.load(rig.bench.state), Kept), "a new memory is kept")


def test_the_log_may_be_closed_or_its_reader_gone(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        command = f'exec {sys.executable} -m reefguard guard --settings "{rig.bench.settings}"'
        for closed in ("2>&-", "2>/dev/full"):
            guard = subprocess.Popen(["bash", "-c", f"{command} {closed}"], env=rig.environment())
            try:
                rig.water(27.0)
                rig.until(lambda: rig.mode() == "automatic", f"the guard is at work with {closed}")
                rig.until(lambda: rig.pin(FAN_1) == "1", "the fans run")
                guard.terminate()
                assert guard.wait(60.0) == 0
            finally:
                guard.kill()
                guard.wait()


# A writer that the disk fails at a certain byte: what it could write of the file it writes, it has.
WRITER = """
import resource, sys
from pathlib import Path
sys.path.insert(0, {tests!r})
from reefguard.records import guard_memory
from test_13_the_disk_may_fail import KEPT
from dataclasses import replace
newer = replace(KEPT, saved_s=9_000.0)
for limit in range({most}):
    resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
    try:
        guard_memory.save(Path({directory!r}), newer)
    except OSError:
        pass
    else:
        sys.exit(f"saved within {{limit}} bytes")
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    if guard_memory.load(Path({directory!r})) != KEPT:
        sys.exit(f"lost at byte {{limit}}")
"""


def test_a_disk_that_fills_at_any_byte_leaves_the_old_memory_whole(tmp_path: Path) -> None:
    guard_memory.save(tmp_path, KEPT)
    size = (tmp_path / FILE_NAME).stat().st_size
    script = WRITER.format(tests=str(Path(__file__).parent), most=size, directory=str(tmp_path))
    tried = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=120.0, check=False,
        env={"PYTHONPATH": ":".join(sys.path)},
    )  # fmt: skip
    assert tried.returncode == 0, tried.stderr
    assert guard_memory.load(tmp_path) == KEPT
    assert [path.name for path in tmp_path.iterdir()] == [FILE_NAME]


def _content() -> bytes:
    """Return the bytes of a memory as it is kept."""
    body = {
        "format": "reefguard.memory/1",
        "boot_id": KEPT.boot_id,
        "saved_s": KEPT.saved_s,
        "saved_wall": KEPT.saved_wall,
        "mode": "automatic",
        "last_known_s": KEPT.last_known_s,
        "compressor_stopped_s": KEPT.compressor_stopped_s,
        "outputs": {
            "fan1": {"on": True, "level": 1.0, "elapsed_active_s": 3600.5, "changes": 7},
            "chiller": {"on": False, "level": 0.0, "elapsed_active_s": 120.0, "changes": 2},
        },
    }
    return json.dumps({"checksum": guard_memory._checksum(body), "memory": body}).encode()


GOOD = _content()


@given(st.integers(0, len(GOOD) - 1), st.integers(1, 255))
@example(GOOD.index(b"3600.5"), ord("3") ^ ord("9"))
@settings(deadline=None)
def test_a_byte_that_is_not_as_it_was_written_is_never_read_as_something_else(
    tmp_path_factory: pytest.TempPathFactory, at: int, change: int
) -> None:
    directory = tmp_path_factory.getbasetemp() / "flipped"
    directory.mkdir(exist_ok=True)
    (directory / FILE_NAME).write_bytes(GOOD[:at] + bytes([GOOD[at] ^ change]) + GOOD[at + 1 :])
    kept = guard_memory.load(directory)
    assert kept == KEPT or isinstance(kept, Unreadable)


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@st.composite
def sealed(draw: st.DrawFn) -> bytes:
    """Draw a memory with a value of any kind somewhere, and a checksum that is right all the same."""
    body = json.loads(GOOD)["memory"]
    at = body
    if draw(st.booleans()):
        at = body["outputs"][draw(st.sampled_from(["fan1", "chiller"]))]
    at[draw(st.sampled_from(sorted(at)))] = draw(values | st.just(10**400))
    return json.dumps({"checksum": guard_memory._checksum(body), "memory": body}).encode()


corrupted = st.one_of(
    st.binary(max_size=300),
    st.builds(lambda cut: GOOD[:cut], st.integers(0, len(GOOD))),
    st.builds(
        lambda at, bit: GOOD[:at] + bytes([GOOD[at] ^ (1 << bit)]) + GOOD[at + 1 :],
        st.integers(0, len(GOOD) - 1),
        st.integers(0, 7),
    ),
    sealed(),
    st.just(b"[" * 100_000),
)


@given(corrupted, st.floats(0.0, 1e6))
@example(GOOD, 5_001.0)
@settings(max_examples=300, deadline=None)
def test_whatever_stands_in_the_memory_it_is_read_or_set_aside_and_the_compressor_rests(
    tmp_path_factory: pytest.TempPathFactory, content: bytes, now_s: float
) -> None:
    directory = tmp_path_factory.getbasetemp() / "corrupted"
    shutil.rmtree(directory, ignore_errors=True)
    directory.mkdir()
    (directory / FILE_NAME).write_bytes(content)

    kept = guard_memory.load(directory)

    if isinstance(kept, Unreadable):
        assert kept.why
        assert kept.set_aside is not None
        assert kept.set_aside.read_bytes() == content
        assert guard_memory.load(directory) is None
        kept = None
    memory = recalled(kept, bench_settings(), now_s=now_s, boot_id=KEPT.boot_id)
    assert memory.chiller is not None
    assert not memory.chiller.compressor.running
    assert memory.chiller.compressor.since_s == now_s
    assert not memory.chiller.calling
    assert not any(counter.on for counter in memory.counters)
