"""Probes that are files: the kernel's `w1_slave`, byte for byte, and every way it fails.

Format and arithmetic are those of drivers/w1/slaves/w1_therm.c in Linux; the
scratchpad is that of the DS18B20 data sheet (19-7487 Rev 6), Figure 9.
"""

import os
import shutil
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

POWER_ON_REGISTER: Final = 0x0550  # 85 °C, what the chip holds until it has measured
UNCONVERTED_REGISTER: Final = 0x07FF  # 127.9375 °C, what it gives after a failed conversion

_COUNTS_PER_C: Final = 16
_NOT_MEASURED: Final = 0x0C  # byte 6 of a chip that has no measurement (w1_therm.c, `features`)


def crc8(content: bytes) -> int:
    """Return the checksum of 1-wire: x^8 + x^5 + x^4 + 1, least significant bit first.

    Source of the example: Maxim application note 27, example 2 (ROM A2 00 00 00 01 B8 1C 02).

    >>> hex(crc8(bytes.fromhex("02 1c b8 01 00 00 00")))
    '0xa2'
    """
    crc = 0
    for byte in content:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0x8C if crc & 1 else 0)
    return crc


def register_of(water_c: float) -> int:
    """Return the count of 1/16 °C nearest to `water_c`."""
    return round(water_c * _COUNTS_PER_C)


def scratchpad(register: int, byte_6: int | None = None) -> bytes:
    """Return the nine bytes of a DS18B20 at 12 bit whose temperature register holds `register`.

    Args:
        register: signed count of 1/16 °C.
        byte_6: reserved; by default what a genuine chip gives after a measurement.

    Source of the example: Linux, Documentation/w1/slaves/w1_therm.rst.

    >>> scratchpad(register_of(23.125)).hex(" ")
    '72 01 4b 46 7f ff 0e 10 57'
    """
    low, high = (register & 0xFFFF).to_bytes(2, "little")
    reserved = 0x10 - (low & 0x0F) if byte_6 is None else byte_6
    content = bytes([low, high, 0x4B, 0x46, 0x7F, 0xFF, reserved, 0x10])
    return content + bytes([crc8(content)])


def w1_slave(measured: bytes, kept: bytes | None = None) -> str:
    """Return the file the kernel shows for a scratchpad.

    Args:
        measured: the nine bytes the chip sent; their checksum gives the verdict.
        kept: the last good nine bytes, which the second line shows; `measured` by default.

    >>> print(w1_slave(scratchpad(register_of(23.125))), end="")
    72 01 4b 46 7f ff 0e 10 57 : crc=57 YES
    72 01 4b 46 7f ff 0e 10 57 t=23125
    """
    shown = measured if kept is None else kept
    crc = crc8(measured[:8])
    verdict = "YES" if crc == measured[8] else "NO"
    return f"{measured.hex(' ')} : crc={crc:02x} {verdict}\n{shown.hex(' ')} t={_millidegrees(shown)}\n"


def _millidegrees(content: bytes) -> int:
    """Return the kernel's integer temperature: C divides towards zero."""
    register = int.from_bytes(content[:2], "little", signed=True)
    magnitude = abs(register) * 1000 // _COUNTS_PER_C
    return -magnitude if register < 0 else magnitude


class BenchProbe:
    """One probe on the bench's 1-wire bus.  Each change is one rename: no reader sees half of it."""

    def __init__(self, bus: Path, rom_id: str) -> None:
        """Name the probe; touches nothing.

        Args:
            bus: the directory the programs take for `/sys/bus/w1/devices`.
            rom_id: the kernel's name of the probe, `28-0123456789ab`.
        """
        self._directory = bus / rom_id
        self._file = self._directory / "w1_slave"
        self._register = POWER_ON_REGISTER

    def show(self, water_c: float) -> None:
        """Measure `water_c`, in steps of 1/16 °C."""
        self._register = register_of(water_c)
        self.restore()

    def restore(self) -> None:
        """Be well again and show the last temperature, after any of the faults below."""
        self.write(w1_slave(scratchpad(self._register)).encode())

    def show_nothing(self) -> None:
        """Fail as today's kernels show it: an empty file."""
        self.write(b"")

    def fail_checksum(self) -> None:
        """Have a bit disturbed on the line, as older kernels show it."""
        good = scratchpad(self._register)
        disturbed = bytes([good[0] ^ 0x04]) + good[1:]
        self.write(w1_slave(disturbed, kept=good).encode())

    def short_line(self) -> None:
        """Send nothing but zeros, whose checksum is right."""
        self.write(w1_slave(bytes(9)).encode())

    def lose_power(self) -> None:
        """Show 85.000 °C: powered up, not yet measured."""
        self.write(w1_slave(scratchpad(POWER_ON_REGISTER, _NOT_MEASURED)).encode())

    def fail_conversion(self) -> None:
        """Show 127.9375 °C: the measurement failed."""
        self.write(w1_slave(scratchpad(UNCONVERTED_REGISTER, _NOT_MEASURED)).encode())

    def vanish(self) -> None:
        """Leave the bus: the kernel removes the directory."""
        with self._letting_readers_go():
            shutil.rmtree(self._directory, ignore_errors=True)

    def hang(self) -> None:
        """Block every reader from now on, until any other method is called."""
        beside = self._beside()
        os.mkfifo(beside)
        self._put(beside)

    def write(self, content: bytes) -> None:
        """Make the file hold `content`, whatever it was before."""
        beside = self._beside()
        beside.write_bytes(content)
        self._put(beside)

    def _beside(self) -> Path:
        self._directory.mkdir(parents=True, exist_ok=True)
        return self._directory / f".w1_slave.{os.getpid()}"

    def _put(self, beside: Path) -> None:
        with self._letting_readers_go():
            beside.replace(self._file)

    @contextmanager
    def _letting_readers_go(self) -> Iterator[None]:
        """End the reads that hang, if any do, once the file has been replaced.

        They wait on a pipe for a writer.  Being one and leaving ends them, with nothing read.
        """
        try:
            hangs = stat.S_ISFIFO(self._file.stat().st_mode)
        except FileNotFoundError:
            hangs = False
        pipe = os.open(self._file, os.O_RDWR) if hangs else None
        try:
            yield
        finally:
            if pipe is not None:
                os.close(pipe)
