"""What `reefguard doctor` may know of the machine: plain values, gathered by a shell, judged by pure checks.

Where the shell could not look (no such tool, no such file on this kind of
machine), the value is `None`: the check then says so, and finds nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from reefguard.settings.model import Settings


@dataclass(frozen=True, slots=True)
class Line:
    """One GPIO line: who holds it, by the name they gave the kernel; "" when nobody does."""

    used: bool
    consumer: str = ""


@dataclass(frozen=True, slots=True)
class Device:
    """A file with its permissions.

    Attributes:
        owner: a name, or the number where it has none; `group` alike.
        mode: permission bits.
        shall_be: who must own it, "" for anybody.
    """

    path: str
    owner: str
    group: str
    mode: int
    shall_be: str = ""


@dataclass(frozen=True, slots=True)
class Bus:
    """The 1-wire side, as the kernel shows it.

    Attributes:
        there: whether its directory is.
        masters: how many buses there are; `None` where the directory is not the kernel's.
        powered: by ROM id, whether a probe has its supply wire; `None` where it does not say.
        answers: by ROM id, whether a probe gives a reading; `None` where nobody could ask it.
    """

    there: bool
    masters: int | None
    powered: Mapping[str, bool | None] = field(default_factory=dict)
    answers: Mapping[str, bool | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Disk:
    """Where something is kept."""

    path: str
    free_bytes: int
    read_only: bool


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of the service manager: whether its file is there, and whether it runs and starts at boot."""

    installed: bool
    active: bool
    enabled: bool


@dataclass(frozen=True, slots=True)
class Spoken:
    """What a program last said of itself: whether that is fresh, and what is wrong if it is not."""

    fresh: bool
    why: str


@dataclass(frozen=True, slots=True)
class CutoffFile:
    """The cutoff's own limits file, as far as others may know it."""

    relay_pin: int
    relay_active_high: bool
    probe: str
    status_file: str


@dataclass(frozen=True, slots=True)
class Host:
    """The machine.

    Attributes:
        model: what the board calls itself; "" where it is no Raspberry Pi.
        boot_config: the text of `config.txt`.
        kernel_command_line: as the kernel got it.
        settings: the guard's, or `None` when they cannot be used.
        settings_read: how they were misread, for a person.
        cutoff: its limits file, or `None` when it cannot be used or is elsewhere.
        lines: of the header, by GPIO number.
        chip: the header's device.
        groups: of the system, by name, with their members.
        watchdog_s: of the service manager, 0 when it is off.
        clock_right: whether the wall clock is known to be right.
        disks: where state and records are kept.
        journal_lasts: whether the system's log survives a power cut.
        units: of the service manager, by name.
        guard: what the guard says of itself.
        cutoff_says: the same of the cutoff.
        kept: directories and files whose permissions matter.
        secrets: by channel, what is wrong with its secret, "" for nothing; `None` where only root may look.
    """

    model: str = ""
    boot_config: str | None = None
    kernel_command_line: str = ""
    settings: Settings | None = None
    settings_read: str = ""
    cutoff: CutoffFile | None = None
    bus: Bus | None = None
    lines: Mapping[int, Line] | None = None
    chip: Device | None = None
    groups: Mapping[str, tuple[str, ...]] | None = None
    watchdog_s: float | None = None
    clock_right: bool | None = None
    disks: tuple[Disk, ...] = ()
    journal_lasts: bool | None = None
    units: Mapping[str, Unit] | None = None
    guard: Spoken | None = None
    cutoff_says: Spoken | None = None
    kept: tuple[Device, ...] = ()
    secrets: Mapping[str, str] | None = field(default_factory=dict)

    @property
    def is_pi(self) -> bool:
        """Whether this is a Raspberry Pi."""
        return "Raspberry Pi" in self.model
