"""The tick as a document, the content of the status file, and as one sentence."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib.metadata import version
from typing import Any

from reefguard.control.photoperiod import next_change
from reefguard.control.proof_tests import due_at
from reefguard.control.step import Decision, Memory, output_names
from reefguard.control.words import because, explain, temperature
from reefguard.settings.model import Settings
from reefguard.vocabulary import Finding, Inputs, Reading, Reason, Trusted

SCHEMA = "reefguard.status/1"
VERSION = version("reefguard")


@dataclass(frozen=True, slots=True)
class Identity:
    """Who writes the status: constant over a run."""

    pid: int
    boot_id: str
    settings_file: str


def document(
    memory: Memory,
    decision: Decision,
    inputs: Inputs,
    settings: Settings,
    *,
    findings: Sequence[Finding],
    alarms: Sequence[Mapping[str, Any]],
    identity: Identity,
) -> dict[str, Any]:
    """Return the status as JSON values.  Keys are only ever added, never renamed."""
    now_s = inputs.now_s
    water = decision.estimate
    return {
        "schema": SCHEMA,
        "version": VERSION,
        "tank": settings.tank,
        "pid": identity.pid,
        "settings_file": identity.settings_file,
        "boot_id": identity.boot_id,
        "written_s": round(now_s, 3),
        "written": inputs.wall.local.isoformat(timespec="seconds"),
        "clock_trusted": inputs.wall.trusted,
        "sampling_s": settings.sampling_s,
        "show_temperatures_in": settings.shown_in.value,
        "mode": decision.mode.value,
        "water": None
        if water is None
        else {
            "warmest_c": round(water.warmest_c, 4),
            "warmest_probe": water.warmest_probe,
            "coldest_c": round(water.coldest_c, 4),
            "coldest_probe": water.coldest_probe,
            "age_s": round(now_s - water.at_s, 3),
        },
        "safe_band": {"low_c": settings.safe_band.low_c, "high_c": settings.safe_band.high_c},
        "probes": {
            probe.name: {"id": probe.rom_id, **_reading(reading, now_s)}
            for probe, reading in zip(settings.water_probes, decision.readings, strict=True)
        },
        "room": None
        if inputs.room is None
        else {
            "air_c": inputs.room.air_c,
            "relative_humidity": inputs.room.relative_humidity,
            "fans_cool_above_c": _rounded(decision.cools_above_c),
        },
        "lights": {"on": decision.lights.on, "told": decision.lights.told.value},
        "outputs": _outputs(memory, decision, now_s, settings),
        "chiller_feedback": {"running": inputs.chiller_running, "flow": inputs.flow},
        "cutoff": None
        if inputs.cutoff is None
        else {
            "state": inputs.cutoff.state,
            "permits": inputs.cutoff.permits,
            "why": inputs.cutoff.why,
            "age_s": round(now_s - inputs.cutoff.at_s, 3),
        },
        "proof_test": _proof_test(inputs, settings),
        "next": _next_event(decision, inputs, settings),
        "findings": [
            {
                "name": finding.name,
                "severity": finding.severity.value,
                "what": finding.what,
                "mend": finding.mend,
            }
            for finding in findings
        ],
        "alarms": list(alarms),
    }


def sentence(decision: Decision, findings: Sequence[Finding], settings: Settings) -> str:
    """Return the tick in one plain sentence, for the service manager."""
    water = decision.estimate
    unit = settings.shown_in
    warm = "water not known" if water is None else f"water {temperature(water.warmest_c, unit)}"
    running = [command.output for command in decision.commands if command.on]
    ends = f"; {findings[0].what}" if findings else ""
    return f"{warm}, {decision.mode.value}, {' and '.join(running) + ' on' if running else 'all off'}{ends}"


def _reading(reading: Reading, now_s: float) -> dict[str, Any]:
    trusted = isinstance(reading, Trusted)
    return {
        "used": trusted,
        "water_c": round(reading.water_c, 4) if isinstance(reading, Trusted) else None,
        "shows_c": _rounded(reading.water_c if isinstance(reading, Trusted) else reading.raw_c),
        "age_s": round(now_s - reading.at_s, 3) if isinstance(reading, Trusted) else None,
        "quality": reading.quality.value,
        "cause": reading.cause.value,
    }


def _outputs(memory: Memory, decision: Decision, now_s: float, settings: Settings) -> dict[str, Any]:
    unit = settings.shown_in
    return {
        name: {
            "on": command.on,
            "level": command.level,
            "why": explain(command, now_s, unit),
            "blocked_by": None if command.blocked is None else because(command.blocked, now_s, unit),
            "blocked_until_s": None if command.blocked is None else command.blocked.until_s,
            "runs_on_until_s": command.why.until_s if command.why.reason is Reason.MINIMUM_ON else None,
            "since_s": round(counter.since_s, 3),
            "elapsed_active_s": round(counter.elapsed_active_s(now_s), 1),
            "changes": counter.changes,
        }
        for name, command, counter in zip(
            output_names(settings), decision.commands, memory.counters, strict=True
        )
    }


def _proof_test(inputs: Inputs, settings: Settings) -> dict[str, Any] | None:
    """Return when the cutoff was last seen to stop the chiller, and when that is due again."""
    tests = inputs.proof_tests
    if tests is None or settings.chiller is None:
        return None
    due = due_at(tests, settings.chiller.proof_test_every_days)
    return {
        "passed": _day(tests.passed),
        "failed": _day(tests.failed),
        "due": _day(due),
        "overdue": due is not None and inputs.wall.local >= due,
    }


def _day(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat(timespec="seconds")


def _next_event(decision: Decision, inputs: Inputs, settings: Settings) -> dict[str, Any] | None:
    """Return what happens next by the clock alone, as far as anything does."""
    coming: list[tuple[float, str]] = []
    lights = next_change(inputs.wall, settings.lights) if settings.lights.sense is None else None
    if lights is not None:
        coming.append((lights[1], lights[0]))
    coming += [
        (why.until_s - inputs.now_s, f"{command.output}: {why.reason.value} ends")
        for command in decision.commands
        for why in (command.blocked, command.why)
        if why is not None and why.until_s is not None and why.until_s > inputs.now_s
    ]
    if not coming:
        return None
    in_s, what = min(coming)
    return {"what": what, "in_s": round(in_s, 1)}


def _rounded(celsius: float | None) -> float | None:
    return None if celsius is None else round(celsius, 4)
