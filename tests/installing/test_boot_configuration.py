"""The boot configuration: what is missing is shown, and added only after somebody said yes."""

import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from installed_root import CHECKOUT
from setting_up import asked
from setting_up.boot_lines import missing, wanted, with_lines
from setting_up.machine import Machine, Talk

# Raspberry Pi documentation, config.txt: comments, filters, parameters in one line or in several.
USUAL = """\
# For more options and information see the documentation
dtparam=audio=on
camera_auto_detect=1
dtoverlay=vc4-kms-v3d

[cm5]
dtoverlay=dwc2,dr_mode=host

[all]
"""

lines = st.lists(
    st.sampled_from(
        [
            "[all]", "[pi4]", "[none]", "", "# dtparam=strict_gpiod", "dtparam=strict_gpiod",
            "dtparam=i2c_arm=on",
            "dtparam=spi=on,strict_gpiod=on", "dtparam=strict_gpiod=off", "dtoverlay=w1-gpio",
            "dtoverlay=w1-gpio,gpiopin=24", "dtoverlay=w1-gpio,pullup=1,gpiopin=17", "enable_uart=1",
        ]
    )
).map("\n".join)  # fmt: skip


@given(lines)
def test_with_what_is_missing_added_nothing_is_missing_and_nothing_is_lost(text: str) -> None:
    added = with_lines(text, missing(text, wanted()))
    assert missing(added, wanted()) == ()
    assert added.startswith(text)
    assert with_lines(added, missing(added, wanted())) == added


@pytest.mark.parametrize(
    ("text", "lacking"),
    [
        (USUAL, 3),
        ("dtparam=strict_gpiod\ndtoverlay=w1-gpio\ndtoverlay=w1-gpio,gpiopin=24", 0),
        ("dtparam=i2c_arm=on,strict_gpiod\ndtoverlay=w1-gpio,gpiopin=4\ndtoverlay=w1-gpio,gpiopin=24", 0),
        ("[pi5]\ndtparam=strict_gpiod\n[all]\ndtoverlay=w1-gpio\ndtoverlay=w1-gpio,gpiopin=24", 1),
        ("# dtparam=strict_gpiod\ndtoverlay=w1-gpio\ndtoverlay=w1-gpio,gpiopin=24", 1),
        ("dtparam=strict_gpiod=off\ndtoverlay=w1-gpio\ndtoverlay=w1-gpio,gpiopin=24", 1),
        ("dtparam=strict_gpiod\ndtoverlay=w1-gpio\ndtoverlay=w1-gpio,gpiopin=25", 1),
    ],
)
def test_a_line_counts_where_it_holds_for_every_board(text: str, lacking: int) -> None:
    assert len(missing(text, wanted())) == lacking


def test_another_bus_may_be_the_cutoffs() -> None:
    assert wanted(25)[-1].line == "dtoverlay=w1-gpio,gpiopin=25"


ASK = """
import sys
from pathlib import Path
from setting_up.asked import boot_configuration, hardware_watchdog
from setting_up.machine import Machine, Talk
machine = Machine(root=Path(sys.argv[1]), checkout=Path(sys.argv[2]))
boot_configuration(machine, Talk(), 24, dry_run=False)
hardware_watchdog(machine, Talk(), dry_run=False)
"""


@pytest.fixture(name="pi")
def _pi(tmp_path: Path) -> Path:
    for name, text in (("boot/firmware/config.txt", USUAL), ("dev/watchdog", "")):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def _asked_at_a_terminal(root: Path, answers: bytes) -> str:
    """Run both questions at a real terminal, and type; return what was on it."""
    ours, theirs = pty.openpty()
    command = [sys.executable, "-c", ASK, str(root), str(CHECKOUT)]
    environment = os.environ | {"PYTHONPATH": str(CHECKOUT / "systemd")}
    with subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs, env=environment) as asking:
        os.close(theirs)
        os.write(ours, answers)
        shown = b""
        while True:
            try:
                shown += (piece := os.read(ours, 4096))
            except OSError:  # the other end is closed
                break
            if not piece:
                break
        assert asking.wait() == 0, shown.decode()
    os.close(ours)
    return shown.decode()


def test_a_yes_adds_the_lines_and_keeps_a_dated_copy(pi: Path) -> None:
    shown = _asked_at_a_terminal(pi, b"y\nyes\n")
    assert "dtparam=strict_gpiod" in shown
    changed = pi / "boot/firmware/config.txt"
    assert missing(changed.read_text(encoding="utf-8"), wanted()) == ()
    (copy,) = changed.parent.glob("config.txt.before-reefguard-20*")
    assert copy.read_text(encoding="utf-8") == USUAL
    drop_in = pi / asked.WATCHDOG.lstrip("/")
    assert "RuntimeWatchdogSec=14" in drop_in.read_text(encoding="utf-8").splitlines()
    # And nothing is asked again.
    assert "[y/N]" not in _asked_at_a_terminal(pi, b"")


@pytest.mark.parametrize("answers", [b"\n\n", b"n\nno\n", b"perhaps\n?\n", b"\x04\x04"])
def test_anything_but_a_yes_changes_nothing(pi: Path, answers: bytes) -> None:
    before = sorted(pi.rglob("*"))
    shown = _asked_at_a_terminal(pi, answers)
    assert "left as it is" in shown
    assert (pi / "boot/firmware/config.txt").read_text(encoding="utf-8") == USUAL
    assert sorted(pi.rglob("*")) == before


def test_without_a_terminal_nothing_is_asked_and_nothing_changed(
    pi: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked.boot_configuration(Machine(root=pi, checkout=CHECKOUT), Talk(), 24, dry_run=False)
    assert "[y/N]" not in capsys.readouterr().out
    assert (pi / "boot/firmware/config.txt").read_text(encoding="utf-8") == USUAL


def test_a_file_that_is_no_utf_8_comes_back_as_it_was(pi: Path) -> None:
    file = pi / "boot/firmware/config.txt"
    file.write_bytes(b"# caf\xe9\r\n")
    _asked_at_a_terminal(pi, b"y\nn\n")
    assert file.read_bytes().startswith(b"# caf\xe9\r\n")
