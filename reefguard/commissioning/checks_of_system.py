"""Checks of the system and of the programs on it.  Each finds one kind of thing."""

from collections.abc import Iterator
from typing import Final

from reefguard.commissioning.host import CutoffFile, Host
from reefguard.settings.model import Settings
from reefguard.vocabulary import Finding, Severity

# The guard writes 2 to 3 MB a day (as measured); an upgrade of the system wants more (common practice).
_ENOUGH_FREE_BYTES: Final = 200_000_000
_LINK: Final = "reefguard-link"


def settings(host: Host) -> Iterator[Finding]:
    """The settings can be used."""
    if host.settings is None:
        yield Finding(
            Severity.CRITICAL, "settings", host.settings_read, "run `reefguard check`, and mend the file"
        )


def probes(host: Host) -> Iterator[Finding]:
    """Every probe that is named is on a bus, answers, and has its supply wire."""
    if host.bus is None or host.settings is None:
        return
    if not host.bus.there:
        yield Finding(
            Severity.CRITICAL,
            "probes",
            f"{host.settings.one_wire_directory} is not there: the kernel has no 1-wire bus",
            "add `dtoverlay=w1-gpio` to /boot/firmware/config.txt, and restart the Pi",
        )
        return
    named = {probe.rom_id: f"probe {probe.name}" for probe in host.settings.water_probes}
    if host.settings.room_air is not None:
        named[host.settings.room_air.rom_id] = "the room's probe"
    if host.cutoff is not None:
        named[host.cutoff.probe] = "the cutoff's probe"
    for rom_id, name in named.items():
        if rom_id not in host.bus.powered:
            yield Finding(
                Severity.CRITICAL,
                "probes",
                f"{name} ({rom_id}) is on no bus",
                "look at its plug and cable, and compare its id with what `reefguard probes` lists",
            )
        elif host.bus.answers.get(rom_id) is False:
            # The kernel goes on listing a probe for a while after it has gone.
            yield Finding(
                Severity.CRITICAL,
                "probes",
                f"{name} ({rom_id}) gives no reading",
                "look at its plug and cable; `reefguard probes` says what came instead",
            )
        elif host.bus.powered[rom_id] is False:
            yield Finding(
                Severity.WARNING,
                "probes",
                f"{name} ({rom_id}) runs on parasite power: short of it, a chip reads 85 °C, or worse",
                "connect its supply wire to 3.3 V",
            )
    yield from _shared_probe(host.settings, host.cutoff)


def _shared_probe(settings: Settings, cutoff: CutoffFile | None) -> Iterator[Finding]:
    for probe in settings.water_probes:
        if cutoff is not None and probe.rom_id == cutoff.probe:
            yield Finding(
                Severity.CRITICAL,
                "probes",
                f"probe {probe.name} is the cutoff's too: one probe that reads high would mislead both",
                "give the cutoff a probe of its own",
            )


def permissions(host: Host) -> Iterator[Finding]:
    """Who shall write may, and nobody else reads what is secret."""
    for one in host.kept:
        if one.mode & 0o002:
            yield Finding(
                Severity.CRITICAL,
                "permissions",
                f"{one.path} may be written by everybody (mode {one.mode:o})",
                f"sudo chmod o-w {one.path}",
            )
        if one.shall_be not in {"", one.owner}:
            yield Finding(
                Severity.CRITICAL,
                "permissions",
                f"{one.path} belongs to {one.owner}, so {one.shall_be} cannot write there",
                f"sudo chown -R {one.shall_be}: {one.path}",
            )


def clock(host: Host) -> Iterator[Finding]:
    """The wall clock is known to be right."""
    if host.clock_right is False:
        yield Finding(
            Severity.WARNING,
            "clock",
            "the clock is not known to be right: the lights' hours are not followed, records are misdated",
            "connect the network, or fit a battery-backed clock and say `clock: always right`",
        )


def disk(host: Host) -> Iterator[Finding]:
    """What must last can be written."""
    for one in host.disks:
        if one.read_only:
            yield Finding(
                Severity.CRITICAL,
                "disk",
                f"{one.path} is read-only: nothing can be kept",
                "see `dmesg` for errors of the card, and replace it; else take `ro` out of /etc/fstab",
            )
        elif one.free_bytes < _ENOUGH_FREE_BYTES:
            yield Finding(
                Severity.WARNING,
                "disk",
                f"{one.path} has {one.free_bytes / 1e6:.0f} MB left",
                "free space: `sudo apt clean`, `sudo journalctl --vacuum-size=50M`",
            )


def journal(host: Host) -> Iterator[Finding]:
    """The system's log outlives a power cut."""
    if host.journal_lasts is False:
        yield Finding(
            Severity.WARNING,
            "journal",
            "the system's log is kept in memory only: after a power cut nobody can read what came before it "
            "(the guard's own events are kept all the same)",
            "sudo mkdir -p /var/log/journal && sudo systemctl restart systemd-journald",
        )


def units(host: Host) -> Iterator[Finding]:
    """The services run, and start with the Pi."""
    if host.units is None:
        return
    if host.is_pi and not any(unit.installed for unit in host.units.values()):
        yield Finding(
            Severity.CRITICAL, "units", "the services are not installed", "run `sudo systemd/install`"
        )
    speaks_of_a_link = host.settings is not None and host.settings.link is not None
    for name, unit in host.units.items():
        # Without a `link` in the settings the link ends with 78; that nobody is told is a finding of its own.
        if not unit.installed or (name == _LINK and not speaks_of_a_link):
            continue
        lost = "nobody would be told" if name == _LINK else "nothing would guard"
        if not unit.active:
            yield Finding(
                Severity.CRITICAL,
                "units",
                f"{name} does not run",
                f"sudo systemctl start {name}, and see `journalctl -u {name}`",
            )
        if not unit.enabled:
            yield Finding(
                Severity.WARNING,
                "units",
                f"{name} does not start with the Pi: after a power cut {lost}",
                f"sudo systemctl enable {name}",
            )


def guard(host: Host) -> Iterator[Finding]:
    """The guard holds the tank."""
    if host.guard is not None and not host.guard.fresh:
        yield Finding(
            Severity.CRITICAL,
            "guard",
            host.guard.why,
            "start it: sudo systemctl start reefguard, and see `reefguard status`",
        )


def _place(path: str) -> str:
    # One and the same since long: hier(7), file-hierarchy(7).
    return f"/run{path.removeprefix('/var/run')}" if path.startswith("/var/run/") else path


def cutoff(host: Host) -> Iterator[Finding]:
    """The cutoff can be heard, and it is the one that the guard listens to."""
    chiller = None if host.settings is None else host.settings.chiller
    if chiller is None or chiller.cutoff_status is None:
        return
    if host.cutoff is None:
        yield Finding(
            Severity.CRITICAL,
            "cutoff",
            "the cutoff's limits file cannot be used: the chiller is held off",
            "run `reefguard cutoff check`, and mend the file",
        )
    elif _place(host.cutoff.status_file) != _place(chiller.cutoff_status):
        yield Finding(
            Severity.CRITICAL,
            "cutoff",
            f"the guard listens at {chiller.cutoff_status}, "
            f"and the cutoff speaks at {host.cutoff.status_file}",
            "make `chiller.cutoff` and the cutoff's `runtime_directory` agree",
        )
    elif host.cutoff_says is not None and not host.cutoff_says.fresh:
        yield Finding(
            Severity.CRITICAL,
            "cutoff",
            host.cutoff_says.why,
            "start it: sudo systemctl start reefguard-cutoff, and see `reefguard cutoff status`",
        )


def channels(host: Host) -> Iterator[Finding]:
    """Somebody can be told."""
    link = None if host.settings is None else host.settings.link
    if link is None or not (link.channels or link.heartbeat or link.broker):
        if host.settings is not None:
            yield Finding(
                Severity.WARNING,
                "channels",
                "nobody is told of an alarm: the settings name no channel",
                "write one under `link.channels`, then run `sudo reefguard alert-test`",
            )
        return
    for name, why in (host.secrets or {}).items():
        if why:
            yield Finding(
                Severity.CRITICAL,
                "channels",
                f"{name}: {why}",
                "mend that, then run `sudo reefguard alert-test`",
            )


CHECKS: Final = {
    "settings": settings,
    "probes": probes,
    "permissions": permissions,
    "clock": clock,
    "disk": disk,
    "journal": journal,
    "services": units,
    "guard": guard,
    "cutoff": cutoff,
    "channels": channels,
}
