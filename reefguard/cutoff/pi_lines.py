"""The Pi's own GPIO lines, without the glitches of a plain claim.

Importing this imports lgpio, which makes a FIFO in the working directory and
starts a thread of its own: see `relay`, and fork no more.

Three things differ from gpiozero's own factory:

- the chip is found by its label, for its number changes between models and kernels;
- a line is claimed with its level in one call.  gpiozero claims it as an input,
  then low, then sets the level: an active-low relay clicks on meanwhile;
- a line is never released: its level stays when the process ends, and
  `reefguard cutoff drop` sets it afterwards.
"""

import os
from pathlib import Path
from typing import Final

import lgpio
from gpiozero.pins import PinInfo
from gpiozero.pins.lgpio import LGPIOFactory, LGPIOPin

DEVICES: Final = Path("/dev")

HEADER_CHIPS: Final = frozenset({"pinctrl-rp1", "pinctrl-bcm2711", "pinctrl-bcm2835"})
"""Labels of the chips behind the 40-pin header: Pi 5, Pi 4, and those before."""


class SteadyPin(LGPIOPin):  # type: ignore[misc]  # gpiozero has no types
    """A line that goes straight to its level and stays there."""

    def __init__(self, factory: "CutoffFactory", info: PinInfo) -> None:
        """Claim nothing yet."""
        # Past LGPIOPin's own __init__, which would claim the line as an input.
        super(LGPIOPin, self).__init__(factory, info)
        self._pwm = None
        self._bounce = None
        self._callback = None
        self._edges = lgpio.BOTH_EDGES

    def output_with_state(self, state: bool) -> None:
        """Claim the line as an output at this level, in one call."""
        lgpio.gpio_claim_output(self.factory.line_chip, self._number, int(state))

    def close(self) -> None:
        """Keep the line and its level."""


class CutoffFactory(LGPIOFactory):  # type: ignore[misc]  # gpiozero has no types
    """The chip behind the 40-pin header, with steady pins."""

    def __init__(self) -> None:
        """Open the chip.

        Raises:
            OSError: there is none, or it may not be opened.
        """
        super().__init__(chip=header_chip())
        self.pin_class = SteadyPin

    @property
    def line_chip(self) -> int:
        """The open chip, as lgpio calls it."""
        handle: int = self._handle
        return handle


def header_chip() -> int:
    """Return the number of the chip behind the header.

    Raises:
        FileNotFoundError: no chip has its label.
        PermissionError: a chip may not be opened, and none that may has its label.
    """
    closed = []
    for path in sorted(DEVICES.glob("gpiochip*")):
        if not os.access(path, os.R_OK | os.W_OK):
            closed.append(path)
            continue
        number = int(path.name.removeprefix("gpiochip"))
        handle = lgpio.gpiochip_open(number)
        try:
            label = lgpio.gpio_get_chip_info(handle)[3]
        finally:
            lgpio.gpiochip_close(handle)
        if label in HEADER_CHIPS:
            return number
    if closed:
        raise PermissionError(f"{closed[0]} may not be opened by this user")
    raise FileNotFoundError(f"no GPIO chip of a Raspberry Pi's header is under {DEVICES}")
