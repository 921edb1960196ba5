"""The contacts that report something (`ports.Input`)."""

from gpiozero import GPIOZeroError, InputDevice
from gpiozero.pins import Factory

from reefguard.hardware.unavailable import HardwareUnavailable
from reefguard.settings.model import SensedInput


class Contact:
    """One contact, read when asked; a broken wire reads as inactive."""

    def __init__(self, name: str, sensed: SensedInput, factory: Factory) -> None:
        """Claim the pin as an input, pulled towards inactive.

        Raises:
            HardwareUnavailable: it cannot be claimed, or its pull is fixed the other way.
        """
        try:
            self._device = InputDevice(sensed.pin, pull_up=not sensed.active_high, pin_factory=factory)
        except (HardwareUnavailable, GPIOZeroError, OSError) as error:
            raise HardwareUnavailable(f"{name} on GPIO{sensed.pin}: {error}") from error

    def sense(self) -> bool | None:
        """Return whether the contact is active, or `None` when it cannot be read."""
        try:
            return bool(self._device.value)
        except (GPIOZeroError, OSError):
            return None
