"""The rehearsal's table, as text."""

from collections.abc import Iterable, Sequence

from reefguard.control.words import span
from reefguard.rehearsal.drills.judgement import Outcome
from reefguard.rehearsal.drills.record import SETTLES_S, Record
from reefguard.rehearsal.drills.runs import Result
from reefguard.settings.model import Unit

_MOST_TOLD = 4
_NAME_WIDTH = 37

HEADING = (
    f"{'drill':<{_NAME_WIDTH}} {'hottest':>8} {'coldest':>8} {'outside':>8} {'deg-h':>6} "
    f"{'starts':>6} {'rest':>6} {'kWh':>5}  result"
)


def rows(results: Iterable[Result], unit: Unit) -> list[str]:
    """Return the table's lines: a row for each run, what broke, and what was told."""
    lines = [HEADING, "-" * len(HEADING)]
    for result in results:
        lines.extend(_row(result, unit))
    return lines


def summary(results: Sequence[Result]) -> str:
    """Return the table's last line."""
    counted = {outcome: sum(one.judgement.outcome is outcome for one in results) for outcome in Outcome}
    parts = [f"{counted[Outcome.PASSED]} passed", f"{counted[Outcome.FAILED]} failed"]
    if counted[Outcome.DOES_NOT_APPLY]:
        parts.append(f"{counted[Outcome.DOES_NOT_APPLY]} do not apply to these settings")
    return ", ".join(parts)


def _row(result: Result, unit: Unit) -> list[str]:
    record, outcome = result.record, result.judgement.outcome.value
    name = result.name if len(result.name) <= _NAME_WIDTH else result.name[: _NAME_WIDTH - 1] + "…"
    if record is None:
        lines = [f"{name:<{_NAME_WIDTH}} {'':>52}  {outcome}", f"    {result.remark}"]
    else:
        numbers = (
            f"{degrees(record.hottest_c, unit):>8} {degrees(record.coldest_c, unit):>8} "
            f"{record.out_of_band_s / 3_600.0:>6.1f} h {unit.step_of(record.degree_hours):>6.1f} "
            f"{len(record.starts_s):>6} {_rest(record):>6} {record.energy_kwh:>5.1f}"
        )
        lines = [f"{name:<{_NAME_WIDTH}} {numbers}  {outcome}"]
    lines.extend(f"    broke: {broken}" for broken in result.judgement.broken)
    if result.judgement.outcome is Outcome.FAILED and result.tank:
        lines.append(f"    tank: {result.tank}")
    if record is not None:
        told = told_in_words(record)
        if told:
            lines.append(f"    told: {told}")
    return lines


def degrees(celsius: float, unit: Unit) -> str:
    """Return a temperature in hundredths, with its unit's sign."""
    return f"{unit.of(celsius):.2f}{unit.value}"


def _rest(record: Record) -> str:
    if record.shortest_rest_s is None:
        return "-"
    minutes = int(record.shortest_rest_s // 60.0)
    return f"{minutes} min" if minutes < 1_000 else f"{minutes // 60} h"


def told_in_words(record: Record) -> str:
    """Return what was told, in order, with when: after how long in the drill."""
    told = [
        (spell.from_s, name)
        for name, spells in record.told.items()
        for spell in spells[:1]
        if spell.until_s > SETTLES_S
    ]
    told.sort()
    words = [f"{name} after {span(from_s)}" for from_s, name in told[:_MOST_TOLD]]
    if len(told) > _MOST_TOLD:
        words.append(f"and {len(told) - _MOST_TOLD} more")
    return "; ".join(words)
