"""The rehearsal as a document for other programs."""

from collections.abc import Mapping, Sequence
from typing import Any

from reefguard.rehearsal.drills.record import Interval
from reefguard.rehearsal.drills.runs import Result

SCHEMA = "reefguard.rehearsal/1"


def document(results: Sequence[Result]) -> dict[str, Any]:
    """Return the document: SI units, named by their keys; `None` where there is no such number."""
    return {"schema": SCHEMA, "runs": [_run(result) for result in results]}


def _run(result: Result) -> dict[str, Any]:
    record = result.record
    run: dict[str, Any] = {
        "name": result.name,
        "drill": result.drill.name,
        "says": result.drill.says,
        "outcome": result.judgement.outcome.name.lower(),
        "broken": list(result.judgement.broken),
        "remark": result.remark or None,
        "tank": result.tank or None,
    }
    if record is None or result.settings is None:
        return run
    return run | {
        "lasted_s": record.lasted_s,
        "hottest_c": round(record.hottest_c, 3),
        "hottest_at_s": record.hottest_s,
        "coldest_c": round(record.coldest_c, 3),
        "coldest_at_s": record.coldest_s,
        "out_of_band_s": round(record.out_of_band_s, 1),
        "degree_hours_c": round(record.degree_hours, 3),
        "degree_heating_weeks_c": round(record.heating_weeks(result.settings.safe_band.high_c), 3),
        "compressor_starts": len(record.starts_s),
        "compressor_run_s": round(record.compressor_s, 1),
        "shortest_rest_s": record.shortest_rest_s,
        "energy_kwh": round(record.energy_kwh, 3),
        "evaporated_kg": round(record.evaporated_kg, 3),
        "told": _spells(record.told),
        "modes": _spells(record.modes),
        "outputs": _spells(record.runs),
        "cutoff": _spells(record.cutoff_held),
    }


def _spells(by_name: Mapping[str, tuple[Interval, ...]]) -> list[dict[str, Any]]:
    return [
        {"name": name, "from_s": spell.from_s, "until_s": spell.until_s}
        for name, spells in by_name.items()
        for spell in spells
    ]
