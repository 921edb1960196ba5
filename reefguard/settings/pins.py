"""Pins, named so that a number cannot be taken for the wrong thing.

The 40-pin header of every Raspberry Pi since 2014 has GPIO0 to GPIO27 on it,
at positions that have nothing to do with their numbers: GPIO17 is at position
11, and position 17 is 3.3 V.  Source: Raspberry Pi documentation, "GPIO and
the 40-pin header".
"""

import re

from reefguard.settings.quantities import MisreadError

LAST_GPIO = 27

_POWER_AND_GROUND = {
    1: "3.3 V", 2: "5 V", 4: "5 V", 17: "3.3 V",
    6: "ground", 9: "ground", 14: "ground", 20: "ground",
    25: "ground", 30: "ground", 34: "ground", 39: "ground",
}  # fmt: skip
_GPIO_AT = {
    3: 2, 5: 3, 7: 4, 8: 14, 10: 15, 11: 17, 12: 18, 13: 27, 15: 22, 16: 23, 18: 24, 19: 10, 21: 9, 22: 25,
    23: 11, 24: 8, 26: 7, 27: 0, 28: 1, 29: 5, 31: 6, 32: 12, 33: 13, 35: 19, 36: 16, 37: 26, 38: 20, 40: 21,
}  # fmt: skip
_POSITION_OF = {gpio: position for position, gpio in _GPIO_AT.items()}

PATTERN = "^(?:GPIO(?:[0-9]|1[0-9]|2[0-7])|header (?:" + "|".join(str(at) for at in sorted(_GPIO_AT)) + "))$"


def read_pin(text: str) -> int:
    """Return the GPIO number of `GPIO17` or `header 11`.

    Raises:
        MisreadError: a bare number, a position that is no GPIO, or no pin at all.
    """
    if match := re.fullmatch(r"GPIO(0|[1-9][0-9]?)", text):
        gpio = int(match.group(1))
        if gpio <= LAST_GPIO:
            return gpio
        why = f"the 40-pin header has GPIO0 to GPIO{LAST_GPIO}"
        raise MisreadError(why, "write the pin the wire is on, like `GPIO17` or `header 11`")
    if match := re.fullmatch(r"header (0|[1-9][0-9]?)", text):
        return _at_position(int(match.group(1)))
    if number := re.fullmatch(r"0*([0-9]{1,2})", text):
        raise MisreadError(
            "a bare number: GPIO number or position on the header?", _both(int(number.group(1)))
        )
    if number := re.fullmatch(r"gpio[ _]?0*([0-9]{1,2})", text, re.IGNORECASE):
        raise MisreadError(
            "a GPIO is written in capitals, with its number at once", f"write `GPIO{number.group(1)}`"
        )
    raise MisreadError("not a pin", "write `GPIO17`, or `header 11` for a position on the header")


def _at_position(position: int) -> int:
    if position in _GPIO_AT:
        return _GPIO_AT[position]
    mend = "write the position the wire is on, counted from the corner marked 1"
    if position in _POWER_AND_GROUND:
        raise MisreadError(
            f"position {position} of the header is {_POWER_AND_GROUND[position]}, no GPIO", mend
        )
    raise MisreadError("the header has positions 1 to 40", mend)


def _both(number: int) -> str:
    """Return what a bare number may have meant."""
    meanings = []
    if number in _POSITION_OF:
        meanings.append(f"`GPIO{number}` (position {_POSITION_OF[number]})")
    if number in _GPIO_AT:
        meanings.append(f"`header {number}` (GPIO{_GPIO_AT[number]})")
    return "write " + (" or ".join(meanings) or "`GPIO17` or `header 11`")


def pulled_up_at_power_on(gpio: int) -> bool:
    """Return whether the chip pulls the pin up (else down) until a program claims it.

    Source: Broadcom, BCM2835 ARM Peripherals, table 6-31, column "Pull": GPIO0-8 high, GPIO9-27 low.
    """
    return gpio <= 8


def spoken_for(gpio: int) -> str | None:
    """Return what else the pin is for on a Raspberry Pi, or `None`.

    Source: Raspberry Pi documentation, "GPIO and the 40-pin header"; BCM2835 ARM Peripherals, table 6-31.
    """
    if gpio <= 1:
        return "is read at power-on to identify an add-on board (ID EEPROM)"
    if gpio <= 3:
        return "has a fixed 1.8 kΩ resistor to 3.3 V on the board, for I2C"
    if 7 <= gpio <= 11:
        return "belongs to SPI, and moves when that is switched on"
    if gpio in {14, 15}:
        return "belongs to the serial port, and moves while the Pi boots"
    return None
