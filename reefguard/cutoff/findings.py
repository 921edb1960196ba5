"""What a valid limits file may still get wrong, and the wording of problems and findings.  Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reefguard.cutoff.limits import Setup
from reefguard.cutoff.strict_yaml import Problem


@dataclass(frozen=True, slots=True)
class Finding:
    """Something allowed that may surprise: which key, what of it, and what to do."""

    key: str
    what: str
    mend: str


def findings(setup: Setup) -> list[Finding]:
    """Weigh a setup that the rules let through."""
    return [*_of_temperatures(setup), *_of_pin(setup)]


def _of_temperatures(setup: Setup) -> Iterator[Finding]:
    limits = setup.limits
    if limits.recovered_c > 27.0:
        # NOAA National Ocean Service, "In what types of water do corals live?": best from 23 °C to 29 °C.
        yield Finding(
            "limit",
            f"cooling may only run once the water is at {limits.recovered_c:g} °C, which many reef tanks "
            "never reach when all is well: it would be held off when it is needed",
            "set the limit about 1 °C below the coldest the guard should ever cool to",
        )
    if limits.limit_c < 20.0:
        # The same source: reef builders cannot tolerate water below 18 °C.
        yield Finding(
            "limit",
            f"{limits.limit_c:g} °C is close to what reef-building corals do not survive (18 °C): "
            "the cutoff would come too late",
            "set the limit about 1 °C below the coldest the guard should ever cool to",
        )
    if limits.recovery_c < 0.5:
        yield Finding(
            "recovery",
            f"{limits.recovery_c:g} °C is inside the ±0.5 °C error of the probe (DS18B20 data sheet)",
            "write 0.5 °C or more, so that recovered water is warmer beyond doubt",
        )
    if abs(setup.probe_offset_c) > 0.5:
        yield Finding(
            "probe_offset",
            f"{setup.probe_offset_c:+.2f} °C is more than the ±0.5 °C the data sheet allows the probe",
            "compare it with the reference once more, in water of 25 °C to 27 °C; if it stays, replace it",
        )


_PINS_IN_USE = {
    0: "the ID chip of an add-on board",
    1: "the ID chip of an add-on board",
    2: "I2C, with a fixed pull-up of 1.8 kΩ on the board",
    3: "I2C, with a fixed pull-up of 1.8 kΩ on the board",
    4: "the 1-wire bus, unless its overlay names another pin",
    14: "the serial console, which sends on it at boot",
    15: "the serial console",
}
"""Raspberry Pi documentation, "GPIO and the 40-pin header" and the overlays' README."""


def _of_pin(setup: Setup) -> Iterator[Finding]:
    relay = setup.relay
    if relay.pin in _PINS_IN_USE:
        yield Finding(
            "relay.pin",
            f"GPIO{relay.pin} may belong to {_PINS_IN_USE[relay.pin]}",
            "wire the relay to a free pin, such as GPIO23",
        )
    # BCM2835 ARM Peripherals, table 6-31: GPIO0 to GPIO8 are pulled up at power-on, GPIO9 to GPIO27 down.
    pulled_up = relay.pin <= 8
    if pulled_up == relay.active_high:
        pull, level = ("up", "high") if pulled_up else ("down", "low")
        other = "GPIO9 to GPIO27" if pulled_up else "GPIO5 or GPIO6"
        yield Finding(
            "relay.pin",
            f"until the cutoff runs, GPIO{relay.pin} is pulled {pull}, and a {level} level energises the "
            "relay: the chiller may run during every boot (BCM2835 ARM Peripherals, table 6-31)",
            f"use {other} for this relay, or a relay of the other polarity",
        )


def problems_in_words(file: str, problems: Sequence[Problem], left: str) -> str:
    """Word every problem of a limits file.

    Args:
        file: its path.
        problems: at least one.
        left: what state things are left in, one clause.
    """
    parts = [f"{file}: {_counted(len(problems), 'problem')}; {left}."]
    for problem in problems:
        where = f"  line {problem.place.line}, column {problem.place.column}"
        where += f", {_one_line(problem.key)}" if problem.key else ""
        where += f": {_one_line(problem.read)}" if problem.read else ""
        parts.append(f"{where}\n    {problem.why}\n    mend: {problem.mend}")
    return "\n\n".join(parts) + "\n"


def findings_in_words(file: str, found: Sequence[Finding]) -> str:
    """Word every finding of a valid limits file."""
    if not found:
        return f"{file}: in order.\n"
    parts = [f"{file}: valid, with {_counted(len(found), 'finding')}."]
    parts += [f"  {finding.key}\n    {finding.what}\n    mend: {finding.mend}" for finding in found]
    return "\n\n".join(parts) + "\n"


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _one_line(text: str) -> str:
    """Show what was read on one line, whatever is in it."""
    shown = "".join(char if char.isprintable() else ascii(char)[1:-1] for char in text)
    return shown if len(shown) <= 80 else f"{shown[:77]}..."
