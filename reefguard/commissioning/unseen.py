"""Which checks had nothing to look at: what was not looked at is not in order, and is not said to be.

A person who may not read the settings, a machine without a service manager, a
directory that only root may enter: the facts are not there, and a check that
finds nothing in them says nothing.
"""

from collections.abc import Callable
from typing import Final

from reefguard.commissioning.host import Host


def unseen(host: Host) -> frozenset[str]:
    """Return the names of the checks that could not look."""
    return frozenset(name for name, is_unseen in _UNSEEN.items() if is_unseen(host))


def _no_settings(host: Host) -> bool:
    return host.settings is None


def _no_cutoff(host: Host) -> bool:
    """Whether a cutoff is said to be here, and nothing of it can be looked at."""
    chiller = None if host.settings is None else host.settings.chiller
    return chiller is not None and chiller.cutoff_status is not None and host.cutoff is None


# The names are those of `checks_of_board.CHECKS` and `checks_of_system.CHECKS`.
_UNSEEN: Final[dict[str, Callable[[Host], bool]]] = {
    "1-wire overlays": lambda host: not host.is_pi or host.boot_config is None or _no_settings(host),
    "1-wire bus of the cutoff": lambda host: not host.is_pi or _no_settings(host) or _no_cutoff(host),
    "strict_gpiod": lambda host: not host.is_pi or host.boot_config is None,
    "polarity and power-on pull": _no_settings,
    "pins taken by others": lambda host: not host.is_pi or host.lines is None,
    "GPIO device and group": lambda host: not host.is_pi,
    "hardware watchdog": lambda host: not host.is_pi or host.watchdog_s is None,
    "probes": lambda host: host.bus is None,
    "permissions": lambda host: not host.kept,
    "clock": lambda host: host.clock_right is None,
    "disk": lambda host: not host.disks,
    "journal": lambda host: host.journal_lasts is None,
    "services": lambda host: host.units is None,
    "guard": lambda host: host.guard is None,
    "cutoff": _no_settings,
    "channels": lambda host: _no_settings(host) or host.secrets is None,
}
