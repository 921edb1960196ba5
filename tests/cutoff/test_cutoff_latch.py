"""The latch file: exactly what was written, or held off."""

import contextlib
import errno
import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reefguard.cutoff import durable
from reefguard.cutoff.latch import (
    FILE_NAME,
    Latch,
    LatchKeeper,
    latch_from_text,
    latch_of,
    latch_text,
    read_latch,
    write_clear_latch,
)
from reefguard.cutoff.trip import Cause, HeldOff, Hold, Tripped, at_start

SINCE = "2031-07-14 03:12:09+02:00"
BOOT = "0f7c2a51-6a43-4cf2-9a54-2f9e0a3b8c11"
TRIPPED = Latch(Tripped(Cause.TOO_COLD, 24.3125), (4511.25, 80012.5), BOOT, SINCE)
CLEAR = Latch(since=SINCE)

numbers = st.floats(allow_nan=False, allow_infinity=False)
trips = st.builds(Tripped, st.sampled_from(Cause), st.none() | numbers)
latches = st.one_of(
    st.builds(Latch, st.none() | trips),
    st.builds(Latch, st.none() | trips, st.lists(numbers, min_size=1, max_size=5).map(tuple), st.just(BOOT)),
)


def test_a_person_can_read_it() -> None:
    assert latch_text(TRIPPED) == (
        "reefguard cutoff latch, version 1\n"
        "state: tripped\n"
        "cause: too cold\n"
        "water: 24.3125 °C\n"
        f"since: {SINCE}\n"
        f"losses: {BOOT} 4511.25 80012.5\n"
        "checksum: b6d00757\n"
    )


@given(latches)
def test_what_was_written_is_what_is_read(latch: Latch) -> None:
    assert latch_from_text(latch_text(latch)) == latch


def test_the_time_of_a_trip_is_kept() -> None:
    again = latch_from_text(latch_text(TRIPPED))
    assert again is not None
    assert again.since == SINCE


@pytest.mark.parametrize("latch", [TRIPPED, CLEAR], ids=["tripped", "clear"])
def test_a_power_cut_at_any_byte_leaves_no_latch(latch: Latch) -> None:
    text = latch_text(latch)
    assert [latch_from_text(text[:length]) for length in range(len(text))] == [None] * len(text)


@pytest.mark.parametrize("latch", [TRIPPED, CLEAR], ids=["tripped", "clear"])
def test_any_changed_byte_leaves_no_latch(latch: Latch, tmp_path: Path) -> None:
    content = latch_text(latch).encode()
    for position in range(len(content)):
        for bit in range(8):
            damaged = bytearray(content)
            damaged[position] ^= 1 << bit
            (tmp_path / FILE_NAME).write_bytes(damaged)
            assert read_latch(tmp_path) is None


@given(st.text())
def test_any_other_text_is_no_latch(text: str) -> None:
    assert latch_from_text(text) is None


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("version 1", "version 2"),
        ("state: tripped", "state: clear"),
        ("too cold", "too dull"),
        ("too cold", "none"),
        ("24.3125", "24.31250"),
        ("4511.25", "04511.25"),
        ("\n", "\r\n"),
        ("losses", "\nlosses"),
    ],
)
def test_a_text_that_checks_but_was_never_written_is_no_latch(old: str, new: str) -> None:
    body = latch_text(TRIPPED).rsplit("checksum", 1)[0].replace(old, new)
    text = f"{body}checksum: {crc32(body)}\n"
    assert latch_from_text(text) is None


def crc32(body: str) -> str:
    """Compute CRC-32 (ISO 3309) bit by bit, apart from the library's."""
    crc = 0xFFFFFFFF
    for octet in body.encode():
        crc ^= octet
        for _ in range(8):
            crc = crc >> 1 ^ (0xEDB88320 if crc & 1 else 0)
    return f"{crc ^ 0xFFFFFFFF:08x}"


def test_the_checksum_is_the_published_one() -> None:
    assert crc32("123456789") == "cbf43926"  # the check value of CRC-32 in Rocksoft's catalogue
    body = latch_text(CLEAR).rsplit("checksum", 1)[0]
    assert latch_text(CLEAR).endswith(f"checksum: {crc32(body)}\n")


def test_losses_of_another_boot_count_as_of_its_start() -> None:
    assert TRIPPED.losses_in(BOOT) == (4511.25, 80012.5)
    assert TRIPPED.losses_in("another") == (0.0, 0.0)


def test_what_is_remembered_of_a_cutoff() -> None:
    trip = Tripped(Cause.TOO_COLD, 24.0)
    assert latch_of(at_start(trip, losses_s=(3.0,), now_s=9.0), BOOT, SINCE) == Latch(trip, (3.0,), BOOT)
    cutoff = at_start(None, now_s=9.0)
    assert cutoff.state == HeldOff(Hold.STARTING)
    assert latch_of(cutoff, BOOT, SINCE) == Latch()
    assert latch_of(cutoff, BOOT, SINCE).since == SINCE


@contextlib.contextmanager
def as_nobody() -> Iterator[None]:
    """Be a user without rights, as far as the kernel is concerned: root ignores permissions."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.fixture
def open_directory() -> Iterator[Path]:
    """A directory that another user can come to."""
    with tempfile.TemporaryDirectory() as made:
        directory = Path(made)
        directory.chmod(0o755)
        yield directory
        directory.chmod(0o755)


def test_a_missing_directory_or_file_is_no_latch(tmp_path: Path) -> None:
    assert read_latch(tmp_path) is None
    assert read_latch(tmp_path / "none") is None
    (tmp_path / FILE_NAME).mkdir()
    assert read_latch(tmp_path) is None


def test_a_latch_that_may_not_be_read_is_no_latch(open_directory: Path) -> None:
    write_clear_latch(open_directory, SINCE)
    with as_nobody():
        assert read_latch(open_directory) == Latch()
    (open_directory / FILE_NAME).chmod(0)
    with as_nobody():
        assert read_latch(open_directory) is None


def test_an_endless_file_is_no_latch(tmp_path: Path) -> None:
    (tmp_path / FILE_NAME).symlink_to("/dev/zero")
    assert read_latch(tmp_path) is None


def test_the_first_latch_is_clear_and_for_everybody_to_read(tmp_path: Path) -> None:
    write_clear_latch(tmp_path, SINCE)
    assert read_latch(tmp_path) == Latch()
    assert (tmp_path / FILE_NAME).stat().st_mode & 0o777 == 0o644
    assert [path.name for path in tmp_path.iterdir()] == [FILE_NAME]


def test_it_writes_only_what_changed(tmp_path: Path) -> None:
    keeper = LatchKeeper(tmp_path, None)
    assert keeper.keep(TRIPPED) is None
    (tmp_path / FILE_NAME).unlink()
    assert keeper.keep(TRIPPED) is None
    assert not (tmp_path / FILE_NAME).exists()
    assert keeper.keep(CLEAR) is None
    assert read_latch(tmp_path) == CLEAR


def test_the_order_that_a_power_cut_cannot_break(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    did: list[str] = []
    fsync, replace = os.fsync, Path.replace

    def seen_fsync(descriptor: int) -> None:
        did.append(f"fsync {Path(f'/proc/self/fd/{descriptor}').readlink().name}")
        fsync(descriptor)

    def seen_replace(self: Path, target: Path) -> Path:
        did.append(f"rename to {target.name}")
        return replace(self, target)

    monkeypatch.setattr(os, "fsync", seen_fsync)
    monkeypatch.setattr(Path, "replace", seen_replace)
    LatchKeeper(tmp_path, None).keep(TRIPPED)
    assert did == ["fsync .latch.new", "rename to latch", f"fsync {tmp_path.name}"]


@pytest.fixture
def full_disk(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """Let every write of a new file fail as on a full disk; emptying still works."""

    def no_space(path: Path, content: bytes, mode: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("reefguard.cutoff.latch.write_durably", no_space)
    return monkeypatch


def test_a_trip_on_a_full_disk_empties_the_old_latch_and_is_written_later(
    tmp_path: Path, full_disk: pytest.MonkeyPatch
) -> None:
    (tmp_path / FILE_NAME).write_text(latch_text(CLEAR), encoding="utf-8")
    keeper = LatchKeeper(tmp_path, CLEAR)
    for _ in range(2):
        said = keeper.keep(TRIPPED)
        assert said is not None
        assert "No space left" in said
        assert "emptied instead" in said
        assert (tmp_path / FILE_NAME).read_bytes() == b""
    full_disk.undo()
    assert keeper.keep(TRIPPED) is None
    assert read_latch(tmp_path) == TRIPPED


def test_a_trip_on_a_full_disk_without_a_latch_is_held_off_just_as_well(
    tmp_path: Path, full_disk: pytest.MonkeyPatch
) -> None:
    said = LatchKeeper(tmp_path, None).keep(TRIPPED)
    assert said is not None
    assert "holds cooling off after a restart too" in said
    assert read_latch(tmp_path) is None


def test_an_emptied_latch_is_emptied_again_after_it_could_be_written(
    tmp_path: Path, full_disk: pytest.MonkeyPatch
) -> None:
    keeper = LatchKeeper(tmp_path, None)
    keeper.keep(TRIPPED)
    full_disk.undo()
    assert keeper.keep(CLEAR) is None
    full_disk.setattr("reefguard.cutoff.durable.os.fsync", no_fsync)
    said = keeper.keep(TRIPPED)
    assert said is not None
    assert (tmp_path / FILE_NAME).read_bytes() == b""


def no_fsync(descriptor: int) -> None:
    raise OSError(errno.EIO, os.strerror(errno.EIO))


def test_a_loss_on_a_full_disk_leaves_the_old_latch(tmp_path: Path, full_disk: pytest.MonkeyPatch) -> None:
    (tmp_path / FILE_NAME).write_text(latch_text(CLEAR), encoding="utf-8")
    said = LatchKeeper(tmp_path, CLEAR).keep(Latch(None, (5.0,), BOOT))
    assert said is not None
    assert "No space left" in said
    assert read_latch(tmp_path) == CLEAR


def test_a_failed_write_leaves_nothing_beside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_clear_latch(tmp_path, SINCE)
    monkeypatch.setattr(os, "fsync", no_fsync)
    with pytest.raises(OSError, match="Input/output error"):
        durable.write_durably(tmp_path / FILE_NAME, b"new", 0o644)
    monkeypatch.undo()
    assert [path.name for path in tmp_path.iterdir()] == [FILE_NAME]
    assert read_latch(tmp_path) == Latch()


def test_a_trip_on_a_read_only_directory_is_said_to_be_forgettable(open_directory: Path) -> None:
    (open_directory / FILE_NAME).write_text(latch_text(CLEAR), encoding="utf-8")
    (open_directory / FILE_NAME).chmod(0o444)
    open_directory.chmod(0o555)
    keeper = LatchKeeper(open_directory, CLEAR)
    with as_nobody():
        said = keeper.keep(TRIPPED)
    assert said is not None
    assert "nor emptied" in said
    assert "restart would forget it" in said


# A real refusal of the kernel, in a real process: no file may grow beyond 16 bytes.
def test_a_trip_under_a_file_size_limit_of_the_kernel(tmp_path: Path) -> None:
    write_clear_latch(tmp_path, SINCE)
    program = (
        "from pathlib import Path\n"
        "from reefguard.cutoff.latch import *\n"
        "from reefguard.cutoff.trip import *\n"
        f"keeper = LatchKeeper(Path({str(tmp_path)!r}), Latch())\n"
        "print(keeper.keep(Latch(Tripped(Cause.TOO_COLD, 24.0))))\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (16, 16)),
    )
    assert "File too large" in ran.stdout
    assert "emptied instead" in ran.stdout
    assert (tmp_path / FILE_NAME).read_bytes() == b""
    assert read_latch(tmp_path) is None
