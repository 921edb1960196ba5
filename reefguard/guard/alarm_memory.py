"""What is known of the alarms, as a text that outlives the guard.

Within a boot everything goes on as it was.  After another boot no time of the
old one counts: what was active stays active, its beginning unknown, until the
condition is seen again or is gone; what nobody acknowledged stays so; a shelf
ends, for nobody can tell how long the machine was down.
"""

import hashlib
import json
from collections.abc import Mapping
from contextlib import suppress
from typing import Any, Final, NamedTuple

from reefguard.alarms.catalogue import kind_of
from reefguard.alarms.excursion import Excursion
from reefguard.alarms.machine import Alarm
from reefguard.alarms.survey import NOTHING, Memory, Standing

# Its name among the texts that are kept beside the events.
NAME: Final = "alarms"


class Known(NamedTuple):
    """What is known of the alarms.

    Attributes:
        memory: their states.
        excursions: of the water out of its band, by the alarm's name.
        raised_wall: when each became active, for people (ISO 8601).
    """

    memory: Memory = NOTHING
    excursions: Mapping[str, Excursion] = {}
    raised_wall: Mapping[str, str] = {}


class LeftBehind(NamedTuple):
    """What the last run left.

    Attributes:
        known: of the alarms.
        ended_cleanly: whether it was stopped, and did not just end.
        same_boot: whether it ran since the machine was started.
    """

    known: Known
    ended_cleanly: bool
    same_boot: bool


def as_text(known: Known, *, boot_id: str, running: bool) -> str:
    """Return it as JSON under a checksum; `running` says that whoever wrote it has not been stopped yet."""
    alarms = {
        name: {"alarm": one.alarm._asdict(), "what": one.what} for name, one in known.memory.alarms.items()
    }
    document = {
        "boot_id": boot_id,
        "running": running,
        "alarms": alarms,
        "excursions": {name: one._asdict() for name, one in known.excursions.items()},
        "raised_wall": dict(known.raised_wall),
    }
    text = json.dumps(document, ensure_ascii=False)
    # SQLite keeps none over its pages, and a disk may flip a bit.
    return f"{_checksum(text)}\n{text}"


def from_text(text: str | None, *, boot_id: str, now_s: float) -> LeftBehind | None:
    """Return what a text says, for a run that begins now; `None` when it says nothing that is understood."""
    if text is None:
        return None
    checksum, _, body = text.partition("\n")
    if checksum != _checksum(body):
        return None
    # Another version may have written it.
    with suppress(ValueError, KeyError, TypeError, AttributeError):
        document = json.loads(body)
        same_boot = document["boot_id"] == boot_id
        alarms = {
            str(name): Standing(_alarm(one["alarm"], now_s, same_boot=same_boot), str(one["what"]))
            for name, one in document["alarms"].items()
            # Another version may have known other alarms.
            if kind_of(str(name)) is not None
        }
        excursions = {
            str(name): _excursion(one, now_s, same_boot=same_boot)
            for name, one in document["excursions"].items()
        }
        raised_wall = {str(name): str(wall) for name, wall in document["raised_wall"].items()}
        known = Known(Memory(alarms), excursions, raised_wall)
        return LeftBehind(known, ended_cleanly=document["running"] is False, same_boot=same_boot)
    return None


def _checksum(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _alarm(fields: Mapping[str, Any], now_s: float, *, same_boot: bool) -> Alarm:
    alarm = Alarm(**fields)
    if same_boot:
        return alarm
    # A shelf that ends now is told, and what stood behind it is raised.
    shelved_until_s = None if alarm.shelved_until_s is None else now_s
    return alarm._replace(turning_since_s=None, raised_s=None, shelved_until_s=shelved_until_s)


def _excursion(fields: Mapping[str, Any], now_s: float, *, same_boot: bool) -> Excursion:
    excursion = Excursion(**fields)
    return excursion if same_boot else excursion._replace(beyond_c=None, seen_s=now_s)
