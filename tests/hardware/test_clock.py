"""The machine's clocks, and when its wall clock is believed."""

import time
from datetime import datetime
from pathlib import Path

import pytest

from reefguard.hardware.clock import SystemClock, ask_kernel, synchronized_in


@pytest.fixture
def boot_id_file(tmp_path: Path) -> Path:
    file = tmp_path / "boot_id"
    file.write_text("b1946ac9-2f1d-4b6e-9d6f-1d5a6f0c7e21\n", encoding="ascii")
    return file


def clock_in(
    tmp_path: Path, boot_id_file: Path, *, always_right: bool = False, kernel: bool | None = None
) -> SystemClock:
    return SystemClock(
        always_right=always_right,
        boot_id_file=boot_id_file,
        synchronized_file=tmp_path / "synchronized",
        kernel_synchronized=lambda: kernel,
    )


@pytest.mark.parametrize(
    ("always_right", "file", "kernel", "trusted"),
    [
        (False, False, None, False),
        (False, False, False, False),
        (False, False, True, True),
        (False, True, None, True),
        (False, True, False, True),
        (True, False, None, True),
        (True, False, False, True),
    ],
)
def test_the_wall_clock_is_trusted_when_one_of_three_vouches_for_it(
    tmp_path: Path, boot_id_file: Path, always_right: bool, file: bool, kernel: bool | None, trusted: bool
) -> None:
    if file:
        (tmp_path / "synchronized").touch()
    clock = clock_in(tmp_path, boot_id_file, always_right=always_right, kernel=kernel)
    assert clock.wall().trusted is trusted


def test_trust_is_asked_for_again_after_ten_seconds_not_at_each_tick(
    tmp_path: Path, boot_id_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = clock_in(tmp_path, boot_id_file)
    now_s = 500.0
    monkeypatch.setattr(SystemClock, "boot_s", lambda _: now_s)
    assert not clock.wall().trusted
    (tmp_path / "synchronized").touch()
    now_s = 509.9
    assert not clock.wall().trusted
    now_s = 510.0
    assert clock.wall().trusted
    (tmp_path / "synchronized").unlink()
    assert clock.wall().trusted
    now_s = 520.0
    assert not clock.wall().trusted


def test_local_time_bears_its_offset(tmp_path: Path, boot_id_file: Path) -> None:
    before = datetime.now().astimezone()
    local = clock_in(tmp_path, boot_id_file).wall().local
    assert local.utcoffset() == before.utcoffset()
    assert before <= local <= datetime.now().astimezone()


def test_boot_time_is_the_kernels(tmp_path: Path, boot_id_file: Path) -> None:
    clock = clock_in(tmp_path, boot_id_file)
    before_s = time.clock_gettime(time.CLOCK_BOOTTIME)
    assert before_s <= clock.boot_s() <= time.clock_gettime(time.CLOCK_BOOTTIME)
    assert clock.real_seconds(2.5) == 2.5
    assert clock.boot_id() == "b1946ac9-2f1d-4b6e-9d6f-1d5a6f0c7e21"


def test_this_machine_has_all_that_the_clock_asks_by_default() -> None:
    assert SystemClock().boot_id() == SystemClock().boot_id() != ""


@pytest.mark.parametrize(
    ("state", "status", "synchronized"),
    # adjtimex(2): 0 to 4 are a clock in order, whatever the leap second; 5 is TIME_ERROR.
    # 0x40 is STA_UNSYNC, 0x2001 STA_NANO and STA_PLL.
    [
        (0, 0x2001, True),
        (1, 0x2001, True),
        (4, 0x2001, True),
        (5, 0x2001, False),
        (5, 0x0040, False),
        (0, 0x2041, False),
        (-1, 0, None),
    ],
)
def test_the_kernels_answer(state: int, status: int, synchronized: bool | None) -> None:
    assert synchronized_in(state, status) is synchronized


def test_the_kernel_can_be_asked() -> None:
    assert ask_kernel() in {True, False, None}
