"""The relay: claimed at its level in one call, off from the start, never let go, never on another library."""

import gc
import json
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest
from gpiozero.pins.local import LocalPiFactory

from reefguard.cutoff.limits import RelayWiring
from reefguard.cutoff.relay import (
    RECORD_NAME,
    Relay,
    RelayError,
    drop_last_known,
    open_factory,
    record_relay,
    recorded_relay,
)

PI_4B = 0xC03111
ACTIVE_HIGH, ACTIVE_LOW = RelayWiring(23, active_high=True), RelayWiring(5, active_high=False)


class LgpioError(Exception):
    """As lgpio's own: no subclass of OSError."""


class RecordingLgpio(ModuleType):
    """Every call that would reach the kernel, in order."""

    BOTH_EDGES, RISING_EDGE, FALLING_EDGE = 3, 1, 2
    SET_PULL_UP, SET_PULL_DOWN, SET_PULL_NONE = 32, 64, 128
    error = LgpioError

    def __init__(self) -> None:
        super().__init__("lgpio")
        self.calls: list[tuple[object, ...]] = []
        self.labels = {0: "pinctrl-bcm2711", 1: "raspberrypi-exp-gpio"}
        self.busy = False

    def gpiochip_open(self, number: int) -> int:
        return 100 + number

    def gpiochip_close(self, handle: int) -> None:
        """Nothing reaches a line."""

    def gpio_get_chip_info(self, handle: int) -> list[object]:
        return [0, 58, f"gpiochip{handle - 100}", self.labels[handle - 100]]

    def gpio_claim_output(self, *arguments: int) -> None:
        if self.busy:
            raise LgpioError("GPIO busy")
        self.calls.append(("claim_output", *arguments))

    def gpio_get_mode(self, handle: int, gpio: int) -> int:
        return 2

    def gpio_write(self, *arguments: int) -> None:
        if self.busy:
            raise LgpioError("bad handle")
        self.calls.append(("write", *arguments))

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        return lambda *arguments: self.calls.append((name, *arguments))


@pytest.fixture
def lgpio(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[RecordingLgpio]:
    stub = RecordingLgpio()
    loaded = ("lgpio", "gpiozero.pins.lgpio", "reefguard.cutoff.pi_lines")
    for name in loaded:
        monkeypatch.delitem(sys.modules, name, raising=False)
    monkeypatch.setitem(sys.modules, "lgpio", stub)
    monkeypatch.setattr(LocalPiFactory, "_get_revision", lambda self: PI_4B)
    # These belong to the class, so that what one test claims the next would find.
    monkeypatch.setattr(LocalPiFactory, "pins", {})
    monkeypatch.setattr(LocalPiFactory, "_reservations", type(LocalPiFactory._reservations)(list))
    for number in stub.labels:
        (tmp_path / f"gpiochip{number}").touch()
    monkeypatch.setattr(import_module("reefguard.cutoff.pi_lines"), "DEVICES", tmp_path)
    yield stub
    for name in loaded:
        sys.modules.pop(name, None)


@pytest.mark.parametrize(("wiring", "off"), [(ACTIVE_HIGH, 0), (ACTIVE_LOW, 1)])
def test_a_line_is_claimed_at_its_off_level_in_one_call(
    lgpio: RecordingLgpio, wiring: RelayWiring, off: int
) -> None:
    relay = Relay(wiring, open_factory({}))
    assert lgpio.calls == [("claim_output", 100, wiring.pin, off)]
    relay.drive(on=True)
    relay.drive(on=False)
    assert lgpio.calls[1:] == [("write", 100, wiring.pin, not off), ("write", 100, wiring.pin, off)]


def test_the_level_is_written_each_time_whether_or_not_it_changed(lgpio: RecordingLgpio) -> None:
    relay = Relay(ACTIVE_HIGH, open_factory({"GPIOZERO_PIN_FACTORY": "lgpio"}))
    relay.drive(on=False)
    relay.drive(on=False)
    assert lgpio.calls[1:] == [("write", 100, 23, False)] * 2


def test_a_relay_that_dies_does_not_let_go_of_its_line(lgpio: RecordingLgpio) -> None:
    factory = open_factory({})
    relay = Relay(ACTIVE_HIGH, factory)
    relay.drive(on=True)
    before = list(lgpio.calls)
    for pin in factory.pins.values():
        pin.close()
    del relay
    gc.collect()
    assert lgpio.calls == before


def test_a_busy_line_is_said_in_words(lgpio: RecordingLgpio) -> None:
    factory = open_factory({})
    lgpio.busy = True
    with pytest.raises(RelayError, match=r"GPIO23 cannot be driven: GPIO busy\n  mend: see that no other"):
        Relay(ACTIVE_HIGH, factory)


def test_a_line_that_takes_no_level_any_more_is_said_in_words(lgpio: RecordingLgpio) -> None:
    relay = Relay(ACTIVE_HIGH, open_factory({}))
    lgpio.busy = True
    with pytest.raises(RelayError, match="GPIO23 does not take a level any more: bad handle"):
        relay.drive(on=False)


def test_the_chip_is_found_by_its_label(lgpio: RecordingLgpio, tmp_path: Path) -> None:
    lgpio.labels = {0: "gpio-brcmstb@107d508500", 4: "pinctrl-rp1", 1: "other"}
    (tmp_path / "gpiochip4").touch()
    assert open_factory({}).chip == 4


def test_no_chip_with_a_header_is_said_in_words(lgpio: RecordingLgpio) -> None:
    lgpio.labels = {0: "other", 1: "another"}
    with pytest.raises(RelayError, match="no GPIO chip of a Raspberry Pi's header"):
        open_factory({})


def test_a_chip_that_may_not_be_opened_is_said_in_words(
    lgpio: RecordingLgpio, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.access", lambda path, mode: False)
    with pytest.raises(RelayError, match=r"may not be opened by this user\n.*usermod -aG gpio"):
        open_factory({})


def test_a_missing_library_is_said_in_words(lgpio: RecordingLgpio, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "lgpio", None)
    monkeypatch.delitem(sys.modules, "gpiozero.pins.lgpio", raising=False)
    monkeypatch.delitem(sys.modules, "reefguard.cutoff.pi_lines", raising=False)
    with pytest.raises(RelayError, match=r"the library lgpio is not installed\n.*python3-lgpio"):
        open_factory({})


def test_no_fallback_to_another_library() -> None:
    with pytest.raises(RelayError, match="names 'wheel', which is not installed"):
        open_factory({"GPIOZERO_PIN_FACTORY": "wheel"})


@pytest.fixture
def on_bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    monkeypatch.setenv("REEFGUARD_BENCH", str(tmp_path / "bench"))
    return {"GPIOZERO_PIN_FACTORY": "bench"}


def level(tmp_path: Path, pin: int) -> str:
    return (tmp_path / "bench" / "gpio" / f"GPIO{pin}").read_text(encoding="ascii").strip()


@pytest.mark.parametrize(("wiring", "off", "on"), [(ACTIVE_HIGH, "0", "1"), (ACTIVE_LOW, "1", "0")])
def test_levels_on_the_bench(
    tmp_path: Path, on_bench: dict[str, str], wiring: RelayWiring, off: str, on: str
) -> None:
    relay = Relay(wiring, open_factory(on_bench))
    assert level(tmp_path, wiring.pin) == off
    relay.drive(on=True)
    assert level(tmp_path, wiring.pin) == on
    relay.drive(on=False)
    assert level(tmp_path, wiring.pin) == off
    del relay
    gc.collect()
    assert level(tmp_path, wiring.pin) == off


@pytest.mark.parametrize("wiring", [ACTIVE_HIGH, ACTIVE_LOW])
def test_the_relay_last_driven_is_dropped_without_a_limits_file(
    tmp_path: Path, on_bench: dict[str, str], wiring: RelayWiring
) -> None:
    record_relay(tmp_path, wiring)
    assert recorded_relay(tmp_path) == wiring
    Relay(wiring, open_factory(on_bench)).drive(on=True)
    assert drop_last_known(tmp_path, on_bench) == f"relay on GPIO{wiring.pin} dropped: cooling is held off"
    assert level(tmp_path, wiring.pin) == ("0" if wiring.active_high else "1")


def test_no_relay_is_known(tmp_path: Path) -> None:
    assert drop_last_known(tmp_path, {}).startswith("no relay was driven")


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[]",
        b"\xff",
        b"[" * 100_000,
        b'{"pin": 23}',
        b'{"pin": 28, "off_level": 0}',
        b'{"pin": -1, "off_level": 0}',
        b'{"pin": "23", "off_level": 0}',
        b'{"pin": 23, "off_level": 2}',
    ],
)
def test_a_record_that_is_not_to_be_believed_drives_nothing(tmp_path: Path, content: bytes) -> None:
    (tmp_path / RECORD_NAME).write_bytes(content)
    assert recorded_relay(tmp_path) is None


def test_the_record_can_be_read_by_a_person(tmp_path: Path) -> None:
    record_relay(tmp_path, ACTIVE_LOW)
    assert json.loads((tmp_path / RECORD_NAME).read_text(encoding="utf-8")) == {"pin": 5, "off_level": 1}


def test_a_factory_that_fails_is_said_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails() -> None:
        raise RuntimeError("no bench")

    entry = SimpleNamespace(load=lambda: fails)
    monkeypatch.setattr("reefguard.cutoff.relay.entry_points", lambda **selected: [entry])
    with pytest.raises(RelayError, match="the GPIO lines cannot be opened: no bench"):
        open_factory({"GPIOZERO_PIN_FACTORY": "bench"})
