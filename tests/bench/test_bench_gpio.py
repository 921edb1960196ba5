"""Pins as files, through gpiozero's own devices and in processes of their own."""

import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from gpiozero import DigitalInputDevice, InputDevice, OutputDevice, PinFixedPull, PWMOutputDevice
from gpiozero.exc import BadPinFactory

from reefguard.hardware.inputs import Contact
from reefguard.hardware.outputs import Relay, VariableFan, open_fan
from reefguard.rehearsal.bench_gpio import BenchFactory
from reefguard.settings.model import Contact as RelayContact
from reefguard.settings.model import Fan, FanSpeed, SensedInput, Wiring


@pytest.fixture
def bench(tmp_path: Path) -> BenchFactory:
    return BenchFactory(tmp_path)


def pin_file(bench: BenchFactory, number: int) -> Path:
    return bench.directory / f"GPIO{number}"


def test_an_output_is_a_file_that_says_its_level(bench: BenchFactory) -> None:
    device = OutputDevice(17, pin_factory=bench)
    assert pin_file(bench, 17).read_text() == "0"
    device.on()
    assert pin_file(bench, 17).read_text() == "1"
    assert device.value == 1
    device.off()
    assert pin_file(bench, 17).read_text() == "0"
    device.close()
    assert pin_file(bench, 17).read_text() == "in"


@pytest.mark.parametrize("active_high", [True, False])
@pytest.mark.parametrize("on", [True, False])
def test_an_output_starts_at_its_level_and_no_other(tmp_path: Path, active_high: bool, on: bool) -> None:
    """What is renamed over the file is all that it ever said."""
    bench = BenchFactory(tmp_path)
    written: list[str] = []
    replace = Path.replace

    def recording(source: Path, target: Path) -> Path:
        written.append(source.read_text())
        return replace(source, target)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Path, "replace", recording)
        device = OutputDevice(17, active_high=active_high, initial_value=on, pin_factory=bench)
    assert written == [str(int(on == active_high))]
    assert device.value == int(on)


def test_a_pin_that_is_only_named_keeps_its_level(bench: BenchFactory) -> None:
    pin_file(bench, 17).write_text("1")
    bench.pin(17)
    assert pin_file(bench, 17).read_text() == "1"


def test_an_output_without_an_initial_level_keeps_the_one_on_the_line(bench: BenchFactory) -> None:
    (bench.directory / "GPIO17.in").write_text("1")
    assert OutputDevice(17, initial_value=None, pin_factory=bench).value == 1


def test_pulses_are_a_share_and_their_ends_a_digit(bench: BenchFactory) -> None:
    device = PWMOutputDevice(18, pin_factory=bench)
    texts = []
    for value in (0, 0.35, 1, 0.123456, 0.00001):
        device.value = value
        texts.append(pin_file(bench, 18).read_text())
    assert texts == ["0", "0.35", "1", "0.1235", "0"]
    device.value = 0.35
    assert device.value == 0.35
    device.close()
    assert pin_file(bench, 18).read_text() == "in"


def test_an_input_reads_its_pull_until_the_world_drives_it(bench: BenchFactory) -> None:
    up = DigitalInputDevice(22, pull_up=True, pin_factory=bench)
    down = DigitalInputDevice(23, pull_up=False, pin_factory=bench)
    assert (up.pin.state, down.pin.state) == (1, 0)
    assert pin_file(bench, 22).read_text() == "in"
    (bench.directory / "GPIO22.in").write_text("0\n")
    (bench.directory / "GPIO23.in").write_text("1\n")
    assert (up.pin.state, down.pin.state) == (0, 1)
    (bench.directory / "GPIO22.in").unlink()
    assert up.pin.state == 1


def test_an_input_whose_file_is_being_written_keeps_its_level(bench: BenchFactory) -> None:
    device = InputDevice(22, pull_up=False, pin_factory=bench)
    world = bench.directory / "GPIO22.in"
    world.write_text("1")
    assert device.value == 1
    for half_written in ("", "yes", "7", "nan"):
        world.write_text(half_written)
        assert device.value == 1


def test_the_boards_pull_up_is_fixed(bench: BenchFactory) -> None:
    with pytest.raises(PinFixedPull):
        InputDevice(2, pull_up=False, pin_factory=bench)
    assert InputDevice(2, pull_up=True, pin_factory=bench).pin.state == 1


def test_driving_again_puts_right_what_another_program_wrote(bench: BenchFactory) -> None:
    relay = Relay("chiller", Wiring(17), bench)
    relay.drive(1.0)
    for wrong in ("0", "in", "", "rubbish"):
        pin_file(bench, 17).write_text(wrong)
        relay.drive(1.0)
        assert pin_file(bench, 17).read_text() == "1"
    pin_file(bench, 17).unlink()
    relay.drive(1.0)
    assert pin_file(bench, 17).read_text() == "1"


def test_read_back_is_what_the_file_says_or_an_error_in_words(bench: BenchFactory) -> None:
    relay = Relay("chiller", Wiring(17), bench)
    relay.drive(1.0)
    assert relay.read_back()
    pin_file(bench, 17).write_text("0")
    assert not relay.read_back()
    pin_file(bench, 17).write_text("in")
    with pytest.raises(OSError, match="GPIO17 says 'in' where a level was written"):
        relay.read_back()
    pin_file(bench, 17).unlink()
    with pytest.raises(FileNotFoundError):
        relay.read_back()


def test_a_level_that_stands_is_not_written_again(bench: BenchFactory) -> None:
    relay = Relay("chiller", Wiring(17), bench)
    written = pin_file(bench, 17).stat()
    relay.drive(0.0)
    assert pin_file(bench, 17).stat().st_ino == written.st_ino


def test_no_reader_ever_sees_less_than_a_level(bench: BenchFactory) -> None:
    relay = Relay("chiller", Wiring(17), bench)
    seen: set[str] = set()
    done = threading.Event()

    def watch() -> None:
        while not done.is_set():
            seen.add(pin_file(bench, 17).read_text())

    watcher = threading.Thread(target=watch)
    watcher.start()
    for turn in range(2000):
        relay.drive(float(turn % 2))
    done.set()
    watcher.join()
    assert seen <= {"0", "1"}
    assert [file.name for file in bench.directory.iterdir()] == ["GPIO17"]


def test_no_end_of_an_output_lets_go_of_its_pin(bench: BenchFactory) -> None:
    relay = Relay("chiller", Wiring(17, active_high=False), bench)
    del relay
    assert pin_file(bench, 17).read_text() == "1"


@pytest.mark.parametrize(
    ("wiring", "off", "slow", "on"),
    [
        (Wiring(18), "0", "0.3", "1"),
        (Wiring(18, active_high=False), "1", "0.7", "0"),
        (Wiring(18, contact=RelayContact.NORMALLY_CLOSED), "1", "0.7", "0"),
    ],
)
@pytest.mark.parametrize("runs_at_rest", [False, True])
def test_a_fan_starts_as_it_is_at_rest_and_turns_as_told(
    bench: BenchFactory, wiring: Wiring, off: str, slow: str, on: str, runs_at_rest: bool
) -> None:
    fan = open_fan(Fan("fan", wiring, runs_at_rest, speed=FanSpeed(100.0, 0.3, 27.0)), bench)
    assert isinstance(fan, VariableFan)
    assert pin_file(bench, 18).read_text() == (on if runs_at_rest else off)
    assert fan.read_back() is runs_at_rest
    for level, text in ((0.3, slow), (1.0, on), (0.3, slow), (0.0, off)):
        fan.drive(level)
        assert pin_file(bench, 18).read_text() == text
        assert fan.read_back() is (level > 0)


@pytest.mark.parametrize("runs_at_rest", [False, True])
def test_a_fan_without_a_speed_is_on_or_off(bench: BenchFactory, runs_at_rest: bool) -> None:
    fan = open_fan(Fan("fan", Wiring(18), runs_at_rest), bench)
    assert pin_file(bench, 18).read_text() == str(int(runs_at_rest))
    fan.drive(0.3)
    assert pin_file(bench, 18).read_text() == "1"


def test_a_contact_follows_the_world(bench: BenchFactory) -> None:
    contact = Contact("lights", SensedInput(22, active_high=False), bench)
    assert contact.sense() is False
    (bench.directory / "GPIO22.in").write_text("0")
    assert contact.sense() is True
    (bench.directory / "GPIO22.in").unlink()
    (bench.directory / "GPIO22.in").mkdir()
    assert contact.sense() is None


def test_a_bench_that_is_gone_is_no_trouble_at_the_end(tmp_path: Path) -> None:
    device = OutputDevice(17, pin_factory=BenchFactory(tmp_path / "bench"))
    for file in (tmp_path / "bench" / "gpio").iterdir():
        file.unlink()
    (tmp_path / "bench" / "gpio").rmdir()
    device.close()


def test_without_a_bench_it_says_what_to_set(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("REEFGUARD_BENCH", raising=False)
    with pytest.raises(BadPinFactory, match="REEFGUARD_BENCH is not set; set it to the bench's directory"):
        BenchFactory()


def test_a_bench_that_cannot_be_made_is_told_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(BadPinFactory, match="cannot be made"):
        BenchFactory(tmp_path / "file")


def in_a_process(program: str, bench: Path) -> subprocess.Popen[str]:
    environment = {**os.environ, "GPIOZERO_PIN_FACTORY": "bench", "REEFGUARD_BENCH": str(bench)}
    return subprocess.Popen(
        [sys.executable, "-c", program],
        env=environment,
        text=True,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )


def test_gpiozero_finds_it_by_its_name(tmp_path: Path) -> None:
    program = (
        "import gpiozero; d = gpiozero.OutputDevice(17, active_high=False); print(d.value); d.on(); input()"
    )
    with in_a_process(program, tmp_path) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "0\n"
        out, err = process.communicate("\n", timeout=60)
    assert (out, err, process.returncode) == ("", "", 0)
    assert (tmp_path / "gpio" / "GPIO17").read_text() == "in"


@pytest.mark.parametrize("end", ["exit", "kill"])
def test_our_outputs_outlive_their_process(tmp_path: Path, end: str) -> None:
    program = (
        "from reefguard.hardware.gpio import open_factory\n"
        "from reefguard.hardware.outputs import Relay\n"
        "from reefguard.settings.model import Wiring\n"
        "relay = Relay('fan', Wiring(17), open_factory())\n"
        "relay.drive(1.0)\n"
        "print('driven', flush=True)\n"
        "input()\n"
    )
    with in_a_process(program, tmp_path) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "driven\n"
        if end == "kill":
            process.send_signal(signal.SIGKILL)
        _, err = process.communicate("\n" if end == "exit" else None, timeout=60)
    assert err == ""
    assert (tmp_path / "gpio" / "GPIO17").read_text() == "1"
