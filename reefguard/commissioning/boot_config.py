"""What `config.txt` asks the firmware for (Raspberry Pi documentation, config.txt, "Conditional filters")."""

import re
from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

# The overlays' README of raspberrypi/linux: `gpiopin` of w1-gpio and w1-gpio-pullup.
_ONE_WIRE: Final = re.compile(r"w1-gpio(?:-pullup)?(?:-pi5)?")
_DEFAULT_ONE_WIRE_PIN: Final = 4
_OFF: Final = frozenset({"off", "no", "false", "0", "n"})


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
                pins.append(int(written) if written.isdecimal() else _DEFAULT_ONE_WIRE_PIN)
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
    if section == "all":
        return True
    board = re.fullmatch(r"pi([0-9])\+?|pi0[w2]?", section)
    if board is None:
        return False
    if section.startswith("pi0"):
        return "Pi Zero" in model
    return f"Raspberry Pi {board[1]} " in f"{model} "


def _pairs(given: list[str]) -> dict[str, str]:
    pairs = {}
    for one in given:
        key, sign, value = one.partition("=")
        if key.strip():
            pairs[key.strip()] = value.strip() if sign else "on"
    return pairs
