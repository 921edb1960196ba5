"""Drive the safe levels when the guard is gone: loads as little as it can, for it is waited for."""

from pathlib import Path

import click

from reefguard.hardware.gpio import open_factory
from reefguard.hardware.outputs import Relay
from reefguard.hardware.unavailable import HardwareUnavailable
from reefguard.records import safe_levels
from reefguard.records.safe_levels import SafeLevel
from reefguard.settings.model import Wiring

# sysexits.h: service unavailable.
EX_UNAVAILABLE = 69


def known_levels(state: Path) -> tuple[SafeLevel, ...]:
    """Return the levels that the last guard kept in its state directory."""
    return safe_levels.load(state)


def make_safe(levels: tuple[SafeLevel, ...], state: Path) -> int:
    """Drive the levels, each as well as can be; say what was done, and return the exit code."""
    if not levels:
        click.echo(f"no safe levels are known in {state}: no pin was touched", err=True)
        return 0
    try:
        factory = open_factory()
    except HardwareUnavailable as error:
        click.echo(f"reefguard guard: {error}", err=True)
        return EX_UNAVAILABLE
    driven, failures = [], []
    for level in levels:
        try:
            Relay(level.output, Wiring(level.pin), factory, on_at_first=level.high)
        except HardwareUnavailable as error:
            failures.append(str(error))
        else:
            driven.append(f"{level.output} on GPIO{level.pin} {'high' if level.high else 'low'}")
    if driven:
        click.echo(f"safe levels: {', '.join(driven)}", err=True)
    for failure in failures:
        click.echo(f"reefguard guard: {failure}", err=True)
    return EX_UNAVAILABLE if failures else 0
