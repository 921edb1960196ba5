"""What reaches the lines through lgpio: every call, in order, against a stub that records them.

The stub knows what lgpio's C source does (joan2937/lg, lgGpio.c and lgPthTx.c) where it matters
here, and keeps the levels each line went through.  A mock pin would hide all of this.
"""

import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from gpiozero import OutputDevice, PinInvalidFunction, PWMOutputDevice
from gpiozero.pins import Factory
from gpiozero.pins.local import LocalPiFactory

from reefguard.hardware.gpio import open_factory
from reefguard.hardware.inputs import Contact
from reefguard.hardware.outputs import Relay, VariableFan
from reefguard.hardware.unavailable import HardwareUnavailable
from reefguard.settings.model import Contact as RelayContact
from reefguard.settings.model import FanSpeed, SensedInput, Wiring

PI_4B = 0xC03111
HANDLE = 7


class LgpioError(Exception):
    def __init__(self, value: str) -> None:
        super().__init__(value)
        self.value = value


class RecordingLgpio(ModuleType):
    """The part of lgpio that gpiozero's pins and ours use."""

    BOTH_EDGES, RISING_EDGE, FALLING_EDGE = 3, 1, 2
    SET_PULL_UP, SET_PULL_DOWN, SET_PULL_NONE = 32, 64, 128
    error = LgpioError

    def __init__(self) -> None:
        super().__init__("lgpio")
        self.calls: list[tuple[Any, ...]] = []
        self.line: dict[int, str] = {}
        self.level: dict[int, int] = {}
        self.pull: dict[int, int] = {}
        self.went_through: list[tuple[int, str]] = []
        self.pulsing: set[int] = set()
        self.held_by: dict[int, str] = {}
        self.broken = False

    def gpiochip_open(self, chip: int) -> int:
        self.calls.append(("open", chip))
        return HANDLE

    def gpiochip_close(self, handle: int) -> None:
        self.calls.append(("close", handle))
        self.line.clear()

    def gpio_claim_input(self, handle: int, line: int, flags: int = 0) -> None:
        self._record("claim input", handle, line, flags)
        self._refuse_if_held(line)
        if self.line.get(line) != "in":
            self.line[line] = "in"
            self.pull[line] = flags
            self.went_through.append((line, "in"))

    def gpio_claim_output(self, handle: int, line: int, level: int = 0, flags: int = 0) -> None:
        self._record("claim output", handle, line, level)
        self._refuse_if_held(line)
        if self.line.get(line) != "out":  # a second claim changes nothing
            self.line[line] = "out"
            self._set(line, level)

    def gpio_free(self, handle: int, line: int) -> None:
        self._record("free", handle, line)
        del self.line[line]

    def gpio_write(self, handle: int, line: int, level: int) -> None:
        self._record("write", handle, line, level)
        self._set(line, int(level))

    def gpio_read(self, handle: int, line: int) -> int:
        self._record("read", handle, line)
        return self.level.get(line, int(self.pull.get(line) == self.SET_PULL_UP))

    def tx_pwm(self, handle: int, line: int, frequency: float, duty: float) -> int:
        self._record("pulse", handle, line, frequency, duty)
        if frequency == 0 and line not in self.pulsing:
            raise LgpioError("bad PWM micros")
        (self.pulsing.add if frequency else self.pulsing.remove)(line)
        return 0

    def gpio_get_mode(self, handle: int, line: int) -> int:
        return (2 if self.line.get(line) == "out" else 0) | self.pull.get(line, 0)

    def gpio_get_line_info(self, handle: int, line: int) -> list[Any]:
        return [0, line, 1 if line in self.held_by else 0, f"GPIO{line}", self.held_by.get(line, "")]

    def _record(self, what: str, handle: int, *rest: float) -> None:
        assert handle == HANDLE
        self.calls.append((what, *rest))
        if self.broken:
            raise LgpioError("bad write")

    def _refuse_if_held(self, line: int) -> None:
        if line in self.held_by:
            raise LgpioError("GPIO busy")

    def _set(self, line: int, level: int) -> None:
        self.level[line] = level
        self.went_through.append((line, str(level)))


@pytest.fixture
def lgpio(monkeypatch: pytest.MonkeyPatch) -> Iterator[RecordingLgpio]:
    stub = RecordingLgpio()
    monkeypatch.setitem(sys.modules, "lgpio", stub)
    for bound_to_it in ("gpiozero.pins.lgpio", "reefguard.hardware.held_lines"):
        monkeypatch.delitem(sys.modules, bound_to_it, raising=False)
    monkeypatch.setattr("gpiozero.pins.local.get_pi_revision", lambda: PI_4B)
    # gpiozero keeps these on the class, for all factories of one process.
    monkeypatch.setattr(LocalPiFactory, "pins", {})
    monkeypatch.setattr(LocalPiFactory, "_reservations", type(LocalPiFactory._reservations)(list))
    yield stub
    for bound_to_it in ("gpiozero.pins.lgpio", "reefguard.hardware.held_lines"):
        sys.modules.pop(bound_to_it, None)


@pytest.fixture
def header(lgpio: RecordingLgpio, tmp_path: Path) -> Factory:
    (tmp_path / "gpiochip3").touch()
    factory = open_factory({}, tmp_path, lambda path: "pinctrl-bcm2711")
    assert lgpio.calls == [("open", 3)]
    lgpio.calls.clear()
    return factory


WIRINGS = [
    pytest.param(Wiring(17, active_high=True), 0, id="active high, normally open"),
    pytest.param(Wiring(17, active_high=False), 1, id="active low, normally open"),
    pytest.param(Wiring(17, active_high=True, contact=RelayContact.NORMALLY_CLOSED), 1, id="high, closed"),
    pytest.param(Wiring(17, active_high=False, contact=RelayContact.NORMALLY_CLOSED), 0, id="low, closed"),
]


@pytest.mark.parametrize(("wiring", "off"), WIRINGS)
def test_a_relay_is_claimed_off_in_one_call(
    lgpio: RecordingLgpio, header: Factory, wiring: Wiring, off: int
) -> None:
    relay = Relay("chiller", wiring, header)
    assert lgpio.calls == [("claim output", 17, off)]
    assert lgpio.went_through == [(17, str(off))]
    assert not relay.read_back()


@pytest.mark.parametrize(("wiring", "off"), WIRINGS)
def test_a_relay_whose_load_runs_at_rest_is_claimed_on_in_one_call(
    lgpio: RecordingLgpio, header: Factory, wiring: Wiring, off: int
) -> None:
    relay = Relay("fan", wiring, header, on_at_first=True)
    assert lgpio.calls == [("claim output", 17, 1 - off)]
    assert relay.read_back()


@pytest.mark.parametrize(("wiring", "off"), WIRINGS)
def test_a_relay_is_driven_each_time_it_is_told(
    lgpio: RecordingLgpio, header: Factory, wiring: Wiring, off: int
) -> None:
    relay = Relay("chiller", wiring, header)
    lgpio.calls.clear()
    for level in (1.0, 1.0, 0.0, 0.0):
        relay.drive(level)
    on = 1 - off
    assert lgpio.calls == [("write", 17, on), ("write", 17, on), ("write", 17, off), ("write", 17, off)]


def test_read_back_asks_the_line_not_the_program(lgpio: RecordingLgpio, header: Factory) -> None:
    relay = Relay("chiller", Wiring(17), header)
    relay.drive(1.0)
    assert relay.read_back()
    lgpio.level[17] = 0  # as a short to ground would
    assert not relay.read_back()


@pytest.mark.parametrize(("wiring", "off"), WIRINGS)
def test_no_end_of_an_output_touches_its_line(
    lgpio: RecordingLgpio, header: Factory, wiring: Wiring, off: int
) -> None:
    relay = Relay("chiller", wiring, header)
    relay.drive(1.0)
    pin = header.pin(17)
    lgpio.calls.clear()
    relay._device.close()
    del relay
    pin.close()
    header.close()
    assert lgpio.calls == []
    assert lgpio.line == {17: "out"}
    assert lgpio.level == {17: 1 - off}


def test_an_output_claimed_again_is_driven_to_its_level(lgpio: RecordingLgpio, header: Factory) -> None:
    Relay("chiller", Wiring(17), header, on_at_first=True)
    lgpio.calls.clear()
    again = Relay("chiller", Wiring(17), header)
    assert lgpio.calls == [("write", 17, 0)]
    assert not again.read_back()


def test_one_pin_serves_one_output(lgpio: RecordingLgpio, header: Factory) -> None:
    held = Relay("chiller", Wiring(17), header)
    with pytest.raises(HardwareUnavailable, match=r"fan on GPIO17: .*already in use"):
        Relay("fan", Wiring(17), header)
    assert not held.read_back()


def test_a_line_that_another_program_holds_names_it(lgpio: RecordingLgpio, header: Factory) -> None:
    lgpio.held_by[17] = "onewire@0"
    with pytest.raises(HardwareUnavailable, match=r"chiller on GPIO17: .*in use by 'onewire@0'; mend: "):
        Relay("chiller", Wiring(17), header)
    with pytest.raises(HardwareUnavailable, match=r"lights on GPIO17: .*in use by 'onewire@0'; mend: "):
        Contact("lights", SensedInput(17), header)


def test_a_line_that_cannot_be_driven_or_read_is_an_os_error(lgpio: RecordingLgpio, header: Factory) -> None:
    relay = Relay("chiller", Wiring(17), header)
    lgpio.broken = True
    with pytest.raises(OSError, match="GPIO17 could not be driven: bad write"):
        relay.drive(0.0)
    with pytest.raises(OSError, match="GPIO17 could not be read: bad write"):
        relay.read_back()


@pytest.mark.parametrize("level", [-0.1, 1.1, float("nan")])
def test_a_level_that_is_no_share_is_refused(lgpio: RecordingLgpio, header: Factory, level: float) -> None:
    relay = Relay("chiller", Wiring(17), header)
    fan = VariableFan("fan", Wiring(18), FanSpeed(100.0, 0.3, 27.0), header)
    lgpio.calls.clear()
    for output in (relay, fan):
        with pytest.raises(ValueError, match="lies between 0 and 1"):
            output.drive(level)
    assert lgpio.calls == []


@pytest.mark.parametrize(("wiring", "off"), WIRINGS)
def test_a_variable_fan_starts_at_a_steady_level(
    lgpio: RecordingLgpio, header: Factory, wiring: Wiring, off: int
) -> None:
    fan = VariableFan("fan", wiring, FanSpeed(100.0, 0.3, 27.0), header)
    assert lgpio.calls == [("claim output", 17, off)]
    assert not fan.read_back()


@pytest.mark.parametrize(("wiring", "off"), WIRINGS)
def test_a_variable_fan_pulses_between_steady_ends(
    lgpio: RecordingLgpio, header: Factory, wiring: Wiring, off: int
) -> None:
    fan = VariableFan("fan", wiring, FanSpeed(100.0, 0.3, 27.0), header)
    lgpio.calls.clear()
    on = 1 - off
    share_high = 35.0 if off == 0 else 65.0
    for level, expected_on in ((0.0, False), (0.35, True), (1.0, True), (0.35, True), (0.0, False)):
        fan.drive(level)
        assert fan.read_back() is expected_on
    assert [call for call in lgpio.calls if call[0] != "read"] == [
        ("write", 17, off),
        ("pulse", 17, 100.0, share_high),
        ("pulse", 17, 0, 0),
        ("write", 17, on),
        ("pulse", 17, 100.0, share_high),
        ("pulse", 17, 0, 0),
        ("write", 17, off),
    ]
    assert lgpio.pulsing == set()


def test_a_changed_frequency_goes_on_at_the_same_speed(lgpio: RecordingLgpio, header: Factory) -> None:
    fan = VariableFan("fan", Wiring(17), FanSpeed(100.0, 0.3, 27.0), header)
    fan.drive(0.5)
    lgpio.calls.clear()
    header.pin(17).frequency = 200
    header.pin(17).frequency = None
    assert lgpio.calls == [("pulse", 17, 200, 50.0), ("pulse", 17, 0, 0), ("write", 17, 0)]


def test_an_output_without_a_level_is_refused(lgpio: RecordingLgpio, header: Factory) -> None:
    with pytest.raises(PinInvalidFunction, match="only together with its level"):
        OutputDevice(17, initial_value=None, pin_factory=header)
    with pytest.raises(PinInvalidFunction, match="only together with its level"):
        PWMOutputDevice(18, pin_factory=header)
    assert lgpio.went_through == []


@pytest.mark.parametrize(("active_high", "pull"), [(True, 64), (False, 32)])
def test_a_contact_is_pulled_towards_inactive(
    lgpio: RecordingLgpio, header: Factory, active_high: bool, pull: int
) -> None:
    contact = Contact("lights", SensedInput(22, active_high=active_high), header)
    assert lgpio.pull[22] == pull
    assert contact.sense() is False
    lgpio.level[22] = int(active_high)
    assert contact.sense() is True
    lgpio.broken = True
    assert contact.sense() is None


def test_a_contact_cannot_be_pulled_against_the_boards_resistor(
    lgpio: RecordingLgpio, header: Factory
) -> None:
    # GPIO2 and GPIO3 have pull-ups on the board.
    with pytest.raises(HardwareUnavailable, match=r"flow on GPIO2: .*pull-up resistor"):
        Contact("flow", SensedInput(2, active_high=True), header)
    assert Contact("flow", SensedInput(3, active_high=False), header).sense() is False


def test_a_chip_that_cannot_be_opened_is_told_in_words(
    lgpio: RecordingLgpio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(chip: int) -> int:
        raise LgpioError("can not open gpiochip")

    monkeypatch.setattr(lgpio, "gpiochip_open", refuses)
    (tmp_path / "gpiochip0").touch()
    with pytest.raises(HardwareUnavailable, match="/dev/gpiochip0: can not open gpiochip"):
        open_factory({}, tmp_path, lambda path: "pinctrl-rp1")


def test_the_library_alone_drops_a_running_relay_and_clicks_an_active_low_one(lgpio: RecordingLgpio) -> None:
    """The two traps that this module is for, as gpiozero itself walks into them."""
    from gpiozero.pins.lgpio import LGPIOFactory  # noqa: PLC0415  with the stub in lgpio's place

    stock = LGPIOFactory(chip=0)
    relay = OutputDevice(17, active_high=False, initial_value=False, pin_factory=stock)
    assert lgpio.calls == [
        ("open", 0),
        ("claim input", 17, 128),  # a relay left running drops out here
        ("claim output", 17, 0),  # and one that a low level energises is on from here
        ("write", 17, 1),  # to here
    ]
    assert lgpio.went_through == [(17, "in"), (17, "0"), (17, "1")]
    del relay
    assert lgpio.calls[-1] == ("claim input", 17, 128)  # and closing lets go of it
