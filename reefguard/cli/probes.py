"""`reefguard probes`: every probe on every bus, and which one is in your hand."""

import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import click

from reefguard.cli import places
from reefguard.cli.conversation import Ended, NotPossible, agreed, ending_in_words, tell, typed_for
from reefguard.cli.file_options import limits_option, settings_option
from reefguard.cli.running_tank import RunningTank, own_clock, until
from reefguard.cli.wire import named_probes, newest, on_the_buses, watched, within_deadline
from reefguard.commissioning.probe_look import RISEN_C, resolution_bits, risen, suspicions
from reefguard.commissioning.record import PASSED, PROBES
from reefguard.control.words import span, temperature
from reefguard.guard.settings_source import Bad, from_file
from reefguard.hardware.one_wire import read_octets, read_probe
from reefguard.hardware.ports import Clock
from reefguard.settings.kinds import NAME
from reefguard.settings.model import Unit
from reefguard.vocabulary import Cause

_SAMPLING_S: Final = 2.0
_WARMED_WITHIN_S: Final = 300.0
_READ_WITHIN_S: Final = 20.0


@dataclass(frozen=True, slots=True)
class _Wires:
    """Where probes may hang, and what is known of them; while the settings have errors, there is no tank."""

    tank: RunningTank | None
    clock: Clock
    directories: Sequence[Path]
    names: Mapping[str, str]
    shown_in: Unit


@click.command()
@settings_option
@limits_option
@click.option("--warm", is_flag=True, help="Find out which is which: you warm one in your hand.")
def probes(settings_file: Path, limits_file: Path, warm: bool) -> None:
    """List every probe on every bus, the guard's and the cutoff's.

    Each with its reading, resolution and supply, what speaks against a genuine chip, and who names it.
    Settings that cannot be used yet name none; what is found stands here for them.
    Exit code: 0 all in order, 1 something is worth a look, 130 stopped.
    """
    wires = _wires(settings_file, limits_file)
    with ending_in_words() as standing:
        standing.words = "nothing is on record"
        found = on_the_buses(wires.directories)
        if not found:
            raise NotPossible(
                f"no probe is on any bus under {wires.directories[0]}\n"
                "  mend: look at plugs and wires; on a Pi, see `reefguard doctor`"
            )
        in_order = [_listed(wires, one) for one in found]
        absent = [
            f"{name} ({rom_id})"
            for rom_id, name in wires.names.items()
            if rom_id not in {one[0] for one in found}
        ]
        for one in absent:
            tell(f"{one}: named, and on no bus\n    mend: look at its plug and cable")
        if wires.tank is None:
            tell(f"{settings_file} cannot be used yet, so it names none of them; see `reefguard check`")
        if warm:
            _warmed(wires, found)
    sys.exit(Ended.PASSED if all(in_order) and not absent and wires.tank is not None else Ended.NOT_DONE)


def _wires(settings_file: Path, limits_file: Path) -> _Wires:
    outcome = from_file(settings_file)
    settings = None if isinstance(outcome, Bad) else outcome.settings
    clock = own_clock()
    named = named_probes(settings, limits_file)
    of_the_guard = places.one_wire_directory() if settings is None else Path(settings.one_wire_directory)
    return _Wires(
        tank=None if settings is None else RunningTank(settings, clock),
        clock=clock,
        directories=list(dict.fromkeys([of_the_guard, *(one.directory for one in named)])),
        names={one.rom_id: one.name for one in named},
        shown_in=Unit.CELSIUS if settings is None else settings.shown_in,
    )


def _listed(wires: _Wires, probe: tuple[str, Path, str]) -> bool:
    """Say all that can be seen of a probe; return whether all is in order."""
    rom_id, directory, bus = probe
    name = wires.names.get(rom_id, "named by nobody")
    read = within_deadline(lambda: read_probe(directory, rom_id))
    octets = within_deadline(lambda: read_octets(directory, rom_id))
    remarks = list(suspicions(rom_id, octets if octets is not None else Cause.NO_ANSWER))
    shown = temperature(read, wires.shown_in) if isinstance(read, float) else "no reading"
    if not isinstance(read, float):
        remarks.append((read or Cause.NO_ANSWER).value)
    bits = f"{resolution_bits(octets)} bit" if isinstance(octets, bytes) else "resolution unknown"
    supply = _supply(directory / rom_id)
    if supply == "parasite power":
        remarks.append("parasite power: connect its supply wire to 3.3 V")
    tell(f"{rom_id}  bus {bus}  {shown}, {bits}, {supply}  {name}")
    for remark in remarks:
        tell(f"    {remark}")
    return not remarks


def _supply(probe: Path) -> str:
    """Return how a probe gets its power, by the kernel's `ext_power` (w1_therm.rst)."""
    try:
        said = (probe / "ext_power").read_text(encoding="ascii", errors="replace").strip()
    except OSError:
        return "supply unknown"
    return {"0": "parasite power", "1": "supplied"}.get(said, "supply unknown")


def _warmed(wires: _Wires, found: list[tuple[str, Path, str]]) -> None:
    """Tell which probe is in the person's hand, as often as they like, and offer a line for each."""
    named: dict[str, str] = {}
    tell("\nTake one probe in your hand, dry, and hold it.  Ctrl-C ends it.")
    while True:
        rom_id = _the_one_that_rises(wires, found)
        tell(f"  that is {rom_id}")
        name = typed_for("  Its name (Enter: none)", likely="")
        while name and not re.fullmatch(NAME, name):
            tell("  that is no name; mend: a letter, then letters, digits, - and _, 24 at most")
            name = typed_for("  Its name (Enter: none)", likely="")
        if name:
            named[rom_id] = name
        if not agreed("Another one?"):
            break
        tell("\nLay that one aside, and take the next.")
    if not named:
        return
    if wires.tank is not None:
        details = {"named": named}
        wires.tank.put_on_record(PROBES, "all", PASSED, f"{len(named)} named by warming", details)
    tell("\nFor the settings; nothing was changed:\n\n    water_probes:")
    for rom_id, name in named.items():
        tell(f"      {name}: {{id: {rom_id}}}")


def _the_one_that_rises(wires: _Wires, found: list[tuple[str, Path, str]]) -> str:
    """Watch all probes until one is warmed."""
    (directory, *others) = list(dict.fromkeys(directory for _, directory, _ in found))
    if others:
        raise NotPossible("the buses are under more than one directory; mend: warm those of one at a time")
    rom_ids = [rom_id for rom_id, _, _ in found]
    with watched(rom_ids, directory, _SAMPLING_S, wires.clock) as reading:
        before: dict[str, float] = {}

        def all_read() -> bool | None:
            before.update({name: raw_c for name, raw_c in newest(reading).items() if name not in before})
            return True if len(before) == len(rom_ids) else None

        until(wires.clock, all_read, _READ_WITHIN_S)
        if not before:
            raise NotPossible("no probe gives a reading; mend: see what is listed above")
        tell(f"  watching {len(before)} probes for one that rises by {RISEN_C:g} °C ...")
        rom_id = until(wires.clock, lambda: risen(before, newest(reading)), _WARMED_WITHIN_S)
    if rom_id is None:
        raise NotPossible(
            f"none rose by {RISEN_C:g} °C beyond the others within {span(_WARMED_WITHIN_S)}\n"
            "  mend: hold the metal sleeve itself, one at a time, with a warm hand"
        )
    return rom_id
