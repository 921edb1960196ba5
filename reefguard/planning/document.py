"""A plan as a document for programs: SI units, named in the keys.

What the model cannot say is an object in the place of the value: `{"cannot_judge": why}`,
`{"runs_away": {...}}`, `{"longer_than_h": 48}`.  `null` stands only for what is not there at all
(no stand, no price, no measurement).
"""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum

from reefguard.planning.found import CannotJudge, LongerThan, RunsAway
from reefguard.planning.model import Plan
from reefguard.planning.verdict_words import verdict_sentences

SCHEMA = "reefguard.plan/1"


def document_of(plan: Plan) -> dict[str, object]:
    """Return the plan as mappings, lists, texts, numbers and `None`, ready for JSON.

    Args:
        plan: whole.
    """
    document: dict[str, object] = {"schema": SCHEMA}
    document["sentences"] = list(verdict_sentences(plan))
    return document | _members(plan)


def _plain(value: object) -> object:
    match value:
        case CannotJudge(why):
            return {"cannot_judge": why}
        case LongerThan(hours):
            return {"longer_than_h": hours}
        case RunsAway():
            return {"runs_away": _members(value)}
        case float():
            return round(value, 4)
        case Enum():
            return value.name.lower()
        case tuple():
            return [_plain(one) for one in value]
        case Mapping():
            return {str(_plain(key)): _plain(one) for key, one in value.items()}
    return _members(value) if is_dataclass(value) else value


def _members(value: object) -> dict[str, object]:
    if not is_dataclass(value):
        raise TypeError(f"{value!r} is no part of a plan")
    return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
