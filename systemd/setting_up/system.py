"""Users and groups, files and directories, services: in the order they are needed."""

import grp
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Final, NamedTuple

from setting_up.machine import Change, Machine, holds, write
from setting_up.program import ERRORS, HOME, LINK, imports

SETTINGS: Final = "/etc/reefguard"
GROUPS: Final = ("reefguard", "reefguard-keeper", "reefguard-cutoff")
SYSUSERS: Final = "/etc/sysusers.d/reefguard.conf"
RULES: Final = "/etc/udev/rules.d/60-reefguard.rules"
UNITS_IN: Final = "/etc/systemd/system"


class Service(NamedTuple):
    """A unit, the settings it runs on, and how they are checked."""

    unit: str
    settings: str
    check: tuple[str, ...]


# The cutoff first: the guard takes the chiller off when it is silent.
SERVICES: Final = (
    Service("reefguard-cutoff.service", "cutoff.yaml", ("cutoff", "check")),
    Service("reefguard.service", "reefguard.yaml", ("check",)),
    Service("reefguard-link.service", "reefguard.yaml", ("check",)),
)


def users(machine: Machine) -> Iterator[Change]:
    """The programs' users, and the groups that say who may do what."""
    source, place = machine.checkout / "systemd" / "sysusers.conf", machine.at(SYSUSERS)
    content = source.read_bytes()
    if not holds(place, content):
        root = () if machine.whole else (f"--root={machine.root}",)
        # The file last: where it stands, the users are there.
        yield Change(
            "make the users reefguard, reefguard-cutoff and reefguard-link, and their groups",
            lambda: machine.run("systemd-sysusers", *root, source),
        )
        yield Change(
            f"write {place}, which makes them again should they be lost", lambda: write(place, content)
        )
    person = machine.person
    if machine.whole and person is not None:
        lacking = [group for group in GROUPS if person not in _members(group)]
        if lacking:
            yield Change(
                f"let {person} read events, acknowledge alarms and reset the cutoff, from the next login on: "
                f"groups {', '.join(lacking)}",
                lambda: machine.run("usermod", "--append", "--groups", ",".join(lacking), person),
            )


def files(machine: Machine) -> Iterator[Change]:
    """The units, the rule for the probes, and example settings, which replace nothing.

    State and runtime directories are made by the service manager, as the units say.
    """
    here = machine.checkout / "systemd"
    rule, rule_content = machine.at(RULES), (here / "60-reefguard.rules").read_bytes()
    if not holds(rule, rule_content):
        yield Change(
            f"write {rule}: a probe's power-on 85 °C is refused; the pins are the group gpio's",
            lambda: write(rule, rule_content),
        )
        if machine.running:
            yield Change("have the rule followed for what is there already", lambda: _apply_rules(machine))
    for service in SERVICES:
        unit, content = machine.at(f"{UNITS_IN}/{service.unit}"), (here / service.unit).read_bytes()
        if not holds(unit, content):
            yield Change(f"write {unit}", partial(_put_unit, machine, unit, content, service))
    secrets = machine.at(f"{SETTINGS}/secrets")
    if not secrets.is_dir():
        yield Change(
            f"make {secrets}, for the link's addresses: nobody but root reads it", lambda: _private(secrets)
        )
    for name in ("reefguard.yaml", "cutoff.yaml"):
        place, example = machine.at(f"{SETTINGS}/{name}"), (here / "examples" / name).read_bytes()
        if not place.exists():
            yield Change(
                f"write {place}: an example that switches nothing until it is yours",
                partial(write, place, example),
            )


def services(machine: Machine) -> Iterator[Change]:
    """Start at each boot what can be started, and now, where that changes something."""
    if machine.running:
        machine.touched |= {one.unit for one in SERVICES if _is_behind(machine, one.unit)}
    if machine.running and machine.touched:
        yield Change("have the service manager read the units", lambda: machine.systemctl("daemon-reload"))
    for service in SERVICES:
        if service.unit == "reefguard-link.service" and not _speaks_of_a_link(machine):
            continue
        name = service.unit.removesuffix(".service")
        if not _enabled(machine, service.unit):
            yield Change(f"start {name} at each boot", partial(machine.systemctl, "enable", service.unit))
        if not machine.running or not _ready(machine, service):
            continue
        active = machine.succeeds("systemctl", "is-active", "--quiet", service.unit)
        if not active or service.unit in machine.touched:
            rest = "; the compressor rests its minimum off time" if active and "link" not in name else ""
            yield Change(
                f"{'restart' if active else 'start'} {name}{rest}",
                partial(machine.systemctl, "restart", service.unit),
            )


def _is_behind(machine: Machine, unit: str) -> bool:
    """Return whether an older unit or an older program is in use: an installation was cut short."""
    told = dict(
        line.partition("=")[::2]
        for line in machine.run("systemctl", "show", "--property=NeedDaemonReload,MainPID", unit).splitlines()
    )
    if told.get("NeedDaemonReload") == "yes":
        return True
    try:
        runs = Path(f"/proc/{told.get('MainPID', '0')}/cmdline").read_bytes().decode(errors="replace")
    except OSError:
        return False
    return f"/{machine.at(LINK).resolve().parents[1].relative_to(machine.at(HOME))}/" not in runs


def left_to_do(machine: Machine) -> list[str]:
    """Return what the keeper must still do, in words."""
    words = []
    if not imports(machine, machine.at(LINK).resolve().parent / "python", "lgpio"):
        words.append(
            "there is no library for pins here (lgpio), so only a bench can be held; on a Raspberry Pi: "
            "sudo apt-get install python3-lgpio"
        )
    for service in SERVICES[:2]:
        if not _ready(machine, service):
            check = " ".join(("reefguard", *service.check))
            restart = f"sudo systemctl restart {service.unit.removesuffix('.service')}"
            words.append(
                f"put your own values into {SETTINGS}/{service.settings}, until `{check}` finds no error "
                f"(nothing is switched before), then: {restart}"
            )
    if not _speaks_of_a_link(machine):
        words.append(
            f"have alarms reach you: a channel under `link:` in {SETTINGS}/reefguard.yaml, as the README "
            "says under Being told; until then nobody is told"
        )
    return words


def _ready(machine: Machine, service: Service) -> bool:
    """Return whether its settings are free of errors: an example's are not."""
    link, file = machine.at(LINK), machine.at(f"{SETTINGS}/{service.settings}")
    return file.exists() and machine.exit_code(link, *service.check, file) < ERRORS


def _speaks_of_a_link(machine: Machine) -> bool:
    try:
        text = machine.at(f"{SETTINGS}/reefguard.yaml").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return False
    return any(line.startswith("link:") for line in text.splitlines())


def _enabled(machine: Machine, unit: str) -> bool:
    return machine.at(f"{UNITS_IN}/multi-user.target.wants/{unit}").is_symlink()


def _put_unit(machine: Machine, place: Path, content: bytes, service: Service) -> None:
    write(place, content)
    machine.touched.add(service.unit)


def _private(directory: Path) -> None:
    directory.mkdir(parents=True, exist_ok=True)
    directory.chmod(0o700)


def _apply_rules(machine: Machine) -> None:
    # Without a running udev, as in a container, they are followed from the next boot on.
    machine.succeeds("udevadm", "control", "--reload")
    for subsystem in ("w1", "gpio"):
        machine.succeeds("udevadm", "trigger", "--action=add", f"--subsystem-match={subsystem}")


def _members(group: str) -> list[str]:
    try:
        return grp.getgrnam(group).gr_mem
    except KeyError:
        return []
