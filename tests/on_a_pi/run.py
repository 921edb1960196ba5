"""Try the installed programs on a Pi, or on a machine that looks like one.

    python tests/on_a_pi/run.py GUEST-COMMAND WHEELS [SCENARIO...]

GUEST-COMMAND drives the machine: see `guest.py`.  WHEELS is a folder filled by
`pip wheel --wheel-dir WHEELS '.[link,pi]'`, on a machine of the same kind.  It
takes about forty minutes, prints a table, and ends with 1 when something did
not hold.  Everything on the machine that is not this script's is left alone
only if that machine is one for trying: it installs, cuts the power, sets clocks.
"""

import subprocess
import sys
import tempfile
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from on_a_pi.guest import PROGRAM, UNITS, Guest, NotHeld
from on_a_pi.releases import later_and_back
from on_a_pi.scenarios import DAY, DISPLAY, OWN, SUMP
from on_a_pi.visits import VISITS

CHECKOUT = Path(__file__).parents[2]


def install(guest: Guest, wheels: Path) -> str:
    """The installer, from the checkout and a folder of wheels."""
    with tempfile.TemporaryDirectory() as room:
        packed = Path(room) / "checkout.tar"
        subprocess.run(["git", "-C", str(CHECKOUT), "archive", "-o", str(packed), "HEAD"], check=True)
        guest.put(packed, "/root/checkout.tar")
    guest.put(wheels, "/root/wheels")
    for probe in (DISPLAY, SUMP, OWN):
        guest.do("probe", probe, "26.0")
    code, said = guest.ended(
        "mkdir -p /root/checkout && tar -xf /root/checkout.tar -C /root/checkout && cd /root/checkout && "
        "systemd/install --wheels /root/wheels </dev/null"
    )
    if code:
        raise NotHeld(said)
    scores = []
    for unit in UNITS:
        _, told = guest.ended(f"systemd-analyze security {unit} --no-pager | tail -1")
        scores.append(next((word for word in told.split() if word.replace(".", "").isdigit()), told))
    version = guest.ended(f"{PROGRAM} --version")[1]
    return f"{version}; exposure {' / '.join(scores)}"


def main() -> int:
    """Run all, or what is named."""
    command, folder, *names = sys.argv[1:]
    guest, wheels = Guest(command), Path(folder)
    known = {
        "install": (install.__doc__, partial(install, guest, wheels)),
        **{one.__name__: (one.__doc__, partial(one, guest)) for one in (*DAY, *VISITS)},
        "later_and_back": (later_and_back.__doc__, partial(later_and_back, guest, wheels)),
    }
    broken = 0
    sys.stdout.write("| what was done | what was seen | held |\n|---|---|---|\n")
    for name in names or known:
        what, step = known[name]
        try:
            seen, held = step(), "yes"
        except (NotHeld, subprocess.TimeoutExpired) as error:
            seen, held, broken = " ".join(str(error).split()), "NO", broken + 1
        sys.stdout.write(f"| {(what or name).splitlines()[0]} | {seen} | {held} |\n")
        sys.stdout.flush()
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
