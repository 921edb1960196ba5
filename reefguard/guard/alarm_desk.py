"""The alarms of the running guard: each tick's findings in, events out, and a person's commands between."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any, Final

from reefguard.alarms.catalogue import kind_of
from reefguard.alarms.deadband import held_by_deadband
from reefguard.alarms.excursion import followed
from reefguard.alarms.machine import Acknowledge, Alarm, Command, Shelve, State, Transition, Unshelve
from reefguard.alarms.survey import Event, Memory, survey
from reefguard.control.words import span, temperature
from reefguard.guard.alarm_memory import NAME, Known, LeftBehind, as_text, from_text
from reefguard.guard.chronicle import Chronicle, Moment
from reefguard.guard.commands import Asked
from reefguard.records.event_queue import EventQueue
from reefguard.settings.model import SafeBand, Unit
from reefguard.vocabulary import Finding, Severity, WaterEstimate

# How long the restart stands as a finding of the alarms'; after that it waits to be acknowledged.
_RESTART_STANDS_S: Final = 600.0

# What the kept state of an excursion loses at most to a kill.
_KEEP_EVERY_S: Final = 600.0


class AlarmDesk:
    """Holds what is known of the alarms."""

    def __init__(self, queue: EventQueue, chronicle: Chronicle, boot_id: str, left: str | None) -> None:
        """Start from the text that the last run left, if there is one."""
        self._queue = queue
        self._chronicle = chronicle
        self._boot_id = boot_id
        self._left = left
        self._known = Known()
        self._restarted: Finding | None = None
        self._restart_over_s = 0.0
        self._findings: tuple[Finding, ...] = ()
        self._held: frozenset[str] = frozenset()
        self._kept_s = 0.0

    def begin(self, at: Moment, version: str) -> None:
        """Note the start, and how the last run ended."""
        left = from_text(self._left, boot_id=self._boot_id, now_s=at.now_s)
        ended = None if left is None else "cleanly" if left.ended_cleanly else "unexpectedly"
        if left is not None:
            self._known = left.known
            self._restarted = _restarted(left)
            self._restart_over_s = at.now_s + _RESTART_STANDS_S
        said = "" if self._restarted is None else f": {self._restarted.what}"
        self._chronicle.note(
            at,
            "guard",
            "guard",
            "started",
            f"the guard has started{said}",
            details={"version": version, "last_run_ended": ended},
        )
        self._keep(at, running=True)

    def tick(
        self,
        findings: Sequence[Finding],
        water: WaterEstimate | None,
        band: SafeBand,
        at: Moment,
        unit: Unit,
    ) -> None:
        """Take one tick's findings into account."""
        restarted = self._restarted if at.now_s < self._restart_over_s else None
        self._findings = (*findings, restarted) if restarted is not None else tuple(findings)
        self._held = held_by_deadband(water, band)
        excursions = followed(
            self._known.excursions,
            (finding.name for finding in findings),
            water=water,
            band=band,
            now_s=at.now_s,
        )
        self._known = self._known._replace(excursions=excursions)
        self._surveyed(at, unit)
        if self._known.excursions and at.now_s - self._kept_s >= _KEEP_EVERY_S:
            self._keep(at, running=True)

    def obey(self, asked: Asked, who: str, at: Moment, unit: Unit) -> dict[str, str]:
        """Do what a person asks; return what to answer."""
        names = self._meant(asked)
        if not names:
            return {"error": _nothing_to(asked, sorted(self._known.memory.alarms))}
        command, doing = _in_machine_terms(asked, at.now_s)
        self._chronicle.note(
            at,
            "command",
            asked.command,
            "asked",
            f"{who} {doing}: {', '.join(names)}",
            who=who,
            details={"alarms": names} | ({"for_s": asked.for_s} if asked.command == "shelve" else {}),
        )
        self._surveyed(at, unit, dict.fromkeys(names, command), who)
        return {"said": f"{_done(asked)}: {', '.join(names)}"}

    def end(self, at: Moment) -> None:
        """Note that the guard stops, and that it was asked to."""
        self._chronicle.note(at, "guard", "guard", "stopped", "the guard has stopped, as it was asked to")
        self._keep(at, running=False)

    def listed(self) -> list[dict[str, Any]]:
        """Return the alarms that are not simply normal, the most urgent first, as JSON values."""
        listed = []
        for name, (alarm, what) in self._known.memory.alarms.items():
            kind = kind_of(name)
            if kind is None or alarm.state is State.NORMAL:
                continue
            listed.append(
                {
                    "name": name,
                    "state": alarm.state.value,
                    "priority": int(kind.priority),
                    "what": what,
                    "means": kind.means,
                    "first": kind.first,
                    "since_s": alarm.raised_s,
                    "raised_wall": self._known.raised_wall.get(name),
                    "shelved_until_s": alarm.shelved_until_s,
                }
            )
        return sorted(listed, key=lambda one: -int(one["priority"]))

    def _surveyed(
        self, at: Moment, unit: Unit, commands: dict[str, Command] | None = None, who: str | None = None
    ) -> None:
        memory, events = survey(
            self._known.memory, self._findings, now_s=at.now_s, commands=commands, held=self._held
        )
        if memory is self._known.memory:
            return
        for event in events:
            asked_for = event.alarm in (commands or {}) and event.transition is not Transition.RAISED
            self._note(event, at, unit, who if asked_for else None)
        self._known = Known(
            memory,
            {name: one for name, one in self._known.excursions.items() if _still(memory, name)},
            self._raised_wall(memory, at),
        )
        if events:
            self._keep(at, running=True)

    def _raised_wall(self, memory: Memory, at: Moment) -> dict[str, str]:
        """Return when each alarm became active, as the wall clock was when that was first seen."""
        walls = {}
        for name, (alarm, _) in memory.alarms.items():
            before = self._known.memory.alarms.get(name)
            known = self._known.raised_wall.get(name)
            if alarm.raised_s is not None and (before is None or before.alarm.raised_s != alarm.raised_s):
                raised = at.wall.local - timedelta(seconds=at.now_s - alarm.raised_s)
                known = raised.isoformat(timespec="seconds")
            if known is not None:
                walls[name] = known
        return walls

    def _note(self, event: Event, at: Moment, unit: Unit, who: str | None) -> None:
        what = event.what
        details: dict[str, Any] = {}
        if event.transition is Transition.RETURNED:
            what, details = self._returned(event, unit)
        elif event.transition is not Transition.RAISED:
            what = f"{event.alarm}: {event.transition.value}{f' by {who}' if who else ''}"
        self._chronicle.note(
            at,
            "alarm",
            event.alarm,
            event.transition.name.lower(),
            what,
            priority=int(event.priority),
            who=who,
            details=details or None,
        )

    def _returned(self, event: Event, unit: Unit) -> tuple[str, dict[str, Any]]:
        """Return how it was, in words and in numbers."""
        details: dict[str, Any] = {}
        said = f"{event.alarm}: returned to normal"
        if event.lasted_s is not None:
            details["lasted_s"] = round(event.lasted_s, 1)
            said += f" after {span(event.lasted_s)}"
        excursion = self._known.excursions.get(event.alarm)
        if excursion is not None:
            details["peak_c"] = round(excursion.peak_c, 3)
            details["degree_hours"] = round(excursion.degree_hours, 3)
            said += f"; at its worst {temperature(excursion.peak_c, unit)}"
        return said, details

    def _meant(self, asked: Asked) -> list[str]:
        """Return the names of the alarms that a command is about and can change."""
        return sorted(
            name
            for name, (alarm, _) in self._known.memory.alarms.items()
            if asked.alarm in (None, name) and _can(asked, alarm)
        )

    def _keep(self, at: Moment, *, running: bool) -> None:
        self._kept_s = at.now_s
        self._queue.add(keep={NAME: as_text(self._known, boot_id=self._boot_id, running=running)})


def _can(asked: Asked, alarm: Alarm) -> bool:
    """Return whether a command would change this alarm."""
    match asked.command:
        case "acknowledge":
            return alarm.unacknowledged
        case "unshelve":
            return alarm.shelved_until_s is not None
        case _:
            return alarm.state is not State.NORMAL


def _restarted(left: LeftBehind) -> Finding | None:
    if left.ended_cleanly:
        return None
    cut = "the guard ended without being stopped, and was started again"
    return Finding(
        Severity.WARNING,
        "guard restarted unexpectedly",
        cut if left.same_boot else "the machine went down without stopping the guard: a power cut?",
        "see whether the mains failed; read its log, and last-crash.txt in its state directory",
    )


def _in_machine_terms(asked: Asked, now_s: float) -> tuple[Command, str]:
    """Return the command as the alarms' machine takes it, and in words."""
    if asked.command == "acknowledge":
        return Acknowledge(), "acknowledges"
    if asked.command == "unshelve":
        return Unshelve(), "unshelves"
    return Shelve(now_s + asked.for_s), f"shelves for {span(asked.for_s)}"


def _done(asked: Asked) -> str:
    if asked.command == "shelve":
        return f"shelved for {span(asked.for_s)}"
    return f"{asked.command}d"


def _nothing_to(asked: Asked, standing: list[str]) -> str:
    stands = f"; what there is: {', '.join(repr(name) for name in standing)}" if standing else ""
    match asked.command:
        case "acknowledge" if asked.alarm is None:
            return "no alarm waits to be acknowledged"
        case "acknowledge":
            return f"no alarm named {asked.alarm!r} waits to be acknowledged{stands}"
        case "unshelve":
            return f"no alarm named {asked.alarm!r} is shelved{stands}"
        case _:
            return f"no alarm named {asked.alarm!r} stands{stands}"


def _still(memory: Memory, name: str) -> bool:
    """Return whether an alarm is active or may become so: then its excursion goes on."""
    standing = memory.alarms.get(name)
    return standing is not None and (standing.alarm.active or standing.alarm.turning_since_s is not None)
