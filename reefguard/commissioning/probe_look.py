"""What can be seen of a probe from outside: its resolution, its supply, and whether it is the chip it says.

Genuine DS18B20s share marks that copies often lack (C. Petrich,
counterfeit_DS18B20, CC BY, of 2024): a serial number whose upper bytes are
zero, and reserved bytes of the scratchpad that follow the data sheet.  A copy
may have them all, so a probe without suspicion is not proven genuine.
"""

from collections.abc import Mapping
from typing import Final

from reefguard.vocabulary import Cause

_DS18B20: Final = "28"

# A hand warms a probe by several degrees within a minute; water and room do not move so (common practice).
RISEN_C: Final = 1.0
_AHEAD_C: Final = 0.7


def resolution_bits(octets: bytes) -> int:
    """Return the resolution that the configuration byte sets (data sheet, Figure 10), 9 to 12.

    >>> resolution_bits(bytes.fromhex("90 01 4b 46 7f ff 10 10 00"))
    12
    """
    return 9 + (octets[4] >> 5 & 0b11)


def suspicions(rom_id: str, octets: bytes | Cause) -> tuple[str, ...]:
    """Return what speaks against a genuine chip; nothing is said of other families.

    Args:
        rom_id: the kernel's name, most significant byte first.
        octets: of the scratchpad after a good conversion, or why there are none.
    """
    family, _, serial = rom_id.partition("-")
    if family != _DS18B20:
        return ()
    found = []
    if not serial.startswith("0000"):
        found.append("its serial number is none of the maker's")
    if isinstance(octets, bytes):
        if octets[5] != 0xFF or octets[7] != 0x10:
            found.append("reserved bytes differ from the data sheet's")
        elif (octets[0] + octets[6]) & 0x0F:
            found.append("byte 6 does not follow its reading, as a genuine chip's does")
    return tuple(found)


def risen(before: Mapping[str, float], now: Mapping[str, float]) -> str | None:
    """Return the one probe that was warmed: risen well, and well ahead of all others."""
    rises = sorted(((now[name] - before[name], name) for name in now if name in before), reverse=True)
    if not rises or rises[0][0] < RISEN_C:
        return None
    if len(rises) > 1 and rises[0][0] - max(rises[1][0], 0.0) < _AHEAD_C:
        return None
    return rises[0][1]
