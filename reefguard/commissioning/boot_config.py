"""What `config.txt` asks the firmware for (Raspberry Pi documentation, config.txt, "Conditional filters")."""

import re
from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

# The overlays' README of raspberrypi/linux: `gpiopin` of w1-gpio and w1-gpio-pullup.
_ONE_WIRE: Final = re.compile(r"w1-gpio(?:-pullup)?(?:-pi5)?")
_DEFAULT_ONE_WIRE_PIN: Final = 4
_LAST_PIN: Final = 27
_OFF: Final = frozenset({"off", "no", "false", "0", "n"})

# Which model filters a board sees, by words in its name; the first that fit count (Raspberry Pi
# documentation, as above, "Model Filters"; the names of the 500 and of modules are of its newer editions).
_SEEN_BY: Final = (
    ("Zero 2", {"pi0", "pi0w", "pi02"}),
    ("Zero W", {"pi0", "pi0w"}),
    ("Zero", {"pi0"}),
    ("Compute Module 5", {"pi5", "cm5"}),
    ("Compute Module 4S", {"pi4", "cm4s"}),
    ("Compute Module 4", {"pi4", "cm4"}),
    ("Compute Module 3", {"pi3"}),
    ("Compute Module", {"pi1"}),
    ("Pi 500", {"pi5", "pi500"}),
    ("Pi 400", {"pi4", "pi400"}),
    ("Pi 3 Model B Plus", {"pi3", "pi3+"}),
    ("Pi 3 Model A Plus", {"pi3", "pi3+"}),
    ("Pi Model", {"pi1"}),
)


class Overlay(NamedTuple):
    """An overlay with its parameters."""

    name: str
    parameters: Mapping[str, str]


class BootConfig(NamedTuple):
    """What holds for this board."""

    overlays: tuple[Overlay, ...]
    parameters: Mapping[str, str]

    def one_wire_pins(self) -> tuple[int, ...]:
        """Return the pins of the 1-wire buses, in their order."""
        pins = []
        for overlay in self.overlays:
            if _ONE_WIRE.fullmatch(overlay.name):
                written = overlay.parameters.get("gpiopin", str(_DEFAULT_ONE_WIRE_PIN))
                # Longer than a pin's number is none: Python refuses to read thousands of digits.
                is_pin = len(written) < 3 and written.isdecimal() and int(written) <= _LAST_PIN
                pins.append(int(written) if is_pin else _DEFAULT_ONE_WIRE_PIN)
        return tuple(pins)

    def is_on(self, parameter: str) -> bool:
        """Return whether a parameter is there and not switched off."""
        given = [self.parameters, *(overlay.parameters for overlay in self.overlays)]
        written = next((one[parameter] for one in given if parameter in one), "off")
        return written.lower() not in _OFF


def read(text: str, model: str) -> BootConfig:
    """Read the file for a board; what stands under another board's filter does not hold.

    A `dtparam` after a `dtoverlay` belongs to that overlay, where it has such a parameter.
    """
    overlays: list[tuple[str, dict[str, str]]] = []
    parameters: dict[str, str] = {}
    for key, value in _lines(text, model):
        if key == "dtoverlay":
            name, *given = value.split(",")
            if name.strip():
                overlays.append((name.strip(), _pairs(given)))
        elif key in {"dtparam", "device_tree_param"}:
            target = overlays[-1][1] if overlays else parameters
            # The base's own parameters hold wherever they stand.
            target |= _pairs(value.split(","))
    return BootConfig(tuple(Overlay(*one) for one in overlays), parameters)


def _lines(text: str, model: str) -> Iterator[tuple[str, str]]:
    holds = True
    for raw in text.splitlines():
        line = raw.partition("#")[0].strip()
        if found := re.fullmatch(r"\[(.*)\]", line):
            holds = _is_for(found[1].strip().lower(), model)
            continue
        key, sign, value = line.partition("=")
        if holds and sign:
            yield key.strip().lower(), value.strip()


def _is_for(section: str, model: str) -> bool:
    """Return whether a filter holds; one that is not of the model (a monitor, a serial number) never does."""
    if section == "all":
        return True
    for words, filters in _SEEN_BY:
        if words in model:
            return section in filters
    board = re.search(r"Raspberry Pi ([0-9]) ", f"{model} ")
    return board is not None and section == f"pi{board[1]}"


def _pairs(given: list[str]) -> dict[str, str]:
    pairs = {}
    for one in given:
        key, sign, value = one.partition("=")
        if key.strip():
            pairs[key.strip()] = value.strip() if sign else "on"
    return pairs
