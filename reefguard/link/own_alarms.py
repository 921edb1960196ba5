"""The alarms that are the link's own: what only it can see."""

from typing import Final

from reefguard.alarms import catalogue
from reefguard.alarms.catalogue import Kind, Priority
from reefguard.alarms.machine import Rule

GUARD_SILENT: Final = "guard silent"
EVENTS_UNREADABLE: Final = "events unreadable"
_DELIVERY: Final = "delivery to * failing"

KINDS: Final = (
    Kind(
        GUARD_SILENT,
        Priority.URGENT,
        Rule(),
        "the guard says nothing: nobody holds the tank, and what it drove is at rest",
        "measure the water by hand; look whether the Pi has power; `systemctl status reefguard`",
    ),
    Kind(
        EVENTS_UNREADABLE,
        Priority.HIGH,
        Rule(),
        "the guard's events cannot be read: alarms reach nobody",
        "look at the tank; read the link's log; see whether the disk is full or broken",
        explained_by=(GUARD_SILENT,),
    ),
    Kind(
        _DELIVERY,
        Priority.HIGH,
        Rule(),
        "a way to you does not work: alarms do not arrive there",
        "run `reefguard alert-test`; look at the network and at the address",
    ),
)


def delivery_failing(channel: str) -> str:
    """Return the name of the alarm about a channel.

    >>> kind_of(delivery_failing("mail")).priority.name
    'HIGH'
    """
    return _DELIVERY.replace("*", channel)


def kind_of(alarm: str) -> Kind | None:
    """Return the kind of an alarm, the link's own or the guard's; `None` if it is in no catalogue."""
    own = next((kind for kind in KINDS if kind.pattern.fullmatch(alarm)), None)
    return own or catalogue.kind_of(alarm)
