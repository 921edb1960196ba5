"""The loads behind the pins (`ports.Output`).

A line is driven from its first instant at the level its load shall have before
the first decision, and no end of this program releases it: gpiozero's devices
let go of their pin when the last reference dies, these do not.
"""

from typing import Final

from gpiozero import GPIOZeroError, OutputDevice
from gpiozero.pins import Factory

from reefguard.hardware.unavailable import HardwareUnavailable
from reefguard.settings.model import Fan, FanSpeed, Wiring


class _HeldDevice(OutputDevice):  # type: ignore[misc]  # gpiozero has no types
    """An output device that never gives its pin back."""

    def close(self) -> None:
        """Leave the line as it stands; gpiozero also calls this when the device is forgotten."""


class Relay:
    """A load that is on or off."""

    def __init__(self, name: str, wiring: Wiring, factory: Factory, *, on_at_first: bool = False) -> None:
        """Claim the pin, with the load off, or on if `on_at_first`.

        Raises:
            HardwareUnavailable: the pin cannot be driven, and why.
        """
        self.name: Final = name
        self._wiring = wiring
        self._device = _claim(name, wiring, factory, on_at_first=on_at_first)

    def drive(self, level: float) -> None:
        """Set the load on for any level above 0, off at 0; sets the pin each time, changed or not.

        Raises:
            OSError: the pin could not be driven.
            ValueError: the level is not from 0 to 1.
        """
        _require_share(self.name, level)
        self._device.pin.state = self._wiring.electrical_level(load_on=level > 0)

    def read_back(self) -> bool:
        """Return whether the pin stands at the level that has the load on.

        Raises:
            OSError: the pin could not be read.
        """
        return bool(self._device.pin.state) == self._wiring.electrical_level(load_on=True)


class VariableFan:
    """A fan whose speed is set by pulses on its pin; at rest and at full speed there are none."""

    def __init__(
        self, name: str, wiring: Wiring, speed: FanSpeed, factory: Factory, *, on_at_first: bool = False
    ) -> None:
        """Claim the pin, with the fan off, or at full speed if `on_at_first`.

        Raises:
            HardwareUnavailable: the pin cannot be driven or pulsed, and why.
        """
        self.name: Final = name
        self._high_is_on = wiring.electrical_level(load_on=True)
        self._device = _claim(name, wiring, factory, on_at_first=on_at_first)
        try:
            self._device.pin.frequency = speed.frequency_hz
        except (GPIOZeroError, OSError) as error:
            raise HardwareUnavailable(f"{name} on GPIO{wiring.pin}: it cannot be pulsed: {error}") from error

    def drive(self, level: float) -> None:
        """Set the fan's speed, as a share of full; sets the pin each time, changed or not.

        Raises:
            OSError: the pin could not be driven.
            ValueError: the level is not from 0 to 1.
        """
        _require_share(self.name, level)
        self._device.pin.state = float(level if self._high_is_on else 1 - level)

    def read_back(self) -> bool:
        """Return whether the fan's pin is at, or pulsed towards, the level that has it on.

        Raises:
            OSError: the pin could not be read.
        """
        share_high = float(self._device.pin.state)
        return share_high > 0 if self._high_is_on else share_high < 1


def open_fan(fan: Fan, factory: Factory) -> Relay | VariableFan:
    """Return the output of `fan`, at first in the state it has at rest.

    Raises:
        HardwareUnavailable: its pin cannot be driven, and why.
    """
    if fan.speed is None:
        return Relay(fan.name, fan.wiring, factory, on_at_first=fan.runs_at_rest)
    return VariableFan(fan.name, fan.wiring, fan.speed, factory, on_at_first=fan.runs_at_rest)


def _claim(name: str, wiring: Wiring, factory: Factory, *, on_at_first: bool) -> OutputDevice:
    level = wiring.electrical_level(load_on=on_at_first)
    try:
        # To gpiozero the device is the electrical level; what it means for the load is the wiring's.
        return _HeldDevice(wiring.pin, active_high=True, initial_value=level, pin_factory=factory)
    except (HardwareUnavailable, GPIOZeroError, OSError) as error:
        raise HardwareUnavailable(f"{name} on GPIO{wiring.pin}: {error}") from error


def _require_share(name: str, level: float) -> None:
    if not 0 <= level <= 1:
        raise ValueError(f"{name}: a level lies between 0 and 1; this is {level!r}")
