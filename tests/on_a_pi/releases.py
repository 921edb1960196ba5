"""The installer on the machine: the first time, over a running system, with the next version, and back."""

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Final

from on_a_pi.guest import CUTOFF, GUARD, LINK, PROGRAM, UNITS, Guest, NotHeld
from on_a_pi.tank import DISPLAY, OWN, PATIENCE_S, RELAY, SUMP, chilling, freed, off_at, settle

CHECKOUT: Final = Path(__file__).parents[2]

# What must be the same afterwards.
_SAME: Final = (
    "touch /var/lib/reefguard/commissioning/commissioning.jsonl; sha256sum /etc/reefguard/*.yaml "
    "/var/lib/reefguard-cutoff/latch* /var/lib/reefguard/commissioning/*"
)
# What may only grow: events, minutes of the history, and what the memory counts.
_GROWS: Final = """\
import json, sqlite3
counts = []
for name, table in (("events", "events"), ("history", "readings")):
    kept = sqlite3.connect(f"file:/var/lib/reefguard/{name}.db?mode=ro", uri=True)
    counts += kept.execute(f"SELECT count(*) FROM {table}").fetchone()
for output in json.load(open("/var/lib/reefguard/memory.json"))["memory"]["outputs"].values():
    counts += [output["changes"], int(output["elapsed_active_s"])]
print(*counts)
"""


def install(guest: Guest, wheels: Path) -> str:
    """Install from the checkout and a folder of wheels."""
    guest.trace_from_boot()
    with tempfile.TemporaryDirectory() as room:
        guest.put(_checkout(Path(room) / "checkout"), "/root/checkout")
    guest.put(wheels, "/root/wheels")
    for probe in (DISPLAY, SUMP, OWN):
        guest.do("probe", probe, "26.0")
    guest.told("cd /root/checkout && systemd/install --wheels /root/wheels </dev/null")
    scores = []
    for unit in UNITS:
        told = guest.told(f"systemd-analyze security {unit} --no-pager | tail -1")
        scores.append(next((word for word in told.split() if word.replace(".", "").isdigit()), told))
    running = [unit for unit in (GUARD, CUTOFF, LINK) if guest.is_active(unit)]
    if running:
        raise NotHeld(f"running on the examples: {running}")
    return f"{guest.told(f'{PROGRAM} --version')}; exposure {' / '.join(scores)}"


def again(guest: Guest) -> str:
    """Install the same once more, while both programs run."""
    settle(guest)
    before, kept = guest.processes(), guest.told(_SAME)
    said = guest.told("cd /root/checkout && systemd/install --wheels /root/wheels </dev/null")
    if "nothing was changed" not in said or guest.processes() != before or guest.told(_SAME) != kept:
        raise NotHeld(said)
    return "nothing was changed, nothing started anew"


def next_and_back(guest: Guest, wheels: Path) -> str:
    """Install the next version while the cutoff stands tripped, then this one again."""
    settle(guest)
    off_at(guest, RELAY, lambda: _tripped(guest), 30.0)
    # A stop writes what the guard's threads have in hand.
    guest.told(f"systemctl restart {GUARD}")
    guest.wait(lambda: guest.mode() != "", "the guard tells", PATIENCE_S)
    kept, counts = guest.told(_SAME), _counts(guest)
    with tempfile.TemporaryDirectory() as room:
        later = _checkout(Path(room) / "later")
        settings = later / "pyproject.toml"
        text = settings.read_text("utf-8")
        number = re.search(r'^version = "(.*)\.([0-9]+)"$', text, flags=re.MULTILINE)
        if number is None:
            raise NotHeld("pyproject.toml names no version")
        raised = f"{number[1]}.{int(number[2]) + 1}"
        settings.write_text(text.replace(number[0], f'version = "{raised}"'), "utf-8")
        folder = Path(room) / "wheels"
        shutil.copytree(wheels, folder, ignore=shutil.ignore_patterns("reefguard-*"))
        wheel = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", str(folder), str(later)]
        subprocess.run(wheel, check=True)
        guest.put(later, "/root/later")
        guest.put(folder, "/root/later-wheels")
    versions = []
    for checkout, place in (("/root/later", "/root/later-wheels"), ("/root/checkout", "/root/wheels")):
        guest.told(f"cd {checkout} && systemd/install --wheels {place} </dev/null")
        guest.wait(lambda: guest.mode() == "automatic", "the guard holds the tank", 2 * PATIENCE_S)
        versions.append(str(guest.status().get("version")))
        if guest.told(_SAME) != kept:
            raise NotHeld(f"{versions}: {kept} became {guest.told(_SAME)}")
        now = _counts(guest)
        if len(now) != len(counts) or any(a < b for a, b in zip(now, counts, strict=True)):
            raise NotHeld(f"{versions}: {counts} became {now}")
        if "tripped" not in guest.cutoff() or guest.level(RELAY):
            raise NotHeld(f"{versions}: {guest.cutoff()}")
        counts = now
    if raised != versions[0] or versions[0] == versions[1]:
        raise NotHeld(f"{versions}")
    guest.do("probe", OWN, "27.5")
    freed(guest)
    chilling(guest)
    return (
        f"{versions[0]}, then {versions[1]}: settings, latch (tripped) and commissioning record the same; "
        f"events, history and counters go on ({counts[0]} events, {counts[1]} readings)"
    )


def _tripped(guest: Guest) -> float:
    begun_s = guest.now_s()
    guest.do("probe", OWN, "24.0")
    return begun_s


def _counts(guest: Guest) -> list[int]:
    guest.write("/root/counts.py", _GROWS)
    return [int(one) for one in guest.told("python3 /root/counts.py").split()]


def _checkout(room: Path) -> Path:
    room.mkdir()
    packed = subprocess.run(["git", "-C", str(CHECKOUT), "archive", "HEAD"], capture_output=True, check=True)
    subprocess.run(["tar", "-x", "-C", str(room)], input=packed.stdout, check=True)
    return room
