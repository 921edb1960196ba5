"""Gathers what `reefguard doctor` judges: reads files, asks the service manager, changes nothing."""

import os
import re
import stat
import subprocess
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from reefguard.cli.status import look
from reefguard.cli.status_page import is_number
from reefguard.cli.wire import within_deadline
from reefguard.commissioning.host import Bus, CutoffFile, Device, Disk, Host, Line, Spoken, Unit
from reefguard.cutoff.limits_file import read_limits_file
from reefguard.cutoff.status import SILENT_AFTER_S
from reefguard.guard.settings_source import Bad, from_file
from reefguard.hardware.gpio import PI_CHIP_LABELS, label_of
from reefguard.hardware.line_info import holders
from reefguard.hardware.ports import Clock
from reefguard.link.secrets import NoSecret, Secrets
from reefguard.records import status_file
from reefguard.records.status_file import NoStatus
from reefguard.settings.model import Settings

_UNITS: Final = ("reefguard", "reefguard-cutoff", "reefguard-link")
_CONFIGS: Final = ("boot/firmware/config.txt", "boot/config.txt")
_SPAN: Final = re.compile(r"([0-9.]+)(us|ms|s|min|h|d)")
_UNIT_S: Final = {"us": 1e-6, "ms": 1e-3, "s": 1.0, "min": 60.0, "h": 3600.0, "d": 86_400.0}

# A command's output, or `None` when there is no such command or it failed.
Run = Callable[[Sequence[str]], str | None]
# A chip's label, and who holds its lines.
Chip = tuple[str, Mapping[int, str | None]]


def run_command(command: Sequence[str]) -> str | None:
    """Run a command that only asks."""
    try:
        done = subprocess.run(  # noqa: S603  our own words, no shell
            list(command), capture_output=True, encoding="utf-8", errors="replace", timeout=10.0, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        return None
    return done.stdout if done.returncode == 0 else None


def ask_chip(device: Path) -> Chip | None:
    """Ask a GPIO chip; `None` when it cannot be asked."""
    try:
        return label_of(device), holders(device)
    except OSError:
        return None


@dataclass(frozen=True, slots=True)
class Gatherer:
    """Where to look.

    Attributes:
        root: of the file system; `/` on a living machine.
        settings_file: the guard's, as it is named on that machine.
        limits_file: the cutoff's.
        clock: the machine's.
        run: asks the service manager.
        ask_chip: asks a GPIO chip.
    """

    root: Path
    settings_file: Path
    limits_file: Path
    clock: Clock
    run: Run = run_command
    ask_chip: Callable[[Path], Chip | None] = ask_chip

    def host(self) -> Host:
        """Return all that can be seen from here."""
        outcome = from_file(self._at(self.settings_file))
        settings = None if isinstance(outcome, Bad) else outcome.settings
        cutoff = self._cutoff()
        units = self._units()
        chip, lines = self._chip()
        return Host(
            model=self._text("proc/device-tree/model").rstrip("\0\n"),
            boot_config=next(
                (text for name in _CONFIGS if (text := self._maybe_text(name)) is not None), None
            ),
            kernel_command_line=self._text("proc/cmdline"),
            settings=settings,
            settings_read=outcome.report if isinstance(outcome, Bad) else "",
            cutoff=cutoff,
            bus=None if settings is None else self._bus(settings),
            lines=lines,
            chip=chip,
            groups=self._groups(),
            watchdog_s=self._watchdog_s(),
            clock_right=self._clock_right(settings),
            disks=self._disks(settings),
            journal_lasts=self._journal_lasts(),
            units=units,
            guard=None if settings is None else self._guard(settings),
            cutoff_says=None if cutoff is None else self._cutoff_says(Path(cutoff.status_file)),
            kept=self._kept(settings, units),
            secrets={} if settings is None else self._secrets(settings),
        )

    def _at(self, path: Path | str) -> Path:
        return self.root / str(path).lstrip("/")

    def _maybe_text(self, name: str) -> str | None:
        try:
            return self._at(name).read_text(encoding="utf-8", errors="replace")
        except OSError:
            return None

    def _text(self, name: str) -> str:
        return self._maybe_text(name) or ""

    def _cutoff(self) -> CutoffFile | None:
        setup = read_limits_file(self._at(self.limits_file))
        if isinstance(setup, list):
            return None
        return CutoffFile(
            setup.relay.pin,
            setup.relay.active_high,
            setup.probe,
            str(Path(setup.runtime_directory) / status_file.FILE_NAME),
        )

    def _bus(self, settings: Settings) -> Bus:
        directory = self._at(settings.one_wire_directory)
        try:
            names = sorted(path.name for path in directory.iterdir())
        except OSError:
            return Bus(there=False, masters=None)
        masters = [name for name in names if name.startswith("w1_bus_master")]
        kernels = settings.one_wire_directory == "/sys/bus/w1/devices"
        probes = [name for name in names if re.fullmatch(r"[0-9a-f]{2}-[0-9a-f]{12}", name)]
        return Bus(
            there=True,
            masters=len(masters) if kernels else None,
            powered={name: _is_powered(directory / name) for name in probes},
            answers={name: _answers(directory / name) for name in probes},
        )

    def _chip(self) -> tuple[Device | None, Mapping[int, Line] | None]:
        refused: list[Path] = []
        for device in sorted(self._at("dev").glob("gpiochip*")):
            asked = self.ask_chip(device)
            if asked is None:
                refused.append(device)
            elif asked[0] in PI_CHIP_LABELS:
                lines = {pin: Line(held is not None, held or "") for pin, held in asked[1].items()}
                return self._device(device, f"/dev/{device.name}"), lines
        # One that this person may not ask is a finding of its own.
        return (self._device(refused[0], f"/dev/{refused[0].name}") if refused else None), None

    def _device(self, path: Path, name: str, shall_be: str = "") -> Device | None:
        try:
            found = path.stat()
        except OSError:
            return None
        owner = _name_in(self._text("etc/passwd"), found.st_uid)
        group = _name_in(self._text("etc/group"), found.st_gid)
        return Device(name, owner, group, stat.S_IMODE(found.st_mode), shall_be)

    def _groups(self) -> Mapping[str, tuple[str, ...]] | None:
        text = self._maybe_text("etc/group")
        if text is None:
            return None
        rows = [line.split(":") for line in text.splitlines() if line.count(":") == 3]
        return {row[0]: tuple(one for one in row[3].split(",") if one) for row in rows}

    def _watchdog_s(self) -> float | None:
        said = self.run(("systemctl", "show", "--value", "-p", "RuntimeWatchdogUSec"))
        return None if said is None else span_s(said.strip())

    def _clock_right(self, settings: Settings | None) -> bool:
        return self.clock.wall().trusted or (settings is not None and settings.clock_always_right)

    def _disks(self, settings: Settings | None) -> tuple[Disk, ...]:
        if settings is None:
            return ()
        place = self._at(settings.state_directory)
        while not _may_be_there(place) and place != self.root:
            place = place.parent
        try:
            found = os.statvfs(place)
        except OSError:
            return ()
        free_bytes = found.f_bavail * found.f_frsize
        return (Disk(settings.state_directory, free_bytes, bool(found.f_flag & os.ST_RDONLY)),)

    def _journal_lasts(self) -> bool | None:
        with suppress(OSError):
            if self._at("var/log/journal").is_dir():
                return True
            return False if self._at("run/log/journal").is_dir() else None
        return None

    def _units(self) -> Mapping[str, Unit] | None:
        units = {}
        for name in _UNITS:
            said = self.run(("systemctl", "show", "-p", "LoadState,ActiveState,UnitFileState", name))
            if said is None:
                return None
            state = dict(line.split("=", 1) for line in said.splitlines() if "=" in line)
            units[name] = Unit(
                installed=state.get("LoadState") == "loaded",
                active=state.get("ActiveState") == "active",
                enabled=state.get("UnitFileState") == "enabled",
            )
        return units

    def _guard(self, settings: Settings) -> Spoken:
        report = look(self._at(settings.runtime_directory) / status_file.FILE_NAME, self.clock)
        fresh = bool(report.status) and not report.silent and report.age_s is not None
        return Spoken(fresh, report.headline.partition(" - ")[2])

    def _cutoff_says(self, path: Path) -> Spoken:
        said = status_file.read(self._at(path))
        if isinstance(said, NoStatus):
            return Spoken(fresh=False, why=said.why)
        written_s = said.get("written_s")
        of_now = said.get("boot_id") == self.clock.boot_id()
        age_s = self.clock.boot_s() - written_s if of_now and is_number(written_s) else None
        if age_s is None or self.clock.real_seconds(age_s) > SILENT_AFTER_S or said.get("state") == "stopped":
            return Spoken(
                fresh=False, why="the cutoff is silent, or has been stopped: it holds the chiller off"
            )
        return Spoken(fresh=True, why=str(said.get("why", "")))

    def _kept(self, settings: Settings | None, units: Mapping[str, Unit] | None) -> tuple[Device, ...]:
        served = units is not None and any(unit.installed for unit in units.values())
        wanted: dict[str, str] = {str(self.settings_file): "", str(self.limits_file): ""}
        if settings is not None:
            wanted[settings.state_directory] = "reefguard" if served else ""
            wanted[settings.runtime_directory] = ""
        found = (self._device(self._at(name), name, shall_be) for name, shall_be in wanted.items())
        return tuple(one for one in found if one is not None)

    def _secrets(self, settings: Settings) -> Mapping[str, str] | None:
        link = settings.link
        if link is None:
            return {}
        named = {f"channel {one.name}": one.secret for one in link.channels}
        if link.heartbeat is not None:
            named["the heartbeat"] = link.heartbeat.secret
        if link.broker is not None and link.broker.secret is not None:
            named["the broker"] = link.broker.secret
        directory = self._at(link.secrets_directory)
        if _may_be_there(directory) and not os.access(directory, os.X_OK):
            return None  # only root may look
        secrets = Secrets(directory, {})
        wrong = dict.fromkeys(named, "")
        for name, secret in named.items():
            try:
                secrets.lines(secret)
            except NoSecret as error:
                wrong[name] = str(error)
        return wrong


def span_s(text: str) -> float | None:
    """Return a length of time as the service manager writes it (systemd.time(7)), seconds.

    >>> [span_s(text) for text in ("14s", "1min 30s", "0", "infinity", "?")]
    [14.0, 90.0, 0.0, inf, None]
    """
    if text in {"0", "infinity"}:
        return float(text.replace("infinity", "inf"))
    parts = _SPAN.findall(text)
    if not parts or "".join(number + unit for number, unit in parts) != text.replace(" ", ""):
        return None
    return sum(float(number) * _UNIT_S[unit] for number, unit in parts)


def _may_be_there(path: Path) -> bool:
    """Return whether a path is there, or this person may not see whether it is."""
    try:
        path.stat()
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError:
        return True
    return True


def _is_powered(probe: Path) -> bool | None:
    """Return whether a probe has its supply wire: the kernel's `ext_power` (w1_therm.rst), 0 is parasite."""
    with suppress(OSError):
        said = (probe / "ext_power").read_text(encoding="ascii", errors="replace").strip()
        return {"0": False, "1": True}.get(said)
    return None


def _answers(probe: Path) -> bool | None:
    """Return whether a probe gives a reading; one whose bus hangs gives none."""
    file = probe / "w1_slave"
    if not file.exists():
        return None

    def read() -> bool:
        try:
            return "YES" in file.read_text(encoding="ascii", errors="replace")
        except OSError:
            return False

    return within_deadline(read) or False


def _name_in(table: str, number: int) -> str:
    """Return the name of a number in /etc/passwd or /etc/group."""
    for line in table.splitlines():
        fields = line.split(":")
        if len(fields) > 2 and fields[2] == str(number):
            return fields[0]
    return str(number)
