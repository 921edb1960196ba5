"""The command `systemd/install`: what it takes, the order of its steps, and what it says."""

import argparse
import os
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Final

from setting_up import asked
from setting_up.boot_lines import CUTOFF_BUS
from setting_up.machine import Change, Machine, NotDone, Runner, Talk, run_here
from setting_up.program import command, packages, program
from setting_up.removal import KEPT, removal
from setting_up.system import files, left_to_do, services, users

Step = Callable[[Machine], Iterator[Change]]
# Users before files that are theirs, the program before what starts it.
_STEPS: Final[tuple[Step, ...]] = (packages, users, program, command, files, services)
_CHECKOUT: Final = Path(__file__).resolve().parents[2]


def main(arguments: Sequence[str], runner: Runner = run_here) -> int:
    """Do what the command line asks for; return what to exit with."""
    given = _parser().parse_args(arguments)
    talk = Talk()
    machine = Machine(
        root=given.root.absolute(),
        checkout=_CHECKOUT,
        wheels=None if given.wheels is None else given.wheels.absolute(),
        person=os.environ.get("SUDO_USER"),
        runner=runner,
    )
    if machine.whole and os.geteuid() != 0 and not given.dry_run:
        talk.say("this changes the system; mend: sudo systemd/install (or see --dry-run)")
        return 1
    os.umask(0o022)  # others run what is installed here, whatever root's own habit
    try:
        if given.remove:
            _remove(machine, talk, dry_run=given.dry_run)
        else:
            _install(machine, talk, given.cutoff_bus, dry_run=given.dry_run)
    except NotDone as error:
        talk.say(f"stopped: {error}")
    except OSError as error:
        talk.say(f"stopped: {error.filename or 'the system'}: {error.strerror or error}")
    except KeyboardInterrupt:
        talk.say("\nstopped by you")
    else:
        return 0
    talk.say("What was done before stays and does no harm; the same command goes on from there.")
    return 1


def _install(machine: Machine, talk: Talk, cutoff_bus: int, *, dry_run: bool) -> None:
    changed = _carry_out(machine, talk, _STEPS, dry_run=dry_run)
    asked.boot_configuration(machine, talk, cutoff_bus, dry_run=dry_run)
    asked.hardware_watchdog(machine, talk, dry_run=dry_run)
    if dry_run:
        talk.say("Nothing was changed." if changed else "Everything is in place; nothing would change.")
        return
    talk.say("Installed." if changed else "Everything was in place; nothing was changed.")
    todo = left_to_do(machine)
    if todo:
        talk.say("What is left to you, once the wiring is done:")
    for words in todo:
        talk.say(f"  - {words}")


def _remove(machine: Machine, talk: Talk, *, dry_run: bool) -> None:
    _carry_out(machine, talk, (removal,), dry_run=dry_run)
    talk.say("These stay; delete them yourself if you want them gone:")
    for words in KEPT:
        talk.say(f"  - {words}")


def _carry_out(machine: Machine, talk: Talk, steps: Sequence[Step], *, dry_run: bool) -> bool:
    """Say each change, and make it; each step looks at what the one before it has left."""
    changed = False
    for step in steps:
        for change in step(machine):
            changed = True
            talk.say(f"{'would ' if dry_run else ''}{change.says}")
            if not dry_run:
                change.make()
    return changed


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="systemd/install",
        description="Install reefguard, or bring it up to this version.  Settings, records and the cutoff's "
        "latch are never overwritten; it may be run again at any time.",
    )
    parser.add_argument("--dry-run", action="store_true", help="say each change, and make none")
    parser.add_argument("--remove", action="store_true", help="take the programs away; what is yours stays")
    parser.add_argument(
        "--wheels",
        type=Path,
        metavar="DIR",
        help="install from here instead of the network: filled by `pip wheel --wheel-dir DIR '.[link]'`, "
        "on a machine of the same kind",
    )
    parser.add_argument(
        "--cutoff-bus",
        type=int,
        default=CUTOFF_BUS,
        metavar="N",
        help=f"GPIO number of the cutoff's own 1-wire bus, for the boot configuration ({CUTOFF_BUS})",
    )
    parser.add_argument(
        "--root", type=Path, default=Path("/"), metavar="DIR", help="another system's root, to try it out"
    )
    return parser
