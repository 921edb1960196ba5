"""The JSON Schema (draft-07) of the settings file, made from the declaration the reader uses.

`reefguard.schema.json` beside this file is its output, for editors.  To make it anew:

    reefguard check --schema > reefguard/settings/reefguard.schema.json

A test holds the two equal.
"""

import json

from reefguard.settings.declaration import Field, Part, Presence, Section
from reefguard.settings.fields import FILE
from reefguard.settings.kinds import NAME

_CUT_EITHER_WAY = [{"required": ["cut_in", "cut_out"]}, {"required": ["setpoint", "differential"]}]


def schema_text() -> str:
    """Return the schema as it stands in the file."""
    return json.dumps(schema(), ensure_ascii=False, indent=2) + "\n"


def schema() -> dict[str, object]:
    """Return the schema of the whole file."""
    return {
        "$schema": "http://json-schema.org/draft-07/schema#",
        "title": "reefguard settings",
        "description": "One reef tank: its probes, what cools it, and when.",
        **_keys(FILE),
        "anyOf": [{"required": ["fans"]}, {"required": ["chiller"]}],
    }


def _keys(parts: tuple[Part, ...]) -> dict[str, object]:
    described: dict[str, object] = {
        "type": "object",
        "additionalProperties": False,
        "properties": {part.key: _part(part) for part in parts},
    }
    required = [part.key for part in parts if _is_required(part)]
    if required:
        described["required"] = required
    if {part.key for part in parts} >= {"cut_in", "setpoint"}:
        described["oneOf"] = _CUT_EITHER_WAY
    return described


def _is_required(part: Part) -> bool:
    if isinstance(part, Field):
        return part.required
    return part.presence is Presence.REQUIRED


def _part(part: Part) -> dict[str, object]:
    if isinstance(part, Field):
        return _field(part)
    if isinstance(part, Section):
        return {"description": part.says, **_keys(part.parts)}
    names: dict[str, object] = {"pattern": NAME}
    if part.reserved:
        names["not"] = {"enum": list(part.reserved)}
    return {
        "description": part.says,
        "type": "object",
        "minProperties": 1,
        "propertyNames": names,
        "additionalProperties": _keys(part.parts),
    }


def _field(field: Field) -> dict[str, object]:
    kind = field.kind
    described: dict[str, object] = {
        "description": f"{field.says} ({kind.bounds})" if kind.bounds else field.says,
    }
    if field.many:
        described |= {"type": "array", "items": dict(kind.schema)}
    else:
        described |= kind.schema
    if field.default is not None:
        default: object = field.default
        if kind.schema.get("type") == "boolean":
            default = field.default == "true"
        described["default"] = [default] if field.many else default
    described["examples"] = [[kind.example]] if field.many else [kind.example]
    return described
