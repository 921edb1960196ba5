"""How a tank describes itself in the Homie convention 5.0 (homieiot.github.io/specification).

One device, read-only: no property is settable.  The description rests on what is
fitted to the tank, never on how it is doing, so it changes with the settings only.
"""

import json
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from reefguard.link.readout import Table, tables, text
from reefguard.link.topic_ids import unique_ids

TANK: Final = "reefguard/tank"
"""The type of the device, by which other programs of ours know it."""

QUALITIES: Final = ("pass", "suspect", "not-evaluated", "fail", "missing")
MODES: Final = ("automatic", "schedule")
CONDITIONS: Final = ("healthy", "warning", "critical", "unknown")

Property = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Places:
    """The nodes of what is fitted, by the names the keeper gave."""

    probes: Mapping[str, str]
    outputs: Mapping[str, str]


def places(status: Table) -> Places:
    """Return the node of each probe and of each output."""
    return Places(
        unique_ids(tables(status, "probes"), "probe-"), unique_ids(tables(status, "outputs"), "output-")
    )


def description(status: Table, device: str) -> dict[str, Any]:
    """Return the description, with a version that changes when it does.

    The convention asks for a version that is new, not for one that is higher; a checksum
    is that, and stays the same when a restarted program describes the same tank.

    Args:
        status: the guard's, empty where there is none.
        device: the id, which stands in for a name nobody knows yet.
    """
    at = places(status)
    plain: dict[str, Any] = {
        "homie": "5.0",
        "name": text(status, "tank") or device,
        "type": TANK,
        "nodes": {
            **{node: _probe(name) for name, node in at.probes.items()},
            **{node: _output(name) for name, node in at.outputs.items()},
            **_ALWAYS,
        },
    }
    return plain | {"version": zlib.crc32(json.dumps(plain, sort_keys=True).encode())}


def _node(name: str, kind: str, properties: Mapping[str, Property]) -> dict[str, Any]:
    return {"name": name, "type": kind, "properties": dict(properties)}


def _one(name: str, datatype: str, **more: str) -> Property:
    return {"name": name, "datatype": datatype, **more}


def _enum(name: str, words: tuple[str, ...]) -> Property:
    return _one(name, "enum", format=",".join(words))


def _celsius(name: str) -> Property:
    return _one(name, "float", unit="°C")


def _share(name: str) -> Property:
    return _one(name, "float", unit="%", format="0:100")


def _probe(name: str) -> dict[str, Any]:
    return _node(
        name,
        "reefguard/probe",
        {
            "temperature": _celsius("Water temperature, while it can be trusted"),
            "quality": _enum("How far the probe is trusted", QUALITIES),
            "updated": _one("When the water was measured", "datetime"),
        },
    )


def _output(name: str) -> dict[str, Any]:
    return _node(
        name,
        "reefguard/output",
        {
            "active": _one("Whether it is switched on", "boolean", format="off,on"),
            "level": _share("How far"),
            "why": _one("Why", "string"),
        },
    )


_ALWAYS: Final = {
    "water": _node(
        "Water",
        "reefguard/water",
        {
            "warmest": _celsius("Warmest trusted probe"),
            "coldest": _celsius("Coldest trusted probe"),
            "band-low": _celsius("Lower end of the safe band"),
            "band-high": _celsius("Upper end of the safe band"),
        },
    ),
    "room": _node(
        "Room",
        "reefguard/room",
        {"temperature": _celsius("Air temperature"), "humidity": _share("Relative humidity")},
    ),
    "lights": _node(
        "Lights",
        "reefguard/lights",
        {
            "active": _one("Whether they are on", "boolean", format="off,on"),
            "told": _one("By what", "string"),
        },
    ),
    "cutoff": _node(
        "Over-cool cutoff",
        "reefguard/cutoff",
        {
            "state": _one("State", "string"),
            "permits": _one("Whether it lets the chiller run", "boolean"),
            "why": _one("Why", "string"),
        },
    ),
    "guard": _node(
        "Guard",
        "reefguard/guard",
        {
            "mode": _enum("How the outputs are decided", MODES),
            "condition": _enum("How the tank stands", CONDITIONS),
            "status-age": _one("Age of the guard's last word when it was published", "integer", unit="s"),
            "updated": _one("When the guard last spoke", "datetime"),
            "refresh": _one("Everything here is published at least this often", "integer", unit="s"),
        },
    ),
}
