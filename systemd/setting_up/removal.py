"""Taking it off the machine: the programs and what belongs to them, and nothing of the keeper's."""

import shutil
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Final

from setting_up.asked import WATCHDOG
from setting_up.machine import Change, Machine
from setting_up.program import COMMAND, HOME, LINK
from setting_up.system import RULES, SERVICES, SYSUSERS, UNITS_IN

KEPT: Final = (
    "/etc/reefguard: your settings and secrets",
    "/var/lib/reefguard, /var/lib/reefguard-cutoff, /var/lib/reefguard-link: records, and the cutoff's latch",
    "the users and groups these files belong to",
    "the boot configuration, and the system's packages",
)


def removal(machine: Machine) -> Iterator[Change]:
    """Stop everything, each output at its safe level, then take the programs away."""
    # The guard before the cutoff: with its own contact open it need not be told that the cutoff is gone.
    for service in reversed(SERVICES):
        unit = machine.at(f"{UNITS_IN}/{service.unit}")
        if unit.exists():
            now = ("--now",) if machine.running else ()
            yield Change(
                f"stop {service.unit.removesuffix('.service')} for good; whatever it drives is made safe",
                partial(machine.systemctl, "disable", *now, service.unit),
            )
            yield Change(f"take away {unit}", unit.unlink)
    command = machine.at(COMMAND)
    if command.is_symlink() and command.readlink() == Path(LINK):
        yield Change(f"take away {command}", command.unlink)
    for place in (RULES, SYSUSERS, WATCHDOG):
        file = machine.at(place)
        if file.exists():
            yield Change(f"take away {file}", file.unlink)
    home = machine.at(HOME)
    if home.exists():
        yield Change(f"take away {home}, the programs", lambda: shutil.rmtree(home))
    if machine.running:
        yield Change("have the service manager forget the units", lambda: machine.systemctl("daemon-reload"))
