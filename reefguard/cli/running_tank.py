"""What a guided command sees of the running guard, and where it keeps its record."""

import json
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

import click

from reefguard.cli.clocks import open_clock
from reefguard.cli.conversation import Ended, NotPossible, person, refuse, tell
from reefguard.cli.status import look
from reefguard.commissioning.record import Record, as_line
from reefguard.guard.settings_source import Bad, from_file
from reefguard.hardware.ports import Clock
from reefguard.records import commissioning_log, status_file
from reefguard.settings.model import Settings

_LOOK_EVERY_S: Final = 0.05
_SILENT_AFTER_SAMPLINGS: Final = 10.0
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class RunningTank:
    """The settings, the clock, and the guard that may be running on them."""

    settings: Settings
    clock: Clock

    def status(self) -> dict[str, Any]:
        """Return the guard's status of the last moments.

        Raises:
            NotPossible: there is none.
        """
        report = look(Path(self.settings.runtime_directory) / status_file.FILE_NAME, self.clock)
        if not report.status or report.silent or report.age_s is None:
            raise NotPossible(
                f"the guard must be running: {report.headline.partition(' - ')[2]}; "
                "mend: start it (`sudo systemctl start reefguard`), and see `reefguard status`"
            )
        return report.status

    def next_status(self) -> dict[str, Any]:
        """Return the guard's status of the first tick from now on.

        Raises:
            NotPossible: there is none.
        """
        asked_s = self.clock.boot_s()

        def fresh() -> dict[str, Any] | None:
            status = self.status()
            return status if status["written_s"] >= asked_s else None

        # A guard that ticks no more is noticed by `status`, long before this.
        found = self.until(fresh, _SILENT_AFTER_SAMPLINGS * self.settings.sampling_s)
        return self.status() if found is None else found

    def until(self, sees: Callable[[], T | None], longest_s: float) -> T | None:
        """Look again and again until something is seen; `None` after `longest_s` of the tank's clock."""
        return until(self.clock, sees, longest_s)

    def put_on_record(
        self, kind: str, subject: str, outcome: str, what: str, details: dict[str, Any] | None = None
    ) -> None:
        """Keep a record, and say where; one that cannot be kept is shown, so that nothing is lost."""
        wall = self.clock.wall()
        record = Record(
            kind=kind,
            subject=subject,
            at_wall=wall.local,
            clock_trusted=wall.trusted,
            who=person(),
            tank=self.settings.tank,
            outcome=outcome,
            what=what,
            details=details or {},
        )
        directory = commissioning_log.directory_in(Path(self.settings.state_directory))
        try:
            path = commissioning_log.append(directory, record)
        except OSError as error:
            click.echo(
                f"reefguard: this could not be put on record in {directory}: {error.strerror or error}\n"
                "  mend: join the guard's group or use sudo, and add this line to "
                f"{directory / commissioning_log.FILE_NAME}:\n{as_line(record)}",
                err=True,
            )
        else:
            tell(f"on record: {path}")


def until(clock: Clock, sees: Callable[[], T | None], longest_s: float) -> T | None:
    """Look again and again until something is seen; `None` after `longest_s` of the clock."""
    until_s = clock.boot_s() + longest_s
    while True:
        seen = sees()
        if seen is not None or clock.boot_s() >= until_s:
            return seen
        time.sleep(_LOOK_EVERY_S)


def open_tank(settings_file: Path) -> RunningTank:
    """Return the tank that a settings file describes; end with its problems when it has any."""
    outcome = from_file(settings_file)
    if isinstance(outcome, Bad):
        refuse(f"the settings cannot be used\n{outcome.report}")
    return RunningTank(outcome.settings, own_clock())


def own_clock() -> Clock:
    """Return the machine's clock, or the bench's; end with what is wrong with the environment."""
    try:
        return open_clock()
    except ValueError as error:
        refuse(str(error), Ended.NOT_DONE)


def read_object(path: Path) -> dict[str, Any]:
    """Return a JSON object from a file, empty when there is none."""
    try:
        found = json.loads(path.read_bytes())
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}
