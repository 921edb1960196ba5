"""Try the installed programs on a Pi, or on a machine that looks like one.

    python tests/on_a_pi/run.py --guest COMMAND --wheels DIR [SCENARIO...]

COMMAND drives the machine: `guest.py` says what it must offer.  DIR is filled by
`pip wheel --wheel-dir DIR '.[link,pi]'` from this very checkout, on a machine of
the same kind.  All of it takes more than an hour, most of it the compressor's
rest.  It prints a table, and ends with 1 when something did not hold.

The machine must be one for trying, as it was first made: it is installed on, its
power is cut, its clock is set, its disk is filled.  Any scenario may be run by
its name; `install` and `first-start` must have been run before it, once.
"""

import argparse
import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parents[1]))

from on_a_pi import deaths, releases, starts, troubles, visits
from on_a_pi.guest import Guest, NotHeld


class Scenario(NamedTuple):
    """What is done, what must hold, and the step that does it and says what was seen."""

    done: str
    must: str
    step: Callable[[Guest], str]


def scenarios(wheels: Path) -> dict[str, Scenario]:
    """Return every scenario by its name, in their order."""
    table = {
        "install": Scenario(
            "`systemd/install` on a new system",
            "installed, nothing runs",
            partial(releases.install, wheels=wheels),
        ),
        "examples": Scenario(
            "start on the example settings", "78, no restart, no line touched", starts.examples
        ),
        "first-start": Scenario(
            "start on the keeper's settings, cutoff reset",
            "no chilling before the reset; no line glitches",
            starts.first_start,
        ),
        "warm-and-cold": Scenario(
            "water 27.5, 26.4, 26.1, 27.5 °C", "chiller, then fans off; on again", starts.warm_and_cold
        ),
        "hung-bus": Scenario(
            "a probe hangs the bus", "chiller off within 30 s, schedule mode, back", troubles.hung_bus
        ),
        "unplugged": Scenario(
            "one probe unplugged, then both",
            "one: goes on; both: chiller off within 30 s, schedule mode, back",
            troubles.unplugged,
        ),
        "clock": Scenario(
            "clock a day forward, two back, 2 h forward; then 12:00, 23:30, not known",
            "full rest, nothing starts anew; fans follow the lights, and run without a clock",
            troubles.clock,
        ),
        "bad-settings": Scenario(
            "reload with an error in the settings", "goes on as it was, and says so", troubles.bad_settings
        ),
        "full-disk": Scenario("disk full", "control goes on, and says so", troubles.full_disk),
        "latched-power-cut": Scenario(
            "24.0 °C at the cutoff's probe, power cut, 27.5 °C",
            "relay off within 30 s, whatever the guard wants; only a reset when warm frees it",
            starts.latched_power_cut,
        ),
        "exercise-interrupted": Scenario(
            "`exercise fan1`, Ctrl-C in its middle",
            "the fan goes on as before",
            partial(visits.interrupted_exercise, end="^C"),
        ),
        "exercise-hung-up": Scenario(
            "`exercise fan1`, the connection lost in its middle",
            "the fan goes on as before, without waiting for the wish to run out",
            partial(visits.interrupted_exercise, end="hang up"),
        ),
        "proof-test": Scenario(
            "`proof-test`", "the cutoff's contact alone opens; nothing latched; full rest", visits.proof_test
        ),
        "doctor": Scenario("`doctor`", "finds what is planted, and nothing that is not so", visits.doctor),
        "install-again": Scenario("`systemd/install` again, both running", "nothing changes", releases.again),
        "next-and-back": Scenario(
            "the next version, and this one again, cutoff tripped",
            "settings, records and latch stay",
            partial(releases.next_and_back, wheels=wheels),
        ),
    }
    for persist in ("on", "off"):
        kept = f"lines {'keep their level' if persist == 'on' else 'are let go'}"
        for signal in ("KILL", "STOP"):
            table[f"guard-{signal.lower()}-persist-{persist}"] = Scenario(
                f"SIG{signal} of the guard, {kept}",
                "chiller off within 25 s, fans at rest, back, full rest",
                partial(deaths.guard_dies, signal=signal, persist=persist),
            )
            table[f"cutoff-{signal.lower()}-persist-{persist}"] = Scenario(
                f"SIG{signal} of the cutoff, {kept}",
                "relay off within 15 s, back, full rest",
                partial(deaths.cutoff_dies, signal=signal, persist=persist),
            )
        table[f"stop-persist-{persist}"] = Scenario(
            f"clean stop of both, {kept}",
            "all at rest, exit 0, full rest",
            partial(starts.clean_stop, persist=persist),
        )
        table[f"power-cut-persist-{persist}"] = Scenario(
            f"power cut with the chiller on, {kept}",
            "nothing glitches at boot, fans on, full rest",
            partial(starts.power_cut, persist=persist),
        )
    return table


def main() -> int:
    """Run all, or what is named."""
    given = argparse.ArgumentParser(prog="on_a_pi", description=(__doc__ or "").splitlines()[0])
    given.add_argument("--guest", required=True, metavar="COMMAND", help="what drives the machine")
    given.add_argument("--wheels", required=True, type=Path, metavar="DIR")
    given.add_argument("scenario", nargs="*", help="run these only; without one, all of them")
    told = given.parse_args()
    known = scenarios(told.wheels)
    unknown = set(told.scenario) - set(known)
    if unknown:
        given.error(f"no scenario {', '.join(sorted(unknown))}; there are: {', '.join(known)}")
    guest, broken = Guest(told.guest), 0
    sys.stdout.write("| scenario | what must hold | what was measured | held |\n|---|---|---|---|\n")
    for name in told.scenario or known:
        done, must, step = known[name]
        try:
            seen, held = step(guest), "yes"
        except (NotHeld, subprocess.SubprocessError) as error:
            seen, held, broken = " ".join(str(error).split())[:1500], "**no**", broken + 1
        sys.stdout.write(f"| {name}: {done} | {must} | {seen} | {held} |\n")
        sys.stdout.flush()
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
