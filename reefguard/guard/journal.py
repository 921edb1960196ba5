"""One line in the log for each transition, none for its repetition.

The guard says when the mode changes, an output changes (with its reason), a
demand is held off or let go, and a finding comes or goes.
"""

import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from enum import IntEnum

from reefguard.control.step import Decision
from reefguard.control.words import explain
from reefguard.settings.model import Unit
from reefguard.vocabulary import Command, Finding, Severity


class Priority(IntEnum):
    """Priorities of RFC 5424, which the system's journal understands as a prefix."""

    CRITICAL = 2
    WARNING = 4
    NOTICE = 5
    INFO = 6


def say(priority: Priority, sentence: str) -> None:
    """Write to standard error, as one line or several.  A log that cannot be written stops no guard."""
    prefix = f"<{priority.value}>" if "JOURNAL_STREAM" in os.environ else ""
    if sys.stderr is None:  # closed before the program began
        return
    lines = "".join(f"{prefix}{line}\n" for line in sentence.splitlines())
    with suppress(OSError):
        # Past Python's buffer: what it could not write would stay there, and end a clean stop with code 120.
        os.write(sys.stderr.fileno(), lines.encode(errors="replace"))


class Journal:
    """Remembers what it said last, so that it says only what is new."""

    def __init__(self) -> None:
        """Start with nothing said."""
        self._mode: str | None = None
        self._outputs: dict[str, tuple[object, ...]] = {}
        self._findings: dict[str, Severity] = {}

    def tick(self, decision: Decision, findings: Sequence[Finding], now_s: float, unit: Unit) -> None:
        """Say what changed with this tick, temperatures in `unit`."""
        if decision.mode.value != self._mode:
            self._mode = decision.mode.value
            say(Priority.NOTICE, f"mode: {self._mode}")
        for command in decision.commands:
            self._output(command, now_s, unit)
        self._said(findings)

    def _output(self, command: Command, now_s: float, unit: Unit) -> None:
        held_by = None if command.blocked is None else command.blocked.reason
        now = (command.on, held_by)
        before = self._outputs.get(command.output)
        if now == before:
            return
        self._outputs[command.output] = now
        if before is None and not command.on and held_by is None:
            return
        state = "on" if command.on else "off"
        say(Priority.INFO, f"{command.output} {state}: {explain(command, now_s, unit)}")

    def _said(self, findings: Sequence[Finding]) -> None:
        """Say findings that are new or have become more or less urgent, and that one is over.

        Their numbers changing is not new.
        """
        present = {finding.name: finding.severity for finding in findings}
        for finding in findings:
            if self._findings.get(finding.name) is not finding.severity:
                critical = finding.severity is Severity.CRITICAL
                say(
                    Priority.CRITICAL if critical else Priority.WARNING,
                    f"{finding.what}; mend: {finding.mend}",
                )
        for over in sorted(self._findings.keys() - present.keys()):
            say(Priority.NOTICE, f"over: {over}")
        self._findings = present
