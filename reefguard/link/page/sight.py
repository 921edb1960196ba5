"""What the guard's status file says at a moment, and whether that is of now.

A page that shows an old value as if it were of now does harm: somebody looks,
and goes to bed.  So each way in which a status can be other than live has a
type and a sentence of its own.
"""

from dataclasses import dataclass
from enum import Enum
from typing import Final

from reefguard.control.words import span
from reefguard.link.notes import Now
from reefguard.link.readout import Table, number
from reefguard.records.status_file import NoStatus

LATE_AFTER_S: Final = 10.0
"""A status this much older than one sampling is late."""

_SINCE_S: Final = 5.0


class Liveness(Enum):
    """How far a status is of now; the words stand on the page."""

    LIVE = "live"
    LATE = "late"
    SILENT = "the guard is silent"
    NOTHING = "nothing is known"


@dataclass(frozen=True, slots=True)
class Sight:
    """A status, and how far it is of now.

    Attributes:
        liveness: how far.
        status: as it was read; empty where there is none.
        age_s: how old it is by the boot clock; `None` where that cannot be known.
        why: what is wrong with it, a sentence; empty where it is live.
    """

    liveness: Liveness
    status: Table
    age_s: float | None
    why: str = ""

    @property
    def of_now(self) -> bool:
        """Whether its values may be shown as those of now."""
        return self.liveness in (Liveness.LIVE, Liveness.LATE)


def sight(read: Table | NoStatus, now: Now, silent_after_s: float) -> Sight:
    """Weigh a status.

    Args:
        read: by `reefguard.records.status_file.read`.
        now: the present.
        silent_after_s: a status that is older is a silent guard's.
    """
    if isinstance(read, NoStatus):
        return Sight(Liveness.NOTHING, {}, None, read.why)
    written_s = number(read, "written_s")
    if written_s is None:
        return Sight(Liveness.NOTHING, {}, None, "the status file says not when it was written")
    if read.get("boot_id") != now.boot_id:
        return Sight(
            Liveness.NOTHING,
            read,
            None,
            "the last status is from before the machine started: the guard has not written since",
        )
    if not 0.0 <= written_s <= now.boot_s + _SINCE_S:
        return Sight(Liveness.NOTHING, read, None, "the status was written by a clock that is not this one")
    age_s = max(0.0, now.boot_s - written_s)
    if age_s > silent_after_s:
        return Sight(Liveness.SILENT, read, age_s, f"the guard has written nothing for {span(age_s)}")
    if age_s > (number(read, "sampling_s") or 0.0) + LATE_AFTER_S:
        return Sight(Liveness.LATE, read, age_s, f"the guard is late: its last word is {span(age_s)} old")
    return Sight(Liveness.LIVE, read, age_s)
