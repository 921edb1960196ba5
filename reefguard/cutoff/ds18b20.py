"""Turn the kernel's `w1_slave` text of a DS18B20 into a water temperature, or into why there is none.

Written from the data sheet (DS18B20, 19-7487 Rev 6) and the kernel's
documentation (Documentation/w1/slaves/w1_therm.rst).  The text is two lines:

    72 01 4b 46 7f ff 0e 10 57 : crc=57 YES
    72 01 4b 46 7f ff 0e 10 57 t=23125

The temperature is taken from the register bytes of the first line, and the
checksum over all nine is computed here: neither the kernel's `t=` nor its
`YES` is believed alone.  Pure.
"""

import re
from enum import Enum
from typing import NamedTuple, TypeAlias

COLDEST_C = -10.0
WARMEST_C = 45.0
"""Water in a tank is between these two; -10 °C is also where the ±0.5 °C of the data sheet ends."""


class Fault(Enum):
    """Why there is no good reading."""

    ABSENT = "there is no such probe on the 1-wire bus"
    UNREADABLE = "the probe's file cannot be read"
    EMPTY = "the probe's file is empty: it did not answer"
    MALFORMED = "the probe's file is not in the kernel's format"
    CRC = "the checksum does not match: the line is disturbed"
    ZEROS = "all bytes are zero: the data line is shorted"
    POWER_ON = "85.000 °C, which the chip holds until it has measured"
    UNCONVERTED = "127.9375 °C, which the chip gives after a failed conversion"
    OUT_OF_RANGE = "outside what water in a tank can be (-10 °C to 45 °C)"
    LATE = "the answer came too late to be believed"


class Measured(NamedTuple):
    """The probe gave a number that water can have."""

    water_c: float


class Failed(NamedTuple):
    """The probe gave nothing to go by."""

    fault: Fault


Sample: TypeAlias = Measured | Failed

_BYTES = r"((?:[0-9a-f]{2} ){9})"
_W1_SLAVE = re.compile(_BYTES + r": crc=[0-9a-f]{2} (YES|NO)\n" + _BYTES + r"t=-?[0-9]+\n")


def sample_from_text(text: str) -> Sample:
    r"""Judge one reading of a `w1_slave` file.

    >>> line = "72 01 4b 46 7f ff 0e 10 57 "
    >>> sample_from_text(line + ": crc=57 YES\n" + line + "t=23125\n")
    Measured(water_c=23.125)
    """
    if not text:
        return Failed(Fault.EMPTY)
    found = _W1_SLAVE.fullmatch(text)
    if found is None:
        return Failed(Fault.MALFORMED)
    scratchpad = bytes.fromhex(found[1])
    if not any(scratchpad):
        return Failed(Fault.ZEROS)
    if found[2] != "YES" or crc8(scratchpad) != 0:
        return Failed(Fault.CRC)
    return _sample_from_scratchpad(scratchpad)


def _sample_from_scratchpad(scratchpad: bytes) -> Sample:
    lsb, msb, _, _, config = scratchpad[:5]
    if config & 0x90 != 0x10:
        # Data sheet, figure 10: bit 7 reads 0 and bit 4 reads 1.  The thermocouple
        # converter that shares family 3b has another layout, and bit 7 set (from memory).
        return Failed(Fault.MALFORMED)
    raw_c = temperature_c(lsb, msb, config)
    match raw_c:
        case 85.0:
            return Failed(Fault.POWER_ON)
        case 127.9375:
            return Failed(Fault.UNCONVERTED)
    if not COLDEST_C <= raw_c <= WARMEST_C:
        return Failed(Fault.OUT_OF_RANGE)
    return Measured(raw_c)


def temperature_c(lsb: int, msb: int, config: int) -> float:
    """Return the temperature in °C that the register holds.

    Args:
        lsb: byte 0 of the scratchpad.
        msb: byte 1, sign-extended two's complement.
        config: byte 4; bits 6 and 5 give the resolution, 00 for 9 bit to 11 for 12 bit.

    Source:
        DS18B20 data sheet, figure 4, tables 1 and 2.  "For 11-bit resolution,
        bit 0 is undefined", and so on down to 9 bit: those bits are cleared.

    >>> temperature_c(0x91, 0x01, 0x7F)
    25.0625
    """
    undefined_bits = 3 - (config >> 5 & 0b11)
    register = int.from_bytes((lsb, msb), "little", signed=True)
    return (register >> undefined_bits << undefined_bits) / 16.0


def crc8(octets: bytes) -> int:
    """Return the 1-wire CRC-8 (X^8 + X^5 + X^4 + 1, least bit first); 0 over bytes and their own CRC.

    Source:
        DS18B20 data sheet, "CRC Generation"; worked example: Maxim
        Application Note 27, whose ROM code has the CRC A2.

    >>> hex(crc8(bytes.fromhex("021CB801000000")))
    '0xa2'
    """
    crc = 0
    for octet in octets:
        crc ^= octet
        for _ in range(8):
            crc = crc >> 1 ^ (0x8C if crc & 1 else 0)
    return crc
