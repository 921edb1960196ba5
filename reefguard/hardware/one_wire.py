"""Read one 1-wire probe, and say of every failure what it was.

The decoding is w1thermsensor's.  Around it stand the things that library
leaves to its caller: it runs `modprobe` when imported, gives one error for
several causes, lets others through as IndexError or ValueError, and judges
85.0 itself, which here is the business of the checks on plausibility.
"""

import errno
import math
import os
import re
from pathlib import Path
from typing import Final

os.environ["W1THERMSENSOR_NO_KERNEL_MODULE"] = "1"  # read while it is imported: no `modprobe`

from w1thermsensor import NoSensorFoundError, Sensor, W1ThermSensor

from reefguard.vocabulary import Cause

# What drivers/w1/slaves/w1_therm.c writes: the nine bytes of the scratchpad and the verdict on
# their checksum, then the bytes it keeps and millidegrees Celsius.
_SCRATCHPAD: Final = r"((?:[0-9a-f]{2} ){9})"
_W1_SLAVE: Final = re.compile(rf"{_SCRATCHPAD}: crc=[0-9a-f]{{2}} (YES|NO)\n{_SCRATCHPAD}t=-?\d{{1,6}}\n?")
_LONGEST_FILE: Final = 4096  # one page, the most that sysfs gives
_GONE: Final = frozenset({errno.ENOENT, errno.ENOTDIR, errno.ENODEV, errno.ENXIO})


def read_probe(directory: Path, rom_id: str) -> float | Cause:
    """Return the raw temperature of a probe, degrees Celsius, or why there is none.

    Takes as long as the bus does: 0.75 s for a healthy probe at 12 bit, no end for a hung bus.
    The probe is sought anew each time, so that it may come and go.

    Args:
        directory: where the kernel shows its probes, `/sys/bus/w1/devices`.
        rom_id: the kernel's name of the probe, `28-0123456789ab`.
    """
    try:
        return float(_WireSensor(directory, rom_id).get_temperature())
    except _Unreadable as failure:
        return failure.cause
    except NoSensorFoundError:
        return Cause.ABSENT
    except OSError as error:
        return Cause.ABSENT if error.errno in _GONE else Cause.UNREADABLE
    except Exception:  # noqa: BLE001  no fault of one probe or of its decoder may end the reading of it
        return Cause.MALFORMED


def read_octets(directory: Path, rom_id: str) -> bytes | Cause:
    """Return the nine bytes of a probe's scratchpad, or why there are none; as slow as `read_probe`."""
    try:
        with (directory / rom_id / "w1_slave").open("rb") as file:
            return bytes.fromhex(lines_of(file.read(_LONGEST_FILE))[0].partition(":")[0])
    except _Unreadable as failure:
        return failure.cause
    except OSError as error:
        return Cause.ABSENT if error.errno in _GONE else Cause.UNREADABLE


class _Unreadable(Exception):  # noqa: N818  never leaves this module
    def __init__(self, cause: Cause) -> None:
        super().__init__(cause.value)
        self.cause = cause


class _WireSensor(W1ThermSensor):  # type: ignore[misc]  # w1thermsensor has no types
    """A w1thermsensor under a directory of our choice, with its causes told apart."""

    SENSOR_RESET_VALUE = math.nan  # equals no reading, so that 85.0 comes through to be judged

    def __init__(self, directory: Path, rom_id: str) -> None:
        self.BASE_DIRECTORY = directory  # must be a Path, and is read while constructing
        family, _, serial = rom_id.partition("-")
        super().__init__(Sensor.from_id_string(family), serial)

    def get_raw_sensor_strings(self) -> list[str]:
        """Return the two lines of the file, the second with no bit the probe leaves undefined."""
        with self.sensorpath.open("rb") as file:
            measured, kept = lines_of(file.read(_LONGEST_FILE))
        return [measured, without_undefined_bits(kept)]


def lines_of(content: bytes) -> list[str]:
    """Return the two lines of a `w1_slave` file that holds a reading.

    Raises:
        _Unreadable: it holds none, and why.
    """
    if not content:
        raise _Unreadable(Cause.EMPTY)
    text = content.decode("ascii", "replace")
    match = _W1_SLAVE.fullmatch(text)
    if match is None:
        raise _Unreadable(Cause.MALFORMED)
    measured, verdict, kept = match.groups()
    if verdict == "NO":
        raise _Unreadable(Cause.CRC)
    if not any(bytes.fromhex(measured)):
        # The checksum of nine zeros is zero: a shorted line passes it, a chip never reads so.
        raise _Unreadable(Cause.ZEROS)
    if measured != kept:
        raise _Unreadable(Cause.MALFORMED)
    return text.splitlines()


def without_undefined_bits(line: str) -> str:
    """Return `line` with those bits of its register cleared that its resolution leaves undefined.

    Source:
        DS18B20 data sheet (19-7487 Rev 6), "Operation - Measuring Temperature" and Figure 10:
        bits 6 and 5 of the configuration byte, the fifth, give 9 to 12 bits; at 11, 10 and 9
        bits the lowest one, two and three bits of the register are undefined.

    >>> without_undefined_bits("97 01 4b 46 1f ff 09 10 c4 t=25437")  # 9 bit
    '90 01 4b 46 1f ff 09 10 c4 t=25437'
    """
    configuration = int(line.split()[4], 16)
    undefined = 3 - (configuration >> 5 & 0b11)
    return f"{int(line[:2], 16) >> undefined << undefined:02x}{line[2:]}"
