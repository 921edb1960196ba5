"""A reader of the Homie convention 5.0, written from its rules only (homieiot.github.io/specification).

It knows nothing of the program under test, and complains of every topic and payload that
the convention does not allow.  Rules are named by the section they stand in.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

_ID = re.compile("[a-z0-9]+(?:-+[a-z0-9]+)*")  # "Topic IDs"
_INTEGER = re.compile("-?[0-9]+")  # "Payload: Integer"
_FLOAT = re.compile(r"-?[0-9]+(?:\.[0-9]+)?(?:[eE]-?[0-9]+)?")  # "Payload: Float"
_STATES = {"init", "ready", "disconnected", "sleeping", "lost"}  # "Device attributes"
_DATATYPES = {"integer", "float", "boolean", "string", "enum", "color", "datetime", "duration", "json"}
_DEVICE_KEYS = {"homie", "version", "nodes", "name", "type", "children", "root", "parent", "extensions"}
_NODE_KEYS = {"name", "type", "properties"}
_PROPERTY_KEYS = {"name", "datatype", "format", "settable", "retained", "unit"}


@dataclass
class Reader:
    """Listens to one device, and keeps what is wrong with it.

    Attributes:
        device: its id.
        wrong: complaints, in order.
        states: every state it went through.
        values: what its properties say, by node and property.
        alerts: what its alerts say.
        description: the last it gave.
    """

    device: str
    wrong: list[str] = field(default_factory=list)
    states: list[str] = field(default_factory=list)
    values: dict[str, str] = field(default_factory=dict)
    alerts: dict[str, str] = field(default_factory=dict)
    description: dict[str, Any] | None = None

    @property
    def state(self) -> str | None:
        """The last state."""
        return self.states[-1] if self.states else None

    def take(self, topic: str, payload: bytes) -> None:
        """Take one message in."""
        levels = topic.split("/")
        if levels[:3] != ["homie", "5", self.device]:
            return self._complain(f"{topic} is not below homie/5/{self.device}")
        try:
            said = payload.decode("utf-8")
        except UnicodeDecodeError:
            return self._complain(f"{topic} is not UTF-8")
        if said.startswith("\ufeff"):
            self._complain(f"{topic} begins with a byte order mark")
        match levels[3:]:
            case ["$state"]:
                self._take_state(said)
            case ["$description"]:
                self._take_description(said)
            case ["$alert", one]:
                self._check_id(one)
                self._put(self.alerts, one, said)
            case [node, name] if not node.startswith("$"):
                self._take_value(node, name, said)
            case _:
                self._complain(f"{topic} is no topic of the convention")
        return None

    def finish(self) -> None:
        """Check what can only be seen at the end: that every value is one of the description's."""
        nodes = (self.description or {}).get("nodes", {})
        for place in self.values:
            node, name = place.split("/")
            if name not in nodes.get(node, {}).get("properties", {}):
                self._complain(f"{place} is not described")

    def _complain(self, of: str) -> None:
        self.wrong.append(of)

    def _check_id(self, one: str) -> None:
        if not _ID.fullmatch(one):
            self._complain(f"{one!r} is no id")

    def _put(self, where: dict[str, str], key: str, said: str) -> None:
        """Keep a retained value; a payload of no bytes deletes it, one zero byte is an empty string."""
        if said:
            where[key] = "" if said == "\x00" else said
        else:
            where.pop(key, None)

    def _take_state(self, said: str) -> None:
        if said not in _STATES:
            self._complain(f"{said!r} is no state")
        if said == "ready" and self.description is None:
            self._complain("ready before it is described")
        self.states.append(said)

    def _take_description(self, said: str) -> None:
        if self.state not in ("init", "disconnected", "lost"):
            self._complain(f"described anew while {self.state}")
        try:
            described = json.loads(said)
        except ValueError:
            return self._complain("the description is no JSON")
        for key in described.keys() - _DEVICE_KEYS:
            self._complain(f"a device has no {key}")
        if described.get("homie") != "5.0":
            self._complain("the convention's version is not 5.0")
        version = described.get("version")
        if not isinstance(version, int) or isinstance(version, bool):
            self._complain(f"the version {version!r} is no integer")
        before = self.description
        if before is not None and before != described and before["version"] == version:
            self._complain("another description under the same version")
        for node, about in described.get("nodes", {}).items():
            self._check_node(node, about)
        self.description = described
        return None

    def _check_node(self, node: str, about: Mapping[str, Any]) -> None:
        self._check_id(node)
        for key in about.keys() - _NODE_KEYS:
            self._complain(f"the node {node} has no {key}")
        for name, each in about.get("properties", {}).items():
            self._check_id(name)
            for key in each.keys() - _PROPERTY_KEYS:
                self._complain(f"the property {node}/{name} has no {key}")
            if each.get("datatype") not in _DATATYPES:
                self._complain(f"{node}/{name}: {each.get('datatype')} is no datatype")
            if each["datatype"] in ("enum", "color") and not each.get("format"):
                self._complain(f"{node}/{name}: an enum needs a format")
            if each["datatype"] == "enum" and len(set(each["format"].split(","))) < each["format"].count(","):
                self._complain(f"{node}/{name}: an enum says each word once")

    def _take_value(self, node: str, name: str, said: str) -> None:
        self._put(self.values, f"{node}/{name}", said)
        if not said:
            return None
        each = (self.description or {}).get("nodes", {}).get(node, {}).get("properties", {}).get(name)
        if each is None:
            return self._complain(f"{node}/{name} is said and not described")
        if not _valid(each["datatype"], each.get("format"), said):
            self._complain(f"{node}/{name}: {said!r} is no {each['datatype']} {each.get('format')}")
        return None


def _valid(datatype: str, form: str | None, said: str) -> bool:
    match datatype:
        case "integer":
            return bool(_INTEGER.fullmatch(said)) and -(2**63) <= int(said) < 2**63 and _within(form, said)
        case "float":
            return bool(_FLOAT.fullmatch(said)) and _within(form, said)
        case "boolean":
            return said in ("true", "false")
        case "enum":
            return said in (form or "").split(",")
        case "datetime":
            try:
                return datetime.fromisoformat(said).tzinfo is not None
            except ValueError:
                return False
    return datatype == "string"


def _within(form: str | None, said: str) -> bool:
    """Return whether a number is within `min:max`, each of which may be missing."""
    if form is None:
        return True
    least, most = form.split(":")[:2]
    return (not least or float(least) <= float(said)) and (not most or float(said) <= float(most))
