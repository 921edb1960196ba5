"""Every alarm there is: how urgent, how patient, what it means, what to do first.

An alarm watches one kind of finding.  Its delays say for how long the finding
must stand before a person is told, and for how long it must be gone before it
counts as gone: 60 s are the usual starting values for temperatures (ANSI/ISA-18.2,
EEMUA 191; from memory), none where a program or a contact has failed.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum
from functools import cache
from typing import Final

from reefguard.alarms.machine import Rule


class Priority(IntEnum):
    """How soon a person must act; the higher, the sooner."""

    LOW = 1
    MEDIUM = 2
    HIGH = 3
    URGENT = 4

    @property
    def within(self) -> str:
        """The time in which somebody should act."""
        return _WITHIN[self]


_WITHIN = {
    Priority.LOW: "this week",
    Priority.MEDIUM: "today",
    Priority.HIGH: "within the hour",
    Priority.URGENT: "now",
}


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of alarm.

    Attributes:
        name: what it is called; of the finding it watches, with `*` for the part that varies.
        priority: how soon a person must act.
        rule: its delays, and whether it latches.
        means: what it means, in a sentence.
        first: what to do first.
        explained_by: kinds that, while they stand, explain this one: it is suppressed by design.
    """

    name: str
    priority: Priority
    rule: Rule
    means: str
    first: str
    explained_by: tuple[str, ...] = ()

    @property
    def pattern(self) -> re.Pattern[str]:
        """What names of findings it watches."""
        return re.compile(re.escape(self.name).replace(r"\*", "[^ ]+"))


GUARD_SILENT: Final = "guard silent"
EVENTS_UNREADABLE: Final = "events unreadable"
_DELIVERY: Final = "delivery to * failing"

_PATIENT = Rule(on_delay_s=60.0, off_delay_s=60.0)
_AT_ONCE = Rule(off_delay_s=60.0)
_SLOW = Rule(on_delay_s=300.0, off_delay_s=300.0)
# Water that is back in the band is not back for good while whatever cools it still cycles.
_WATER = Rule(on_delay_s=60.0, off_delay_s=1_800.0)
# Fans rest at night and run all day again: one alarm for the spell, not one a day.
_SPELL = Rule(off_delay_s=172_800.0)

CATALOGUE: Final = (
    Kind(
        "water far too high",
        Priority.URGENT,
        _WATER,
        "the water is a degree or more above the safe band; animals die in hours",
        "lights off, doors and lids open, fans over the water; float closed bottles of ice, slowly",
    ),
    Kind(
        "water high",
        Priority.HIGH,
        _WATER,
        "the water is above the safe band",
        "see that fans and chiller run; lights off; open doors and lids",
        explained_by=("water far too high",),
    ),
    Kind(
        "water far too low",
        Priority.URGENT,
        _WATER,
        "the water is a degree or more below the safe band",
        "unplug the chiller, then see that the heater works",
    ),
    Kind(
        "water low",
        Priority.HIGH,
        _WATER,
        "the water is below the safe band",
        "see that the chiller really stands still, and that the heater works",
        explained_by=("water far too low",),
    ),
    Kind(
        "no water",
        Priority.URGENT,
        # Probes that come back must prove themselves: until then this alarm explains theirs.
        Rule(off_delay_s=180.0),
        "no probe can be trusted: the fans follow the lights, the chiller stays off",
        "measure the water by hand; look at the probes' plugs and cables",
    ),
    Kind(
        "probe * not used",
        Priority.MEDIUM,
        Rule(on_delay_s=120.0, off_delay_s=120.0),
        "a probe gives nothing that can be trusted; the others go on",
        "see whether it hangs in the water and its plug sits firmly",
        explained_by=("no water",),
    ),
    Kind(
        "probe * suspect",
        Priority.MEDIUM,
        # Two probes about a degree apart cross that degree all day long.
        Rule(on_delay_s=300.0, off_delay_s=3_600.0),
        "probes disagree, or one misses many readings",
        "compare each with a thermometer in the same water",
        explained_by=("probe * not used",),
    ),
    Kind(
        "cutoff holds",
        Priority.HIGH,
        _SLOW,
        "the over-cool cutoff holds the chiller off",
        "read `reefguard cutoff status`",
        explained_by=("cutoff tripped",),
    ),
    Kind(
        "cutoff tripped",
        Priority.URGENT,
        _AT_ONCE,
        "the water was too cold, and the chiller is held off until a person resets it",
        "see why the chiller did not stop (a welded relay?), then `reefguard cutoff reset`",
    ),
    Kind(
        "cutoff silent",
        Priority.HIGH,
        Rule(on_delay_s=30.0, off_delay_s=60.0),
        "the cutoff says nothing; the chiller is held off",
        "start its service; read its log",
    ),
    Kind(
        "proof test failed",
        Priority.HIGH,
        _AT_ONCE,
        "the chiller ran on when the cutoff opened its contact: nothing but the guard's own relay stops it",
        "unplug the chiller when nobody watches it; have an electrician look; `reefguard proof-test`",
    ),
    Kind(
        "proof test overdue",
        Priority.LOW,
        _AT_ONCE,
        "nobody has seen for too long that the cutoff really stops the chiller",
        "run `reefguard proof-test` when the chiller runs",
        explained_by=("proof test failed",),
    ),
    Kind(
        "chiller runs uncommanded",
        Priority.URGENT,
        _AT_ONCE,
        "the chiller is commanded off and runs",
        "unplug it; then have an electrician look at the relays",
    ),
    Kind(
        "chiller does not start",
        Priority.HIGH,
        _AT_ONCE,
        "the chiller is commanded on and stands",
        "look at its own thermostat, its plug and its fuse",
    ),
    Kind(
        "chiller no flow",
        Priority.HIGH,
        _PATIENT,
        "the chiller is wanted, and no water flows through it",
        "look at its pump, hoses and valves",
    ),
    Kind(
        "chiller long run",
        Priority.MEDIUM,
        _AT_ONCE,
        "the chiller cannot keep up, or heats the air it breathes",
        "clean its filter, open its cabinet, see what warms the tank",
        explained_by=("water far too high", "water high"),
    ),
    Kind(
        "chiller starts too often",
        Priority.LOW,
        _AT_ONCE,
        "the compressor starts more often than is good for it",
        "widen the differential, or see whether its water circulates",
    ),
    Kind(
        "* would heat",
        Priority.LOW,
        _SLOW,
        "with this room air a fan would heat the water, so it rests",
        "dry or cool the air: open doors and windows",
    ),
    Kind(
        "* all day",
        Priority.LOW,
        _SPELL,
        "a fan has run for a day without a rest",
        "see why it must; check whether it is made for that",
    ),
    Kind(
        "time unknown",
        Priority.LOW,
        Rule(on_delay_s=900.0, off_delay_s=60.0),
        "the clock is not known to be right, so nobody knows whether the lights are on",
        "connect the network, or wire a lights input",
    ),
    Kind(
        "* not driven",
        Priority.URGENT,
        _AT_ONCE,
        "an output cannot be switched",
        "switch its load by hand; see which program holds its pin",
    ),
    Kind(
        "storage failing",
        Priority.MEDIUM,
        _PATIENT,
        "nothing can be written to the disk; the control goes on in memory",
        "free space, or replace the card",
    ),
    Kind(
        "status not written",
        Priority.MEDIUM,
        _PATIENT,
        "the status file cannot be written; nobody outside sees how the tank stands",
        "free space in the runtime directory, or mend its permissions",
    ),
    Kind(
        "commands not taken",
        Priority.LOW,
        _AT_ONCE,
        "the guard takes no commands: alarms cannot be acknowledged or shelved",
        "see who may write in its runtime directory; then restart the guard",
    ),
    Kind(
        "guard restarted unexpectedly",
        Priority.MEDIUM,
        Rule(),
        "the guard ended without being stopped (a power cut, a crash, a kill) and has started again",
        "see whether the mains failed; read the guard's log and, in its state directory, last-crash.txt",
    ),
    Kind(
        "running on previous settings",
        Priority.MEDIUM,
        _AT_ONCE,
        "the settings file has errors, so the last good copy is in use",
        "run `reefguard check`, and mend the file",
    ),
    Kind(
        "settings not taken",
        Priority.MEDIUM,
        _AT_ONCE,
        "a changed settings file was refused; the guard goes on with the ones it had",
        "run `reefguard check`, mend the file, reload",
    ),
    # What only the link can see.
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
        "run `sudo reefguard alert-test`; look at the network and at the address",
    ),
)


def delivery_failing(channel: str) -> str:
    """Return the name of the alarm about a channel of the link.

    >>> kind_of(delivery_failing("mail")).priority.name
    'HIGH'
    """
    return _DELIVERY.replace("*", channel)


@cache
def kind_of(finding: str) -> Kind | None:
    """Return the kind that watches a finding, or `None` for one that nobody is woken for.

    >>> kind_of("probe display not used").name
    'probe * not used'
    >>> kind_of("water awaited") is None
    True
    """
    return next((kind for kind in CATALOGUE if kind.pattern.fullmatch(finding)), None)


def explained(kind: Kind, standing: Iterable[str]) -> bool:
    """Return whether an alarm that stands explains this kind: it is then suppressed by design.

    Args:
        kind: of the alarm in question.
        standing: the names of all alarms that stand.
    """
    if not kind.explained_by:
        return False
    kinds = (kind_of(name) for name in standing)
    return any(one is not None and one.name in kind.explained_by for one in kinds)
