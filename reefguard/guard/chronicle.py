"""What happens, as events on their way to the disk: mode and outputs as they change, starts and stops."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from reefguard.control.step import Decision
from reefguard.control.words import explain
from reefguard.records.event_queue import EventQueue
from reefguard.records.events import Event
from reefguard.records.history_queue import HistoryQueue
from reefguard.settings.model import Unit
from reefguard.vocabulary import Wall


class Moment(NamedTuple):
    """One moment by both clocks."""

    now_s: float
    wall: Wall


class Chronicle:
    """Remembers what it noted last, so that it notes only what changes."""

    def __init__(self, queue: EventQueue, boot_id: str, history: HistoryQueue | None = None) -> None:
        """Start with every output at rest and no mode.

        Args:
            queue: where events go.
            boot_id: of the boot whose clock the moments are of.
            history: what becomes of it is noted, too.
        """
        self._queue = queue
        self._boot_id = boot_id
        self._mode: str | None = None
        self._on: dict[str, bool] = {}
        self._queues: dict[str, EventQueue | HistoryQueue] = {"events": queue}
        if history is not None:
            self._queues["minutes of history"] = history
        self._lost = dict.fromkeys(self._queues, 0)

    def note(
        self,
        at: Moment,
        kind: str,
        subject: str,
        change: str,
        what: str,
        *,
        priority: int | None = None,
        who: str | None = None,
        details: Mapping[str, Any] | None = None,
    ) -> None:
        """Note one event; see `records.events.Event` for what each value means."""
        event = Event(
            boot_id=self._boot_id,
            at_boot_s=round(at.now_s, 3),
            at_wall=at.wall.local.isoformat(timespec="seconds"),
            clock_trusted=at.wall.trusted,
            kind=kind,
            subject=subject,
            change=change,
            what=what,
            priority=priority,
            who=who,
            details=details,
        )
        self._queue.add(event)

    def tick(self, decision: Decision, at: Moment, unit: Unit) -> None:
        """Note what this tick changed, and what became of the events themselves."""
        for items, way in self._queues.items():
            self._of_the_disk(at, items, way)
        mode = decision.mode.value
        if mode != self._mode:
            self.note(at, "mode", "mode", mode, f"the mode is {mode} now")
            self._mode = mode
        for command in decision.commands:
            if command.on != self._on.get(command.output, False):
                self.output(at, command.output, command.level, explain(command, at.now_s, unit))

    def output(self, at: Moment, name: str, level: float, why: str) -> None:
        """Note that an output goes on or off, unless it stands so already."""
        on = level > 0.0
        if on == self._on.get(name, False):
            return
        self._on[name] = on
        self.note(at, "output", name, "on" if on else "off", why, details={"level": round(level, 3)})

    def _of_the_disk(self, at: Moment, items: str, way: EventQueue | HistoryQueue) -> None:
        """Note what became of events or minutes on their way to the disk."""
        damage = way.take_damage()
        if damage is not None:
            aside, why = damage
            self.note(
                at,
                "guard",
                "guard",
                "began anew",
                f"the {items} could not be read ({why}): they are set aside as {aside}, and new ones begun",
            )
        lost = way.dropped - self._lost[items]
        if lost > 0 and way.trouble is None:
            self._lost[items] += lost
            self.note(
                at,
                "guard",
                "guard",
                "lost",
                f"{lost} {items} were lost: more than memory holds, while the disk failed",
            )
