"""The choice of what is behind the pins: explicit, by label, without a second choice."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from gpiozero import Device
from gpiozero.pins.mock import MockFactory

from reefguard.hardware.gpio import PI_CHIP_LABELS, find_chip, label_of, open_factory
from reefguard.hardware.inputs import Contact
from reefguard.hardware.outputs import VariableFan
from reefguard.hardware.unavailable import HardwareUnavailable
from reefguard.rehearsal.bench_gpio import BenchFactory
from reefguard.settings.model import FanSpeed, SensedInput, Wiring

# Which chip carries the header has changed: Pi 5 with early and with later kernels
# (raspberrypi/linux issue 6144), and models before it.
BOARDS = {
    "Pi 5, early": ({0: "gpio-brcmstb@107d508500", 4: "pinctrl-rp1", 10: "gpio-brcmstb@107d517c00"}, 4),
    "Pi 5, later": ({0: "pinctrl-rp1", 10: "gpio-brcmstb@107d508500", 11: "gpio-brcmstb@107d508520"}, 0),
    "Pi 4": ({0: "pinctrl-bcm2711", 1: "raspberrypi-exp-gpio", 2: "brcmvirt-gpio"}, 0),
    "Pi 3, expander first": ({0: "raspberrypi-exp-gpio", 1: "brcmvirt-gpio", 2: "pinctrl-bcm2835"}, 2),
}


@pytest.mark.parametrize(("labels", "header"), BOARDS.values(), ids=BOARDS.keys())
def test_the_chip_goes_by_its_label(tmp_path: Path, labels: dict[int, str], header: int) -> None:
    for number in labels:
        (tmp_path / f"gpiochip{number}").touch()
    (tmp_path / "gpiochip-not-one").touch()
    assert find_chip(tmp_path, lambda path: labels[int(path.name.removeprefix("gpiochip"))]) == header


def test_without_a_chip_it_says_what_else_there_is(tmp_path: Path) -> None:
    with pytest.raises(HardwareUnavailable, match=r"no GPIO chip: .*mend: .*GPIOZERO_PIN_FACTORY=bench"):
        open_factory({}, tmp_path)


def test_a_chip_of_another_machine_is_not_taken(tmp_path: Path) -> None:
    (tmp_path / "gpiochip0").touch()
    (tmp_path / "gpiochip1").touch()

    def label(path: Path) -> str:
        if path.name == "gpiochip1":
            raise OSError(25, "Inappropriate ioctl for device")
        return "INT34C6:00"

    with pytest.raises(HardwareUnavailable) as refusal:
        find_chip(tmp_path, label)
    message = str(refusal.value)
    assert f"{tmp_path}/gpiochip0 (INT34C6:00)" in message
    assert f"{tmp_path}/gpiochip1 (Inappropriate ioctl for device)" in message
    assert all(known in message for known in PI_CHIP_LABELS)


def test_a_chip_it_may_not_open_is_told_with_owner_mode_and_mend(tmp_path: Path) -> None:
    chip = tmp_path / "gpiochip0"
    chip.touch()
    chip.chmod(0o640)

    def label(path: Path) -> str:
        raise PermissionError(13, "Permission denied")

    with pytest.raises(HardwareUnavailable) as refusal:
        find_chip(tmp_path, label)
    assert f"{chip} may not be opened: it belongs to " in str(refusal.value)
    assert f"{chip.owner()}:{chip.group()}, mode 0640" in str(refusal.value)
    assert "group gpio" in str(refusal.value)


def test_a_chip_it_may_not_open_does_not_hide_the_one_it_may(tmp_path: Path) -> None:
    (tmp_path / "gpiochip0").touch()
    (tmp_path / "gpiochip4").touch()

    def label(path: Path) -> str:
        if path.name == "gpiochip0":
            raise PermissionError(13, "Permission denied")
        return "pinctrl-rp1"

    assert find_chip(tmp_path, label) == 4


def test_a_file_that_is_no_chip_has_no_label(tmp_path: Path) -> None:
    (tmp_path / "gpiochip0").touch()
    with pytest.raises(OSError, match=r"ioctl|Inappropriate"):
        label_of(tmp_path / "gpiochip0")


def test_an_unknown_factory_is_refused_and_no_other_taken(tmp_path: Path) -> None:
    (tmp_path / "gpiochip0").touch()
    asked: list[Path] = []

    def label(path: Path) -> str:
        asked.append(path)
        return "pinctrl-rp1"

    with pytest.raises(HardwareUnavailable, match=r"GPIOZERO_PIN_FACTORY is `bnech`.*bench"):
        open_factory({"GPIOZERO_PIN_FACTORY": "bnech"}, tmp_path, label)
    assert asked == []


def test_a_factory_that_does_not_start_is_refused_in_its_own_words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("REEFGUARD_BENCH", raising=False)
    with pytest.raises(HardwareUnavailable, match=r"`bench` does not start: .*REEFGUARD_BENCH is not set"):
        open_factory({"GPIOZERO_PIN_FACTORY": "bench"})


def test_the_named_factory_is_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("REEFGUARD_BENCH", str(tmp_path))
    assert isinstance(open_factory({"GPIOZERO_PIN_FACTORY": "bench"}), BenchFactory)
    assert type(open_factory({"GPIOZERO_PIN_FACTORY": "mock"})) is MockFactory


def test_gpiozeros_default_factory_stays_unset(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What it closes at exit is the default factory's devices; ours must outlive it."""
    monkeypatch.setenv("REEFGUARD_BENCH", str(tmp_path))
    Contact("lights", SensedInput(22), open_factory({"GPIOZERO_PIN_FACTORY": "bench"}))
    assert Device.pin_factory is None


def test_a_pin_that_cannot_be_pulsed_is_told_in_words() -> None:
    with pytest.raises(HardwareUnavailable, match="fan on GPIO18: it cannot be pulsed"):
        VariableFan("fan", Wiring(18), FanSpeed(100.0, 0.3, 27.0), MockFactory())


def test_a_missing_lgpio_is_told_in_words(tmp_path: Path) -> None:
    (tmp_path / "gpiochip0").touch()
    (tmp_path / "lgpio.py").write_text("raise ImportError('No module named lgpio')", encoding="utf-8")
    assert "sudo apt install python3-lgpio" in refused_by_a_fresh_interpreter(tmp_path)


def test_an_lgpio_that_cannot_make_its_pipe_is_told_in_words(tmp_path: Path) -> None:
    (tmp_path / "gpiochip0").touch()
    (tmp_path / "lgpio.py").write_text("open('/nowhere/.lgd-nfy-3', 'rb')", encoding="utf-8")
    refusal = refused_by_a_fresh_interpreter(tmp_path)
    assert f"could not make its pipe in the working directory {tmp_path}" in refusal
    assert "RuntimeDirectory=" in refusal


def refused_by_a_fresh_interpreter(directory: Path) -> str:
    """Return how `open_factory` refuses where `directory` holds both the lgpio and the chips."""
    program = (
        "from pathlib import Path\n"
        "from reefguard.hardware.gpio import open_factory\n"
        "from reefguard.hardware.unavailable import HardwareUnavailable\n"
        "try:\n"
        "    open_factory({}, Path.cwd(), lambda path: 'pinctrl-rp1')\n"
        "except HardwareUnavailable as refusal:\n"
        "    print(refusal)\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(directory)}
    ran = subprocess.run(
        [sys.executable, "-c", program], cwd=directory, env=environment, check=True, capture_output=True
    )
    return ran.stdout.decode()
