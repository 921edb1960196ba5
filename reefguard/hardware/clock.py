"""The machine's clocks (`ports.Clock`), and whether its wall clock is known to be right."""

import ctypes
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Final

from reefguard.vocabulary import Wall

# systemd-timesyncd(8) touches it at each synchronisation; /run is empty after a boot.
_SYNCHRONIZED: Final = Path("/run/systemd/timesync/synchronized")
_BOOT_ID: Final = Path("/proc/sys/kernel/random/boot_id")
_ASK_AGAIN_AFTER_S: Final = 10.0

# <linux/timex.h>
_TIME_ERROR: Final = 5
_STA_UNSYNC: Final = 0x0040


class SystemClock:
    """CLOCK_BOOTTIME and local time."""

    def __init__(
        self,
        *,
        always_right: bool = False,
        boot_id_file: Path = _BOOT_ID,
        synchronized_file: Path = _SYNCHRONIZED,
        kernel_synchronized: Callable[[], bool | None] | None = None,
    ) -> None:
        """Make the clock.

        Args:
            always_right: a person vouches for the wall clock.
            boot_id_file: where the kernel names this boot.
            synchronized_file: exists once the wall clock was set over the network since boot.
            kernel_synchronized: asks the kernel the same, `None` when it does not say.

        Raises:
            OSError: the boot's name cannot be read.
        """
        self._always_right = always_right
        self._boot_id = boot_id_file.read_text(encoding="ascii").strip()
        self._synchronized_file = synchronized_file
        self._kernel_synchronized = kernel_synchronized or ask_kernel
        self._trusted = False
        self._ask_at_s = 0.0

    def boot_s(self) -> float:
        """Return seconds since boot, suspend included."""
        return time.clock_gettime(time.CLOCK_BOOTTIME)

    def boot_id(self) -> str:
        """Return the kernel's name of this boot."""
        return self._boot_id

    def wall(self) -> Wall:
        """Return local time, and whether it was set since boot; the latter up to 10 s old."""
        now_s = self.boot_s()
        if now_s >= self._ask_at_s:
            self._trusted = self._known_to_be_right()
            self._ask_at_s = now_s + _ASK_AGAIN_AFTER_S
        return Wall(local=datetime.now().astimezone(), trusted=self._trusted)

    def real_seconds(self, span_s: float) -> float:
        """Return `span_s`: this clock runs as a stopwatch does."""
        return span_s

    def _known_to_be_right(self) -> bool:
        return self._always_right or self._synchronized_file.exists() or self._kernel_synchronized() is True


class _Timex(ctypes.Structure):
    """The head of `struct timex` up to `status`, and more room than the rest of it needs."""

    _fields_ = (
        ("modes", ctypes.c_uint),
        ("offset", ctypes.c_long),
        ("freq", ctypes.c_long),
        ("maxerror", ctypes.c_long),
        ("esterror", ctypes.c_long),
        ("status", ctypes.c_int),
        ("rest", ctypes.c_byte * 512),
    )


def ask_kernel() -> bool | None:
    """Return whether the kernel takes its clock for synchronised; `None` when it does not say.

    Any time service that disciplines the clock is seen here.  Reading needs no
    privilege (adjtimex(2), modes 0), but a service under ProtectClock= is refused.
    """
    timex = _Timex(modes=0)
    try:
        state = ctypes.CDLL(None).adjtimex(ctypes.byref(timex))
    except (OSError, AttributeError):
        return None  # no such call in this C library
    return synchronized_in(state, timex.status)


def synchronized_in(state: int, status: int) -> bool | None:
    """Read the answer of adjtimex(2): its return value and the status bits.

    >>> synchronized_in(state=0, status=0x2001)
    True
    >>> synchronized_in(state=5, status=0x0040)
    False
    >>> synchronized_in(state=-1, status=0) is None
    True
    """
    if state < 0:
        return None
    return state != _TIME_ERROR and not status & _STA_UNSYNC
