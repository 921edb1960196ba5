"""Where the guard's settings come from: the file, or the last good copy of it.

A bad file never replaces a good one.  At a start the guard runs on the last
good copy and says so; without one it does not run.  Beside the copy it keeps
the safe levels of what it runs on, for whoever must clean up after it.
"""

import os
import re
from dataclasses import dataclass
from pathlib import Path

from reefguard.records import safe_levels
from reefguard.records.files import replace_file
from reefguard.settings.model import Settings
from reefguard.settings.outcome import Accepted
from reefguard.settings.problems import report
from reefguard.settings.reading import read_bytes

COPY_NAME = "last-good-settings.yaml"


@dataclass(frozen=True, slots=True)
class Good:
    """Settings, and their text."""

    settings: Settings
    text: str


@dataclass(frozen=True, slots=True)
class Bad:
    """The file cannot be used: every reason, as a text for a person, and what of its text could be read."""

    report: str
    text: str = ""

    @property
    def first_line(self) -> str:
        """The report's first line, which counts the problems."""
        return self.report.partition("\n")[0]


def from_file(path: Path) -> Good | Bad:
    """Read a settings file."""
    try:
        if path.exists() and not path.is_file():
            # A pipe or a device may give no end, or no beginning.
            return Bad(f"{path}: it is no file\n  mend: give the settings file's own name")
        content = path.read_bytes()
    except OSError as error:
        return Bad(
            f"{path}: it cannot be read: {error.strerror or error}\n"
            "  mend: check its name, and whether the guard's user may read it"
        )
    outcome = read_bytes(content)
    text = content.decode(errors="replace")
    if isinstance(outcome, Accepted):
        return Good(outcome.settings, text)
    return Bad(report(outcome.problems, str(path)), text)


def last_good(state_directory: Path) -> Good | None:
    """Return the last good copy, if there is one that still can be used."""
    copy = from_file(state_directory / COPY_NAME)
    return copy if isinstance(copy, Good) else None


def keep(good: Good) -> None:
    """Keep what a later start, or a clean-up, needs when the settings file cannot be read.

    Raises:
        OSError: it could not be written.
    """
    for directory in _sought_for_safe_levels(good.settings):
        safe_levels.save(directory, safe_levels.of(good.settings))
    path = Path(good.settings.state_directory) / COPY_NAME
    content = good.text.encode()
    try:
        if path.read_bytes() == content:
            return
    except OSError:
        # Not there, or not readable: writing it is the mend, and says so if it fails too.
        pass
    replace_file(path, content, durable=True, mode=0o640)


def _sought_for_safe_levels(settings: Settings) -> tuple[Path, ...]:
    """Return the state directory, and before it the service manager's: the clean-up looks there first."""
    service_managers = os.environ.get("STATE_DIRECTORY", settings.state_directory)
    return tuple(dict.fromkeys(Path(place) for place in (service_managers, settings.state_directory)))


def directory_named(key: str, text: str) -> Path | None:
    """Return the directory a text names under `key`, as well as can be told when the rest of it is broken.

    >>> directory_named("state_directory", 'state_directory: "/srv/reef"  # of the tank')
    PosixPath('/srv/reef')
    """
    named = re.search(rf"""^{key}:[ \t]*(?:"([^"\n]+)"|'([^'\n]+)'|(/[^\s#]*))""", text, re.MULTILINE)
    return Path(next(filter(None, named.groups()))) if named else None


def needs_restart(old: Settings, new: Settings) -> tuple[str, ...]:
    """Return what differs that only a restart can change: devices, directories and their pace."""
    pairs = {
        "one_wire_directory": (old.one_wire_directory, new.one_wire_directory),
        "state_directory": (old.state_directory, new.state_directory),
        "runtime_directory": (old.runtime_directory, new.runtime_directory),
        "sampling": (old.sampling_s, new.sampling_s),
        "clock": (old.clock_always_right, new.clock_always_right),
        "water_probes": (
            [(probe.name, probe.rom_id) for probe in old.water_probes],
            [(probe.name, probe.rom_id) for probe in new.water_probes],
        ),
        "room_air": (old.room_air, new.room_air),
        "lights.sense": (old.lights.sense, new.lights.sense),
        "fans.units": (_fan_devices(old), _fan_devices(new)),
        "chiller": (_chiller_devices(old), _chiller_devices(new)),
    }
    return tuple(name for name, (before, after) in pairs.items() if before != after)


def _fan_devices(settings: Settings) -> list[tuple[object, ...]]:
    if settings.fans is None:
        return []
    return [
        (fan.name, fan.wiring, None if fan.speed is None else fan.speed.frequency_hz)
        for fan in settings.fans.fans
    ]


def _chiller_devices(settings: Settings) -> tuple[object, ...]:
    chiller = settings.chiller
    if chiller is None:
        return ()
    return (chiller.wiring, chiller.running_input, chiller.flow_input, chiller.cutoff_status)
