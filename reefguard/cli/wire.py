"""The probes of both programs, for the commands that look at them: never waits for a sick bus."""

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final, NamedTuple, TypeVar

from reefguard.commissioning.calibration import Sampled as Watched
from reefguard.cutoff.limits import Setup
from reefguard.cutoff.limits_file import read_limits_file
from reefguard.hardware.ports import Clock
from reefguard.hardware.probes import DEADLINE_S, BackgroundProbes
from reefguard.settings.model import Settings, WaterProbe
from reefguard.vocabulary import Cause, Sampled

T = TypeVar("T")

CUTOFF: Final = "cutoff"
_FAMILIES: Final = ("10", "22", "28", "3b", "42")


class Named(NamedTuple):
    """A probe that the settings, or the limits file, name.

    Attributes:
        name: as they name it; `cutoff` for the cutoff's own, `room air` for the room's.
        rom_id: the kernel's name.
        directory: the 1-wire directory it is under.
        offset_c: what is added to it now.
    """

    name: str
    rom_id: str
    directory: Path
    offset_c: float


def named_probes(settings: Settings | None, limits_file: Path) -> list[Named]:
    """Return every probe that is named, the guard's first; without settings, the cutoff's only."""
    named = [] if settings is None else _of_the_guard(settings)
    setup = read_limits_file(limits_file)
    if isinstance(setup, Setup):
        named.append(Named(CUTOFF, setup.probe, Path(setup.one_wire_directory), setup.probe_offset_c))
    return named


def _of_the_guard(settings: Settings) -> list[Named]:
    bus = Path(settings.one_wire_directory)
    named = [Named(one.name, one.rom_id, bus, one.offset_c) for one in settings.water_probes]
    if settings.room_air is not None:
        named.append(Named("room air", settings.room_air.rom_id, bus, 0.0))
    return named


def on_the_buses(directories: Sequence[Path]) -> list[tuple[str, Path, str]]:
    """Return every thermometer the kernel shows: its name, its directory, and the bus it hangs on."""
    found = {}
    for directory in directories:
        try:
            names = sorted(path.name for path in directory.iterdir())
        except OSError:
            continue
        masters = [name for name in names if name.startswith("w1_bus_master")]
        for name in names:
            if name[:3] in {f"{family}-" for family in _FAMILIES}:
                # The kernel shows each probe under its bus's master too.
                buses = [master for master in masters if (directory / master / name).exists()]
                found[name] = (name, directory, buses[0].removeprefix("w1_bus_master") if buses else "?")
    return list(found.values())


def within_deadline(read: Callable[[], T]) -> T | None:
    """Return what a read gives, or `None` when it does not come back in time."""
    given: list[T] = []
    reading = threading.Thread(target=lambda: given.append(read()), daemon=True)
    reading.start()
    reading.join(DEADLINE_S)
    return given[0] if given else None


@contextmanager
def watched(
    rom_ids: Sequence[str], directory: Path, sampling_s: float, clock: Clock
) -> Iterator[BackgroundProbes]:
    """Read probes again and again in the background; each goes by its ROM id."""
    probes = BackgroundProbes(
        [WaterProbe(rom_id, rom_id) for rom_id in rom_ids],
        None,
        one_wire_directory=directory,
        sampling_s=sampling_s,
        clock=clock,
    )
    try:
        yield probes
    finally:
        probes.stop()


def newest(probes: BackgroundProbes) -> dict[str, float]:
    """Return what each probe read last, raw; one that read nothing is left out."""
    return {name: one.raw_c for name, one in probes.latest().items() if isinstance(one, Sampled)}


def look_again(probes: BackgroundProbes, rom_id: str, seen: list[Watched]) -> Cause | None:
    """Add a new reading to those seen, or return why there is none."""
    latest = probes.latest()[rom_id]
    if not isinstance(latest, Sampled):
        return latest.cause
    if not seen or latest.at_s > seen[-1].at_s:
        seen.append(Watched(latest.at_s, latest.raw_c))
    return None
