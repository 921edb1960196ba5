"""What the Pi's boot configuration must say, and what it says already.  Pure: text in, text out.

A line counts only where it holds for every board: outside of any section, or
under `[all]` (Raspberry Pi documentation, *config.txt*, conditional filters).
"""

import re
from typing import Final, NamedTuple

PROBES_BUS: Final = 4
CUTOFF_BUS: Final = 24

_STRICT: Final = "dtparam=strict_gpiod"


class Wanted(NamedTuple):
    """A line, and what it is for."""

    line: str
    why: str


def wanted(cutoff_bus: int = CUTOFF_BUS) -> tuple[Wanted, ...]:
    """Return every line that is wanted.

    `strict_gpiod` comes first: after an overlay a `dtparam` is first sought among the overlay's own.

    Args:
        cutoff_bus: the GPIO number of the cutoff's own 1-wire bus.
    """
    return (
        Wanted(_STRICT, "a pin whose program died becomes an input again, and your resistor holds it off"),
        Wanted("dtoverlay=w1-gpio", f"the bus of your probes, on GPIO{PROBES_BUS}"),
        Wanted(
            f"dtoverlay=w1-gpio,gpiopin={cutoff_bus}", f"the cutoff's probe, on its own bus: GPIO{cutoff_bus}"
        ),
    )


def missing(text: str, lines: tuple[Wanted, ...]) -> tuple[Wanted, ...]:
    r"""Return the lines that a boot configuration does not have.

    >>> [one.line for one in missing("dtoverlay=w1-gpio,gpiopin=4", wanted())]
    ['dtparam=strict_gpiod', 'dtoverlay=w1-gpio,gpiopin=24']
    >>> [one.line for one in missing("[pi4]\ndtparam=strict_gpiod", wanted())][0]
    'dtparam=strict_gpiod'
    """
    had = {meaning for line in _for_every_board(text) for meaning in _meanings(line)}
    return tuple(one for one in lines if not set(_meanings(one.line)) <= had)


def with_lines(text: str, lines: tuple[Wanted, ...]) -> str:
    """Return the boot configuration with lines added at its end, where they hold for every board."""
    if not lines:
        return text
    begun = text if not text or text.endswith("\n") else f"{text}\n"
    rows = [f"# reefguard: {one.why}\n{one.line}\n" for one in lines]
    return f"{begun}\n[all]\n{''.join(rows)}"


def _for_every_board(text: str) -> list[str]:
    lines, counts = [], True
    for raw in text.splitlines():
        line = raw.partition("#")[0].strip()
        if section := re.fullmatch(r"\[(.+)\]", line):
            counts = section[1].strip().lower() == "all"
        elif counts and line:
            lines.append(line)
    return lines


def _meanings(line: str) -> list[str]:
    """Return what a line sets, one by one, each in one spelling."""
    key, _, value = (part.strip() for part in line.partition("="))
    first, *rest = (part.strip() for part in value.split(","))
    if key == "dtparam":
        # Without a value a parameter is on.
        named = (part.partition("=") for part in (first, *rest))
        return [f"{name.strip()} {given.strip() or 'on'}" for name, _, given in named]
    if key == "dtoverlay" and first in {"w1-gpio", "w1-gpio-pullup"}:
        pins = [part.partition("=")[2].strip() for part in rest if part.startswith("gpiopin")]
        return [f"1-wire {pins[-1] if pins else PROBES_BUS}"]
    return [line]
