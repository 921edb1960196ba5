"""What the link hands on, and to whom: every outlet is given the same snapshot, round after round.

An outlet shows the tank to another system.  It must not hold up the round: what
takes time (a connection, a slow disk) belongs in a thread of its own.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from reefguard.records.events import Recorded


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What the link knows in one round.

    Attributes:
        status: the guard's status file as read; `None` when there is none or it cannot be read.
        fresh: the status is of this boot and no older than the settings allow.
        age_s: how old the guard's last tick is, by the boot clock; `None` where that cannot be known
            (no status, or another boot's).
        events: what happened since the last snapshot, oldest first.
    """

    status: Mapping[str, Any] | None
    fresh: bool
    age_s: float | None
    events: tuple[Recorded, ...] = ()


class Outlet(Protocol):
    """Shows the tank to another system."""

    def publish(self, snapshot: Snapshot) -> None:
        """Take in the snapshot of a round; return at once, and raise nothing."""

    def close(self) -> None:
        """Say goodbye, within seconds."""
