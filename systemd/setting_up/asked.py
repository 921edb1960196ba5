"""What is changed only after a person at the terminal has said yes: boot configuration, hardware watchdog."""

import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from setting_up import boot_lines
from setting_up.boot_lines import Wanted
from setting_up.machine import Machine, NotDone, Talk, holds, write

# Raspberry Pi OS since Debian 12, and before.
_CONFIGURATIONS: Final = ("/boot/firmware/config.txt", "/boot/config.txt")
WATCHDOG: Final = "/etc/systemd/system.conf.d/reefguard-watchdog.conf"


def boot_configuration(machine: Machine, talk: Talk, cutoff_bus: int, *, dry_run: bool) -> None:
    """Show which lines are missing; add them if a person agrees, and keep a dated copy of what was."""
    place = next((machine.at(one) for one in _CONFIGURATIONS if machine.at(one).is_file()), None)
    if place is None:
        talk.say("boot configuration: there is none here (not a Raspberry Pi); nothing to change")
        return
    # As its own system reads it, byte by byte: what is no UTF-8 comes back as it was.
    text = place.read_bytes().decode("utf-8", errors="surrogateescape")
    missing = boot_lines.missing(text, boot_lines.wanted(cutoff_bus))
    if not missing:
        talk.say(f"boot configuration: {place} has all that is needed")
        return
    talk.say(f"boot configuration: {place} lacks these lines, under [all]:")
    for one in missing:
        talk.say(f"  {one.line:<34}  # {one.why}")
    if dry_run:
        talk.say("  it would ask before it adds them")
    elif talk.agrees("Add them now, and keep a copy of the file as it is?"):
        copy = _add(place, text, missing)
        talk.say(f"  added; as it was: {copy}.  They hold from the next boot on: sudo reboot")
    else:
        talk.say(f"  left as it is; add them with: sudo nano {place}, then: sudo reboot")


def hardware_watchdog(machine: Machine, talk: Talk, *, dry_run: bool) -> None:
    """Offer the drop-in that has the hardware restart a machine that hangs."""
    content = (machine.checkout / "systemd" / "watchdog.conf").read_bytes()
    place = machine.at(WATCHDOG)
    if holds(place, content):
        talk.say("hardware watchdog: in use, 14 s")
        return
    if not machine.at("/dev/watchdog").exists():
        talk.say("hardware watchdog: there is none here")
        return
    talk.say("hardware watchdog: restarts the machine when its kernel or service manager hangs for 14 s")
    if dry_run:
        talk.say(f"  it would ask before it writes {place}")
    elif talk.agrees("Use it?"):
        write(place, content)
        if machine.running:
            machine.systemctl("daemon-reexec")
        talk.say(f"  in use: {place}; see: systemctl show -p RuntimeWatchdogUSec")
    else:
        talk.say(f"  not used; later: sudo install -D -m 644 systemd/watchdog.conf {place}")


def _add(place: Path, text: str, missing: tuple[Wanted, ...]) -> Path:
    stamp = datetime.now(tz=UTC).strftime("%Y-%m-%dT%H-%M-%SZ")  # no colon: the partition is FAT
    copy = place.with_name(f"{place.name}.before-reefguard-{stamp}")
    try:
        shutil.copyfile(place, copy)
        content = boot_lines.with_lines(text, missing).encode("utf-8", errors="surrogateescape")
        write(place, content, 0o755)
    except OSError as error:
        message = f"{place} cannot be changed: {error.strerror or error}; it is as it was"
        raise NotDone(message) from None
    return copy
