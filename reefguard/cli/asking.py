"""Asks the running guard for an output to be on or off while a person watches it.

The guard owns the pins.  What is asked goes through all its holds and rests,
lasts two minutes at most, and is asked again in the background for as long as
this program lives; the guard ends it by itself when it is not.
"""

import secrets
import threading
from pathlib import Path
from typing import Any, Final, Self

from reefguard.cli.alarm_client import NotAnswered, ask
from reefguard.cli.conversation import NotPossible, tell
from reefguard.cli.running_tank import RunningTank
from reefguard.cli.status_page import is_number, table
from reefguard.control.wish import may_still
from reefguard.guard.commands import LONGEST_WISH_S

# A person does not stand beside a resting compressor for longer.
_LONGEST_WAIT_S: Final = 900.0
# Ticks that may pass before an output that nothing holds has followed.
_TICKS: Final = 4


class AskedOutput:
    """One output, under a person's eyes; `with AskedOutput(...)` lets it go at the end."""

    def __init__(self, tank: RunningTank, output: str) -> None:
        """Ask for nothing yet."""
        self._tank = tank
        self._output = output
        self._session = secrets.token_hex(16)
        self._on: bool | None = None
        self._over = threading.Event()
        self._lock = threading.Lock()
        self._trouble: str | None = None
        self._renewing = threading.Thread(target=self._renew, daemon=True)

    def __enter__(self) -> Self:
        self._renewing.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        if self._on is not None:
            with self._lock:
                self._on = None
                self._ask()

    def stands_as(self, before: dict[str, Any]) -> bool:
        """Return whether it has stood as it was shown then, without a break, until now."""
        shown = self.shown(self._tank.next_status())
        return all(shown.get(key) == before.get(key) for key in ("on", "since_s"))

    def turn(self, *, on: bool) -> dict[str, Any]:
        """Ask for it to be on or off, and wait until it is; return how the guard shows it.

        Raises:
            NotPossible: something holds it for longer than a person waits, or the guard does not answer.
        """
        with self._lock:
            # A person has agreed anew, whatever became of what was asked before.
            self._on, self._trouble = on, None
            self._ask()
        told = ""
        longest_s = _TICKS * self._tank.settings.sampling_s
        begun_s = self._tank.clock.boot_s()

        def followed() -> dict[str, Any] | None:
            nonlocal told, longest_s
            if self._trouble is not None:
                raise NotPossible(self._trouble)
            status = self._tank.status()
            output = self.shown(status)
            # What it shows is of a tick after it was asked.
            if status["written_s"] <= begun_s:
                return None
            if output.get("on") is on:
                return output
            left_s = _left_s(output, status["written_s"])
            if left_s is None or left_s > _LONGEST_WAIT_S:
                return None
            longest_s = max(longest_s, status["written_s"] - begun_s + left_s + _TICKS * 10.0)
            if not told:
                told = str(output.get("blocked_by") or output.get("why"))
                tell(f"  {told}; this is waited for (Ctrl-C ends it)")
            return None

        while True:
            limit_s = longest_s
            output = self._tank.until(followed, 1.0)
            if output is not None:
                return output
            if self._tank.clock.boot_s() - begun_s > limit_s:
                raise NotPossible(self._not_followed(self._tank.status(), on=on))

    def _not_followed(self, status: dict[str, Any], *, on: bool) -> str:
        shown = self.shown(status)
        why = shown.get("blocked_by") or shown.get("why") or "nobody says why"
        said = f"{self._output} stays {'off' if on else 'on'}: {why}"
        if on or not _must_be_cooled(status):
            return said
        return (
            f"{said}\n  over water that is too warm, or not known, nothing rests for a person\n"
            "  mend: try this once the water is inside the safe band"
        )

    def shown(self, status: dict[str, Any]) -> dict[str, Any]:
        """Return what a status of the guard shows of the output."""
        outputs = status.get("outputs")
        output = outputs.get(self._output) if isinstance(outputs, dict) else None
        return output if isinstance(output, dict) else {}

    def _renew(self) -> None:
        pause_s = self._tank.clock.real_seconds(LONGEST_WISH_S) / 6.0
        while not self._over.wait(pause_s):
            with self._lock:
                if self._on is not None:
                    self._ask(renews=True)

    def _ask(self, *, renews: bool = False) -> None:
        """Ask the guard, holding the lock; what goes wrong is told when something is waited for."""
        wanted = {
            "output": self._output,
            "on": self._on,
            "for_s": LONGEST_WISH_S,
            "session": self._session,
            "renew": renews,
        }
        try:
            ask(Path(self._tank.settings.runtime_directory), {"command": "exercise", **wanted})
        except NotAnswered as error:
            self._trouble = str(error)


def _must_be_cooled(status: dict[str, Any]) -> bool:
    """Return whether the guard stills nothing for a person."""
    warmest_c, high_c = table(status, "water").get("warmest_c"), table(status, "safe_band").get("high_c")
    return not (is_number(high_c) and may_still(warmest_c if is_number(warmest_c) else None, high_c))


def _left_s(output: dict[str, Any], now_s: float) -> float | None:
    """Return how long what holds the output lasts, or `None` when nobody knows."""
    for until_s in (output.get("blocked_until_s"), output.get("runs_on_until_s")):
        if is_number(until_s):
            return max(0.0, until_s - now_s)
    return None
