"""Who holds each line of the header, as the kernel tells: asks, and claims nothing.

struct gpio_v2_line_info and its request: <linux/gpio.h>, GPIO_V2_GET_LINEINFO_IOCTL,
_IOWR(0xB4, 0x05, struct gpio_v2_line_info), 256 bytes.
"""

import fcntl
import os
import struct
from pathlib import Path
from typing import Final

from reefguard.settings.pins import LAST_GPIO

_INFO: Final = struct.Struct("=32s32sIIQ160s16s")
_GET_LINE_INFO: Final = 3 << 30 | _INFO.size << 16 | 0xB4 << 8 | 0x05
_USED: Final = 1


def holders(chip: Path) -> dict[int, str | None]:
    """Return who holds each line, by its number: `None` nobody, "" somebody without a name.

    Raises:
        OSError: the chip cannot be asked.
    """
    descriptor = os.open(chip, os.O_RDONLY | os.O_CLOEXEC)
    try:
        return {line: _holder(descriptor, line) for line in range(LAST_GPIO + 1)}
    finally:
        os.close(descriptor)


def _holder(descriptor: int, line: int) -> str | None:
    asked = bytearray(_INFO.pack(b"", b"", line, 0, 0, b"", b""))
    fcntl.ioctl(descriptor, _GET_LINE_INFO, asked)
    return holder_in(bytes(asked))


def holder_in(info: bytes) -> str | None:
    """Read the kernel's answer about one line."""
    _, consumer, _, _, flags, _, _ = _INFO.unpack(info)
    if not flags & _USED:
        return None
    return str(consumer.partition(b"\0")[0].decode("ascii", "replace"))
