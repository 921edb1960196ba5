"""A stretch of time as a document for programs: SI units, named in the keys; times are Unix seconds.

What is not known, and why, is an object in the place of the value: `{"unknown": why}`.  `null` stands
for what was not seen.
"""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date, tzinfo

from reefguard.lookback.compared import changes, comparable
from reefguard.lookback.drawn import EnergyFound, Unknown
from reefguard.lookback.found import Found
from reefguard.lookback.stretch import Stretch, local
from reefguard.lookback.unknown import what_is_unknown
from reefguard.lookback.verdict import verdict
from reefguard.planning.shown import Shown
from reefguard.settings.model import Settings

SCHEMA = "reefguard.report/1"


def document_of(
    found: Found, before: Found | None, settings: Settings, *, notes: tuple[str, ...] = ()
) -> dict[str, object]:
    """Return what was found as mappings, lists, texts, numbers and `None`, ready for JSON.

    Args:
        found: of the stretch.
        before: of the stretch before; `None` where it could not be read.
        settings: as they are today.
        notes: what could not be read at all.
    """
    shown = Shown(settings.shown_in)
    seen = found.seen
    against: object = {"unknown": "too little is known of either time"}
    if before is not None and not before.seen.nothing and comparable(found) and comparable(before):
        against = {
            "before": _stretch(before.seen.stretch, seen.zone),
            "changes": _plain(changes(found, before, shown)),
        }
    return {
        "schema": SCHEMA,
        "tank": settings.tank,
        **_stretch(seen.stretch, seen.zone),
        "sentences": list(verdict(found, settings, shown)),
        "not_known": list(what_is_unknown(found, notes)),
        "safe_band": {"low_c": settings.safe_band.low_c, "high_c": settings.safe_band.high_c},
        "days": [_plain(one) for one in seen.totals.values()],
        **_members(found),
        "against_the_time_before": against,
    }


def _stretch(stretch: Stretch, zone: tzinfo) -> dict[str, object]:
    return {
        "from": local(stretch.from_s, zone).isoformat(timespec="seconds"),
        "until": local(stretch.until_s, zone).isoformat(timespec="seconds"),
    }


def _plain(value: object) -> object:
    match value:
        case Unknown(why):
            return {"unknown": why}
        case EnergyFound():
            return _members(value) | {"total_kwh": _plain(value.total_kwh)}
        case float():
            return round(value, 4)
        case date():
            return value.isoformat()
        case Mapping():
            return {str(key): _plain(one) for key, one in value.items()}
        case list():
            return [_plain(one) for one in value]
        case tuple():
            named = getattr(value, "_asdict", None)
            return [_plain(one) for one in value] if named is None else _plain(named())
    return _members(value) if is_dataclass(value) else value


def _members(value: object) -> dict[str, object]:
    if not is_dataclass(value):
        raise TypeError(f"{value!r} is no part of what is found")
    return {field.name: _plain(getattr(value, field.name)) for field in fields(value) if field.name != "seen"}
