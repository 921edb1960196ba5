"""Choose the library behind the pins, explicitly and once.

gpiozero, left to itself, falls back from one pin library to the next with a
warning, and takes the GPIO chip by number, which differs between models and
kernels.  Here there is one choice, no fallback, and the chip goes by its label.

Before the first call, be in a directory that may be written, such as the
service's runtime directory: importing lgpio makes a pipe `.lgd-nfy0` in the
working directory, and fails where it cannot.
"""

import fcntl
import grp
import os
import pwd
import re
import stat
from collections.abc import Callable, Mapping
from importlib.metadata import entry_points
from pathlib import Path
from typing import Final

from gpiozero.pins import Factory

from reefguard.hardware.unavailable import HardwareUnavailable

# Drivers of the header's lines: Pi 5, Pi 4, and all before.
PI_CHIP_LABELS: Final = frozenset({"pinctrl-rp1", "pinctrl-bcm2711", "pinctrl-bcm2835"})

# struct gpiochip_info { char name[32]; char label[32]; __u32 lines; } of <linux/gpio.h>, and the
# request that fills it: _IOR(0xB4, 0x01, struct gpiochip_info).
_CHIP_INFO_BYTES: Final = 68
_GET_CHIP_INFO: Final = 2 << 30 | _CHIP_INFO_BYTES << 16 | 0xB4 << 8 | 0x01


def open_factory(
    environ: Mapping[str, str] = os.environ,
    devices: Path = Path("/dev"),
    chip_label: Callable[[Path], str] | None = None,
) -> Factory:
    """Return the pin factory that GPIOZERO_PIN_FACTORY names, or the Pi's own header.

    The name `lgpio` also means the Pi's own header: gpiozero's factory of that
    name starts every output low.

    Args:
        environ: the environment.
        devices: the directory of the `gpiochip*` devices.
        chip_label: how to learn a chip's label; asks the kernel by default.

    Raises:
        HardwareUnavailable: there is no such factory, no such chip, or no right to use it.
    """
    named = environ.get("GPIOZERO_PIN_FACTORY")
    if named in {None, "", "lgpio"}:
        return _open_header(find_chip(devices, chip_label or label_of))
    return _open_named(named or "")


def _open_named(name: str) -> Factory:
    known = {entry.name: entry for entry in entry_points(group="gpiozero_pin_factories")}
    if name not in known:
        raise HardwareUnavailable(
            f"GPIOZERO_PIN_FACTORY is `{name}`, and no such pin factory is installed; "
            f"mend: unset it, or use one of {', '.join(sorted(known))}"
        )
    try:
        return known[name].load()()
    except Exception as error:  # whatever a library raises, there is no second choice
        raise HardwareUnavailable(f"the pin factory `{name}` does not start: {error}") from error


def _open_header(chip: int) -> Factory:
    try:
        # Late, because this imports lgpio: see the module's first lines.
        from reefguard.hardware.held_lines import HeldLinesFactory  # noqa: PLC0415  loads lgpio
    except ImportError as error:
        raise HardwareUnavailable(
            f"the Python module lgpio cannot be loaded ({error}); mend: `sudo apt install python3-lgpio`, "
            "and let the virtual environment see it (`python3 -m venv --system-site-packages`)"
        ) from error
    except OSError as error:
        raise HardwareUnavailable(
            f"lgpio could not make its pipe in the working directory {Path.cwd()} ({error}); "
            "mend: start in a directory that may be written, such as the service's RuntimeDirectory="
        ) from error
    return HeldLinesFactory(chip)


def find_chip(devices: Path, chip_label: Callable[[Path], str]) -> int:
    """Return the number of the chip that carries the Pi's header, by its label.

    Raises:
        HardwareUnavailable: none does, or it may not be opened.
    """
    numbered = sorted(
        (int(match[1]), path)
        for path in devices.glob("gpiochip*")
        if (match := re.fullmatch(r"gpiochip(\d+)", path.name))
    )
    seen: list[str] = []
    refused: list[str] = []
    for number, path in numbered:
        try:
            label = chip_label(path)
        except PermissionError:
            refused.append(_refusal(path))
        except OSError as error:
            seen.append(f"{path} ({error.strerror or error})")
        else:
            if label in PI_CHIP_LABELS:
                return number
            seen.append(f"{path} ({label})")
    if refused:
        raise HardwareUnavailable("\n".join(refused))
    if not numbered:
        raise HardwareUnavailable(
            f"there is no GPIO chip: {devices}/gpiochip* does not exist; mend: run this on a Raspberry Pi, "
            "or on a bench with GPIOZERO_PIN_FACTORY=bench and REEFGUARD_BENCH=DIR"
        )
    raise HardwareUnavailable(
        f"no GPIO chip carries a Raspberry Pi's header: found {', '.join(seen)}, "
        f"looked for {', '.join(sorted(PI_CHIP_LABELS))}"
    )


def label_of(path: Path) -> str:
    """Ask the kernel for the label of the GPIO chip at `path`.

    Raises:
        OSError: it cannot be opened for reading and writing, or is no GPIO chip.
    """
    descriptor = os.open(path, os.O_RDWR | os.O_CLOEXEC)
    try:
        return label_in(fcntl.ioctl(descriptor, _GET_CHIP_INFO, bytes(_CHIP_INFO_BYTES)))
    finally:
        os.close(descriptor)


def label_in(chip_info: bytes) -> str:
    """Return the label in a `struct gpiochip_info`.

    >>> label_in(b"gpiochip0".ljust(32, bytes(1)) + b"pinctrl-bcm2711".ljust(32, bytes(1)) + bytes(4))
    'pinctrl-bcm2711'
    """
    return chip_info[32:64].split(b"\0", 1)[0].decode("ascii", "replace")


def _refusal(path: Path) -> str:
    """Say who may open `path`, and how to become one of them."""
    status = path.stat()
    try:
        owner = pwd.getpwuid(status.st_uid).pw_name
    except KeyError:
        owner = str(status.st_uid)
    try:
        group = grp.getgrgid(status.st_gid).gr_name
    except KeyError:
        group = str(status.st_gid)
    return (
        f"{path} may not be opened: it belongs to {owner}:{group}, mode {stat.S_IMODE(status.st_mode):04o}; "
        "mend: add the user to the group gpio (`sudo usermod -aG gpio USER`, then log in again), or in a "
        "service SupplementaryGroups=gpio and DeviceAllow=char-gpiochip rw"
    )
