"""The tick's outer half, and the loop around it.

gather    what the devices say            -> Inputs
step      the pure decision               -> Decision
actuate   the chiller's stop first, then the rest, each read back
record    log, status file, memory
healthy   feed the watchdog: the last line of a tick that completed in full
"""

import os
from collections.abc import Callable
from datetime import tzinfo
from pathlib import Path
from threading import Event
from typing import Any

from reefguard.control.findings import find
from reefguard.control.step import Decision, Memory, output_names, step
from reefguard.guard.alarm_desk import AlarmDesk
from reefguard.guard.chores import Chores
from reefguard.guard.chronicle import Chronicle, Moment
from reefguard.guard.command_socket import CommandSocket
from reefguard.guard.commands import AskedOfOutput, Refused, parse
from reefguard.guard.day import Day
from reefguard.guard.history_desk import HistoryDesk
from reefguard.guard.journal import Journal, Priority, say
from reefguard.guard.recall import to_keep
from reefguard.guard.settings_source import Good, keep
from reefguard.guard.signals import Signals
from reefguard.guard.status import VERSION, Identity, document, sentence
from reefguard.guard.wishes import WishDesk
from reefguard.guard.world import World
from reefguard.records import guard_memory, safe_levels, status_file
from reefguard.records.background_saver import BackgroundSaver
from reefguard.records.event_queue import EventQueue
from reefguard.records.guard_memory import Kept
from reefguard.records.history_queue import HistoryQueue
from reefguard.settings.model import Settings
from reefguard.vocabulary import Cause, Finding, Inputs, Missed, Severity

# The counters lose at most this much of a run to a power cut; each save costs the SD card some wear.
SAVE_EVERY_S = 1_800.0

# After a save that failed, the next attempt: how soon a mended disk is seen to be in order again.
SAVE_AGAIN_AFTER_S = 60.0

# How long a start waits for what the last run left of its alarms; the outputs stand at their safe levels.
_DISK_PATIENCE_S = 5.0

# What a person can ask for in one tick's time, and no program that asks in a circle.
_MOST_BETWEEN_TICKS = 20


class Guard:
    """Holds a tank: one tick after the other."""

    def __init__(
        self,
        good: Good,
        memory: Memory,
        world: World,
        *,
        chores: Chores,
        settings_file: Path,
        events: EventQueue,
        history: HistoryQueue,
        zone: tzinfo,
    ) -> None:
        """Take over the devices.

        Args:
            good: the settings to run on.
            memory: to start from.
            world: the devices; every output already stands at its safe level.
            chores: gets the daily ones added.
            settings_file: what a reload reads, by the name people know.
            events: where everything that happens is kept.
            history: where what the tank was like is kept.
            zone: of the local day.
        """
        self._good = good
        self._settings = good.settings
        self._memory = memory
        self._world = world
        self._saver = BackgroundSaver(_save)
        self._chores = chores
        self._pause = Event()
        self._troubles: dict[str, Finding] = {}
        self._journal = Journal()
        self._identity = Identity(os.getpid(), world.clock.boot_id(), str(settings_file))
        self._saved_s = world.clock.boot_s()
        self._saved_shape: object = None
        self._day = Day(output_names(good.settings), memory.counters, self._saved_s)
        self._events = events
        self._chronicle = Chronicle(events, self._identity.boot_id, history)
        resting = frozenset(rest.output for rest in safe_levels.of(good.settings) if rest.load_on)
        self._history = HistoryDesk(history, zone, resting, self._saved_s)
        left = events.left_behind(_DISK_PATIENCE_S)
        self._alarms = AlarmDesk(events, self._chronicle, self._identity.boot_id, left)
        self._alarms.begin(self._moment(), VERSION)
        self._wishes = WishDesk(self._chronicle)
        self._status: dict[str, Any] = {}
        self._obeyed = 0
        chores.add("daily summary", self._close_day, hour=0)

    @property
    def settings(self) -> Settings:
        """The settings it runs on now."""
        return self._settings

    def run(
        self, signals: Signals, reload: Callable[[], object], commands: CommandSocket | None = None
    ) -> None:
        """Tick until asked to stop.  The pace does not drift; a tick that is missed is not made up."""
        clock = self._world.clock
        due_s = clock.boot_s()
        while not signals.stop:
            if signals.reload:
                signals.reload = False
                reload()
            self.tick()
            due_s = max(due_s + self._settings.sampling_s, clock.boot_s())
            signals.wait(clock.real_seconds(due_s - clock.boot_s()), commands)

    def first_tick(self, patience_s: float = 5.0) -> Decision:
        """Give each probe time for its first answer, then make the first tick."""
        clock = self._world.clock
        until_s = clock.boot_s() + patience_s
        while clock.boot_s() < until_s and any(
            isinstance(sample, Missed) and sample.cause is Cause.NOT_YET
            for sample in self._world.probes.latest().values()
        ):
            self._pause.wait(0.02)
        return self.tick()

    def tick(self) -> Decision:
        """Make one tick."""
        self._obeyed = 0
        inputs = self._gather()
        self._memory, decision = step(self._memory, inputs, self._settings)
        driven = self._actuate(decision)
        self._record(decision, inputs)
        self._chores.run_due(inputs.wall.local)
        if driven:
            self._world.service.healthy()
        return decision

    def answer(self, line: bytes, who: str) -> dict[str, str]:
        """Do what a person asks in one line, between two ticks; return what to answer."""
        asked = parse(line)
        if isinstance(asked, Refused):
            return {"error": asked.why}
        self._obeyed += 1
        if self._obeyed > _MOST_BETWEEN_TICKS:
            return {"error": "too many commands at once; try again in a few seconds"}
        if isinstance(asked, AskedOfOutput):
            return self._wishes.obey(asked, who, self._moment(), self._settings)
        said = self._alarms.obey(asked, who, self._moment(), self._settings.shown_in)
        # Who asks next shall see what this one did; the tick's own time stays in it.
        self._write_status({**self._status, "alarms": self._alarms.listed()})
        return said

    def apply(self, good: Good) -> None:
        """Go on with other settings for the same devices; they are kept with the next tick."""
        self._good = good
        self._settings = good.settings
        self._saved_shape = None

    def set_trouble(self, name: str, finding: Finding | None) -> None:
        """Keep a trouble of the shell (settings, storage, outputs) among the findings, or drop it."""
        if finding is None:
            self._troubles.pop(name, None)
        else:
            self._troubles[name] = finding

    def stop(self, *, crashed: bool = False) -> None:
        """Bring every output to rest, the chiller first, and the memory to disk.

        The status goes: nobody shall take what it said last for what is.  After a crash the next
        start tells of it.
        """
        self._world.service.stopping()
        resting = safe_levels.of(self._settings)
        for rest in resting:
            self._drive(rest.output, float(rest.load_on))
        self._world.probes.stop()
        at = self._moment()
        for rest in resting:
            self._chronicle.output(at, rest.output, float(rest.load_on), "at rest: the guard stops")
        self._save()
        if not crashed:
            self._alarms.end(at)
        self._saver.finish(patience_s=3.0)
        self._events.finish(patience_s=3.0)
        self._history.finish(at, patience_s=3.0)
        status_file.remove(Path(self._settings.runtime_directory))

    def _gather(self) -> Inputs:
        world = self._world
        at = self._moment()
        return Inputs(
            now_s=at.now_s,
            wall=at.wall,
            samples=world.probes.latest(),
            room=world.probes.room(),
            lights_sensed=None if world.lights is None else world.lights.sense(),
            chiller_running=None if world.chiller_running is None else world.chiller_running.sense(),
            flow=None if world.flow is None else world.flow.sense(),
            cutoff=world.cutoff(),
            proof_tests=world.proof_tests(),
            wish=self._wishes.current(at),
        )

    def _actuate(self, decision: Decision) -> bool:
        """Drive every output; return whether all stand as commanded.  What stops comes first."""
        all_driven = True
        for command in sorted(decision.commands, key=lambda one: one.on):
            all_driven = self._drive(command.output, command.level) and all_driven
        return all_driven

    def _drive(self, name: str, level: float) -> bool:
        """Drive one output and read it back."""
        output = self._world.outputs[name]
        try:
            output.drive(level)
            stands = output.read_back() == (level > 0.0)
            wrong = "its pin does not stand at the level it was driven to"
        except Exception as error:  # noqa: BLE001  whatever one pin's library raises, the others are driven
            stands = False
            wrong = (error.strerror if isinstance(error, OSError) else None) or str(error)
        finding = Finding(
            Severity.CRITICAL,
            f"{name} not driven",
            f"{name} cannot be switched: {wrong}",
            "see which program or overlay holds its pin; switch the load off by hand until it works",
        )
        self.set_trouble(finding.name, None if stands else finding)
        return stands

    def _record(self, decision: Decision, inputs: Inputs) -> None:
        """Say what happened: to the log, to whoever reads the status, and to the disk."""
        self._day.see(decision.estimate)
        self._note_storage()
        findings = (
            *self._troubles.values(),
            *find(self._memory, decision, inputs, self._settings),
        )
        self._journal.tick(decision, findings, inputs.now_s, self._settings.shown_in)
        at = Moment(inputs.now_s, inputs.wall)
        self._chronicle.tick(decision, at, self._settings.shown_in)
        self._history.tick(inputs, decision, self._settings)
        self._alarms.tick(findings, decision.estimate, self._settings.safe_band, at, self._settings.shown_in)
        self._status = document(
            self._memory,
            decision,
            inputs,
            self._settings,
            findings=findings,
            alarms=self._alarms.listed(),
            identity=self._identity,
        )
        self._write_status(self._status)
        self._world.service.status(sentence(decision, findings, self._settings))
        shape = (decision.mode, tuple((counter.on, counter.changes) for counter in self._memory.counters))
        save_every_s = SAVE_EVERY_S if self._saver.trouble is None else SAVE_AGAIN_AFTER_S
        if shape != self._saved_shape or inputs.now_s - self._saved_s >= save_every_s:
            self._saved_shape = shape
            self._save()

    def _write_status(self, status: dict[str, Any]) -> None:
        finding = None
        try:
            status_file.write(Path(self._settings.runtime_directory), status)
        except OSError as error:
            finding = Finding(
                Severity.WARNING,
                "status not written",
                f"the status file in {self._settings.runtime_directory} cannot be written: {error.strerror}",
                "free space there, or mend its permissions; the control goes on without it",
            )
        self.set_trouble("status", finding)

    def _note_storage(self) -> None:
        finding = None
        for what, trouble in (
            ("memory", self._saver.trouble),
            ("events", self._events.trouble),
            ("history", self._history.trouble),
        ):
            if trouble is not None and finding is None:
                finding = Finding(
                    Severity.WARNING,
                    "storage failing",
                    f"the {what} in {self._settings.state_directory} cannot be written: {trouble}",
                    "free space, or replace the card; the control goes on, its memory is in RAM",
                )
        self.set_trouble("storage", finding)

    def _moment(self) -> Moment:
        return Moment(self._world.clock.boot_s(), self._world.clock.wall())

    def _save(self) -> None:
        clock = self._world.clock
        self._saved_s = clock.boot_s()
        wall = clock.wall().local.isoformat(timespec="seconds")
        kept = to_keep(
            self._memory, self._settings, now_s=self._saved_s, boot_id=self._identity.boot_id, wall=wall
        )
        self._saver.hand_over((self._good, kept))

    def _close_day(self) -> None:
        now_s = self._world.clock.boot_s()
        line = self._day.close(self._memory.counters, now_s, self._settings.shown_in)
        say(Priority.INFO, f"the day: {line}")


def _save(newest: tuple[Good, Kept]) -> None:
    """Keep the memory, and what a later start or a clean-up needs when the settings cannot be read."""
    good, kept = newest
    try:
        keep(good)
    finally:
        guard_memory.save(Path(good.settings.state_directory), kept)
