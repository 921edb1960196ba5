"""All tanks on a broker, from what they say of themselves there.

Written against the topics alone, as any other program would read them: a tank is a Homie 5
device whose description bears our type.  A number is shown only while its device is ready
and the guard behind it has spoken lately.
"""

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import Enum
from typing import Any, Final, NamedTuple

from reefguard.link.homie_description import TANK

DISCOVERY: Final = ("+/5/+/$state", "+/5/+/$description")
_LEVELS_OF_A_DEVICE: Final = 3
# A tank this many of its own periods behind is silent; the words for one that says no period.
_SILENT_AFTER_PERIODS: Final = 3
_USUAL_PERIOD_S: Final = 60.0
# Clocks of two machines differ; one that is further ahead than this is wrong.
_CLOCKS_DIFFER_S: Final = 120.0


class Presence(Enum):
    """Whether a tank can be believed."""

    PRESENT = "present"
    STARTING = "starting"
    SILENT = "silent"
    LOST = "lost"
    STOPPED = "stopped"


class Tank(NamedTuple):
    """One tank as it stands.

    Attributes:
        device: its root topic.
        name: what its keeper calls it.
        presence: whether the rest can be believed.
        warmest_c: of the trusted probes; `None` when unknown, or not to be believed.
        coldest_c: likewise.
        mode: how outputs are decided, or `None`.
        condition: healthy, warning, critical or unknown.
        alarms: the sentences of the alarms that stand.
        age_s: how old the guard's last word is, or `None` where its clock or ours cannot say.
    """

    device: str
    name: str
    presence: Presence
    warmest_c: float | None
    coldest_c: float | None
    mode: str | None
    condition: str
    alarms: tuple[str, ...]
    age_s: float | None


@dataclass(slots=True)
class _Device:
    name: str = ""
    ours: bool = False
    topics: dict[str, str] = field(default_factory=dict)


class Fleet:
    """What the topics of a broker say, message after message."""

    def __init__(self) -> None:
        self._devices: dict[str, _Device] = {}

    def take(self, topic: str, payload: bytes) -> str | None:
        """Take a message in.

        Returns:
            The filter for everything of a tank, when one has just made itself known.
        """
        levels = topic.split("/", _LEVELS_OF_A_DEVICE)
        if len(levels) <= _LEVELS_OF_A_DEVICE or levels[1] != "5":
            return None
        root, below = "/".join(levels[:_LEVELS_OF_A_DEVICE]), levels[_LEVELS_OF_A_DEVICE]
        device = self._devices.setdefault(root, _Device())
        said = payload.decode(errors="replace")
        if said:
            device.topics[below] = said
        else:
            device.topics.pop(below, None)
        if below != "$description":
            return None
        known = device.ours
        device.ours, device.name = _described(said, levels[2])
        return f"{root}/#" if device.ours and not known else None

    def tanks(self, now: datetime) -> tuple[Tank, ...]:
        """Return every tank, those to look at first in front."""
        found = [
            _tank(root, device, now)
            for root, device in self._devices.items()
            # A device without a state has been removed.
            if device.ours and "$state" in device.topics
        ]
        return tuple(sorted(found, key=lambda tank: (-gravity(tank), tank.name, tank.device)))


def gravity(tank: Tank) -> int:
    """Return how bad it stands: 0 healthy, 1 warning, 2 unknown, 3 critical or not to be believed.

    A tank that was stopped on purpose is unknown, not critical.
    """
    if tank.presence in (Presence.LOST, Presence.SILENT):
        return 3
    if tank.presence is not Presence.PRESENT:
        return 2
    return _GRAVITY.get(tank.condition, 2)


_GRAVITY: Final[Mapping[str, int]] = {"healthy": 0, "warning": 1, "critical": 3}


def _described(payload: str, device: str) -> tuple[bool, str]:
    """Return whether a description is of a tank of ours, and the tank's name."""
    try:
        said: Any = json.loads(payload)
    except (ValueError, RecursionError):
        return False, ""
    if not isinstance(said, dict) or said.get("type") != TANK:
        return False, ""
    name = said.get("name")
    return True, name if isinstance(name, str) and name else device


def _tank(root: str, device: _Device, now: datetime) -> Tank:
    topics = device.topics
    age_s = _age_s(topics, now)
    presence = _presence(topics, age_s)
    present = presence is Presence.PRESENT
    condition = topics.get("guard/condition", "unknown")
    return Tank(
        device=root,
        name=printable(device.name),
        presence=presence,
        warmest_c=_number(topics.get("water/warmest")) if present else None,
        coldest_c=_number(topics.get("water/coldest")) if present else None,
        mode=printable(topics["guard/mode"]) if present and "guard/mode" in topics else None,
        condition=condition if present and condition in _GRAVITY else "unknown",
        alarms=tuple(_alarms(topics)),
        age_s=age_s,
    )


def _presence(topics: Mapping[str, str], age_s: float | None) -> Presence:
    match topics["$state"]:
        case "ready":
            period_s = _number(topics.get("guard/refresh")) or _USUAL_PERIOD_S
            silent = "$alert/guard-silent" in topics or (
                age_s is not None and age_s > _SILENT_AFTER_PERIODS * period_s
            )
            return Presence.SILENT if silent else Presence.PRESENT
        case "init":
            return Presence.STARTING
        case "disconnected":
            return Presence.STOPPED
    return Presence.LOST


def _age_s(topics: Mapping[str, str], now: datetime) -> float | None:
    """Return how long ago the guard last spoke, by both machines' wall clocks."""
    try:
        spoke = datetime.fromisoformat(topics["guard/updated"])
        age_s = (now - spoke.astimezone(UTC)).total_seconds()
    except (KeyError, ValueError, OverflowError):
        return None
    return max(0.0, age_s) if age_s >= -_CLOCKS_DIFFER_S else None


def _alarms(topics: Mapping[str, str]) -> Iterable[str]:
    return (printable(said) for topic, said in sorted(topics.items()) if topic.startswith("$alert/"))


def _number(text: str | None) -> float | None:
    try:
        value = float(text or "")
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def printable(text: str) -> str:
    """Return a text that cannot move a terminal's cursor: anybody on the broker may have written it."""
    return "".join(letter if letter.isprintable() else " " for letter in text).strip()
