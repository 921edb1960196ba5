"""Read what the guard has written: its status, and its events from a place on."""

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from reefguard.link.notes import Now
from reefguard.link.ports import Snapshot
from reefguard.records import status_file
from reefguard.records.event_reader import EventReader
from reefguard.records.events import Recorded

_PAGE: Final = 500
_SINCE_S: Final = 5.0


def snapshot(status_path: Path, now: Now, silent_after_s: float) -> Snapshot:
    """Return what the guard's status says, and whether it is of now.

    Args:
        status_path: the guard's status file.
        now: the present.
        silent_after_s: a status that is older is not fresh.
    """
    status = status_file.read(status_path)
    if not isinstance(status, dict):
        return Snapshot(None, fresh=False, age_s=None)
    written_s = status.get("written_s")
    if (
        status.get("boot_id") != now.boot_id
        or isinstance(written_s, bool)
        or not isinstance(written_s, int | float)
        # A status from the future would never grow old; a little of it is a tick since `now`.
        or not 0.0 <= written_s <= now.boot_s + _SINCE_S
    ):
        return Snapshot(status, fresh=False, age_s=None)
    age_s = max(0.0, now.boot_s - written_s)
    return Snapshot(status, fresh=age_s <= silent_after_s, age_s=age_s)


def unacknowledged(shown: Snapshot) -> frozenset[str] | None:
    """Return the alarms that stand unacknowledged by the guard's word, `None` where it says nothing."""
    alarms = (shown.status or {}).get("alarms")
    if not shown.fresh or not isinstance(alarms, list):
        return None
    return frozenset(
        str(alarm.get("name"))
        for alarm in alarms
        if isinstance(alarm, dict) and "unacknowledged" in str(alarm.get("state"))
    )


def events_since(reader: EventReader, seq: int) -> tuple[tuple[Recorded, ...], bool]:
    """Return a page of events after a place, and whether they began anew since.

    Raises:
        NoEvents: they cannot be read.
    """
    found = reader.events_after(seq, _PAGE)
    if not found and seq > 0 and reader.last_seq() < seq:
        return reader.events_after(0, _PAGE), True
    return found, False


def history(reader: EventReader, until_seq: int) -> Iterator[Recorded]:
    """Yield all events up to a place, oldest first.

    Raises:
        NoEvents: they cannot be read.
    """
    seq = 0
    while page := reader.events_after(seq, _PAGE):
        for recorded in page:
            if recorded.seq > until_seq:
                return
            yield recorded
        seq = page[-1].seq
