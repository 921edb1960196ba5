"""A later release is installed over this one, and this one over the later."""

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from on_a_pi.guest import PROGRAM, Guest, NotHeld

CHECKOUT = Path(__file__).parents[2]

# What must be the same afterwards, and what may only grow.
_KEPT = "sha256sum /etc/reefguard/*.yaml /var/lib/reefguard-cutoff/latch /var/lib/reefguard/commissioning/*"
_GROWS = (
    "python3 -c 'import sqlite3; "
    'c = sqlite3.connect("file:/var/lib/reefguard/events.db?mode=ro", uri=True); '
    'print(c.execute("SELECT max(seq) FROM events").fetchone()[0])'
    "'"
)


def later_and_back(guest: Guest, wheels: Path) -> str:
    """Upgrade to a later release, and back: settings, records and latch stay, the guard runs."""
    before = _kept(guest)
    with tempfile.TemporaryDirectory() as room:
        later, later_wheels = Path(room) / "later", Path(room) / "later-wheels"
        later.mkdir()
        packed = subprocess.run(
            ["git", "-C", str(CHECKOUT), "archive", "HEAD"], capture_output=True, check=True
        )
        subprocess.run(["tar", "-x", "-C", str(later)], input=packed.stdout, check=True)
        settings = later / "pyproject.toml"
        text = re.sub(
            r'^version = "[^"]*"', 'version = "99.1.0"', settings.read_text("utf-8"), flags=re.MULTILINE
        )
        settings.write_text(text, "utf-8")
        shutil.copytree(wheels, later_wheels, ignore=shutil.ignore_patterns("reefguard-*"))
        wheel = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", str(later_wheels), str(later)]
        subprocess.run(wheel, check=True)
        guest.put(later, "/root/later")
        guest.put(later_wheels, "/root/later-wheels")
    seen = [_installed(guest, "/root/later", "/root/later-wheels", before)]
    seen.append(_installed(guest, "/root/checkout", "/root/wheels", before))
    if "99.1.0" not in seen[0] or "99.1.0" in seen[1]:
        raise NotHeld(f"{seen}")
    return f"{seen[0]}, then {seen[1]}: the same settings, latch and record; events go on"


def _installed(guest: Guest, checkout: str, wheels: str, before: tuple[str, int]) -> str:
    code, said = guest.ended(f"cd {checkout} && systemd/install --wheels {wheels} </dev/null")
    if code:
        raise NotHeld(said)
    guest.wait(lambda: guest.is_active("reefguard") and bool(guest.status()), "the guard tells", 90.0)
    same, events = _kept(guest)
    if same != before[0] or events < before[1]:
        raise NotHeld(f"{before} became {same, events}")
    return guest.ended(f"{PROGRAM} --version")[1]


def _kept(guest: Guest) -> tuple[str, int]:
    return guest.ended(_KEPT)[1], int(guest.ended(_GROWS)[1].split()[-1])
