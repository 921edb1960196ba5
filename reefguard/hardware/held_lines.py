"""GPIO lines through lgpio, claimed without a glitch and held to the end.

What gpiozero's own lgpio pins do, and these do not:

- A pin is claimed as an input when it is made.  A relay that was left running drops out.
- An output is claimed low, then written.  A relay that a low level energises clicks on.
- Closing makes the line an input.  A load then follows whatever pulls the line.

Here a line is claimed once, with its level, and no close lets go of it: after a
clean stop it stands as it was told to.  Only `hardware.gpio` imports this module,
because importing it imports lgpio, which makes a pipe in the working directory.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

import lgpio
from gpiozero import PinInvalidFunction
from gpiozero.pins import PinInfo
from gpiozero.pins.lgpio import LGPIOFactory, LGPIOPin

from reefguard.hardware.unavailable import HardwareUnavailable

_LINE_IN_USE: Final = 1  # lgpio's line flag "in use by the kernel", set for any owner
_CONSUMER: Final = 4  # its place in what lgpio says of a line


class HeldLinesFactory(LGPIOFactory):  # type: ignore[misc]  # gpiozero has no types
    """The lines of one GPIO chip."""

    def __init__(self, chip: int) -> None:
        """Open `/dev/gpiochip<chip>`.

        Raises:
            HardwareUnavailable: it cannot be opened.
        """
        self._handle = None  # `close` asks for it even when opening failed
        try:
            super().__init__(chip=chip)
        except lgpio.error as error:
            raise HardwareUnavailable(f"/dev/gpiochip{chip}: {error.value}") from error
        self.pin_class = HeldLine

    def close(self) -> None:
        """Keep the chip: closing it would release every line it drives."""


class HeldLine(LGPIOPin):  # type: ignore[misc]  # gpiozero has no types
    """One line.  Nothing happens to it before its direction and level are known."""

    def __init__(self, factory: HeldLinesFactory, info: PinInfo) -> None:
        # Past LGPIOPin, which would claim the line as an input; what it sets besides is set here.
        super(LGPIOPin, self).__init__(factory, info)
        self._pwm: tuple[float, float] | None = None
        self._bounce = None
        self._callback = None
        self._edges = lgpio.BOTH_EDGES
        self._frequency_hz: float | None = None
        self._driven = False
        self._chip = factory._handle  # noqa: SLF001  gpiozero's own pins reach for it too

    def close(self) -> None:
        """Leave the line as it stands."""

    def output_with_state(self, state: float) -> None:
        """Claim the line as an output that stands at `state` from its first instant.

        Raises:
            HardwareUnavailable: it cannot be claimed, and who holds it.
        """
        if self._driven:
            # lgpio would take a second claim for done and leave the level as it was (lgGpio.c).
            self._set_state(state)
            return
        with self._claiming():
            lgpio.gpio_claim_output(self._chip, self._number, int(bool(state)))
        self._driven = True

    def _set_function(self, value: str) -> None:
        if value == "output":
            raise PinInvalidFunction(f"{self!r} becomes an output only together with its level")
        with self._claiming():
            super()._set_function(value)
        self._driven = False

    def _set_pull(self, value: str) -> None:
        with self._claiming():
            super()._set_pull(value)

    def _get_state(self) -> float:
        with self._in_words("read"):
            return float(super()._get_state())

    def _set_state(self, value: float) -> None:
        with self._in_words("driven"):
            if self._frequency_hz is not None and 0 < value < 1:
                pulses = (self._frequency_hz, round(value * 100, 1))
                lgpio.tx_pwm(self._chip, self._number, *pulses)
                self._pwm = pulses
                return
            if self._pwm is not None:
                # Once this returns, lgpio's thread writes the line no more (lgPthTx.c), so the
                # level below is the last word: both ends are steady levels, not pulses.
                lgpio.tx_pwm(self._chip, self._number, 0, 0)
                self._pwm = None
            lgpio.gpio_write(self._chip, self._number, int(bool(value)))

    def _get_frequency(self) -> float | None:
        return self._frequency_hz

    def _set_frequency(self, value: float | None) -> None:
        self._frequency_hz = value or None
        if self._pwm is not None:
            # Pulses that end leave a steady level: low, for half a speed is no speed.
            self._set_state(self._pwm[1] / 100 if value else 0)

    @contextmanager
    def _claiming(self) -> Iterator[None]:
        """Turn a refused claim into words, with the name of whoever holds the line."""
        try:
            yield
        except lgpio.error as error:
            raise HardwareUnavailable(
                f"{self!r} cannot be claimed: {self._holder() or error.value}"
            ) from error

    def _holder(self) -> str:
        try:
            line = lgpio.gpio_get_line_info(self._chip, self._number)
        except lgpio.error:
            return ""
        if not line[2] & _LINE_IN_USE:
            return ""
        return (
            f"it is in use by {line[_CONSUMER] or 'an unnamed program'!r}; mend: stop that program or remove "
            "its overlay from config.txt, or use another pin"
        )

    @contextmanager
    def _in_words(self, what: str) -> Iterator[None]:
        try:
            yield
        except lgpio.error as error:
            raise OSError(f"{self!r} could not be {what}: {error.value}") from error
