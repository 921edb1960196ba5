"""The latch file: what must survive a restart and a power cut.

    reefguard cutoff latch, version 1
    state: tripped
    cause: too cold
    water: 24.3125 °C
    since: 2031-07-14 03:12:09+02:00
    losses: 9b2c... 4511.25 80012.5
    checksum: 1f0a77c2

A person can read it; nobody should write it.  Anything but exactly what a
clean write leaves counts as unreadable, and an unreadable latch holds cooling
off until a person's reset.  The checksum is CRC-32, against accidents.
"""

import re
import zlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from reefguard.cutoff.durable import empty_in_place, write_durably
from reefguard.cutoff.trip import Cause, Cutoff, Tripped

FILE_NAME: Final = "latch"
_MOST_BYTES: Final = 65_536
_TITLE: Final = "reefguard cutoff latch, version 1"
_NUMBER = r"-?[0-9]+(?:\.[0-9]+)?(?:e[-+][0-9]+)?"
_LATCH = re.compile(
    rf"{_TITLE}\n"
    r"state: (?P<state>clear|tripped)\n"
    r"cause: (?P<cause>[a-z ]+)\n"
    rf"water: (?P<water>{_NUMBER} °C|unknown)\n"
    r"since: (?P<since>[^\n]*)\n"
    rf"losses: (?P<losses>none|(?P<boot>[0-9a-f-]+)(?: {_NUMBER})+)\n"
    r"checksum: [0-9a-f]{8}\n"
)


@dataclass(frozen=True, slots=True)
class Latch:
    """What is remembered.

    Attributes:
        tripped: the trip, or `None` while clear.
        losses_s: when the probe was lost while cooling was permitted, boot clock.
        boot_id: whose boot clock; "" where there are no losses.
        since: the wall clock's time of it, for a person; two latches do not differ by it.
    """

    tripped: Tripped | None = None
    losses_s: tuple[float, ...] = ()
    boot_id: str = ""
    since: str = field(default="", compare=False)

    def losses_in(self, boot_id: str) -> tuple[float, ...]:
        """Return the losses by the clock of `boot_id`; those of another boot count as of its start."""
        return self.losses_s if self.boot_id == boot_id else (0.0,) * len(self.losses_s)


def latch_of(cutoff: Cutoff, boot_id: str, since: str) -> Latch:
    """Return what must be remembered of a cutoff."""
    tripped = cutoff.state if isinstance(cutoff.state, Tripped) else None
    return Latch(tripped, cutoff.losses_s, boot_id if cutoff.losses_s else "", since)


def latch_text(latch: Latch) -> str:
    """Return what the file holds for a latch."""
    tripped = latch.tripped
    body = (
        f"{_TITLE}\n"
        f"state: {'tripped' if tripped else 'clear'}\n"
        f"cause: {tripped.cause.value if tripped else 'none'}\n"
        f"water: {'unknown' if tripped is None or tripped.water_c is None else f'{tripped.water_c!r} °C'}\n"
        f"since: {latch.since}\n"
        f"losses: {' '.join((latch.boot_id, *map(repr, latch.losses_s))) if latch.losses_s else 'none'}\n"
    )
    return f"{body}checksum: {zlib.crc32(body.encode()):08x}\n"


def latch_from_text(text: str) -> Latch | None:
    """Return the latch, or `None` unless the text is exactly what `latch_text` writes."""
    found = _LATCH.fullmatch(text)
    if found is None:
        return None
    latch = Latch(_tripped(found), *_losses(found), found["since"])
    return latch if latch_text(latch) == text else None


def _tripped(found: re.Match[str]) -> Tripped | None:
    causes = {cause.value: cause for cause in Cause}
    if found["state"] == "clear" or found["cause"] not in causes:
        return None
    water = found["water"]
    return Tripped(causes[found["cause"]], None if water == "unknown" else float(water.removesuffix(" °C")))


def _losses(found: re.Match[str]) -> tuple[tuple[float, ...], str]:
    if found["boot"] is None:
        return (), ""
    boot_id, *losses_s = found["losses"].split(" ")
    return tuple(float(loss_s) for loss_s in losses_s), boot_id


def read_latch(directory: Path) -> Latch | None:
    """Return the latch kept in `directory`, or `None` when it is missing or not to be believed."""
    try:
        with (directory / FILE_NAME).open("rb") as file:
            return latch_from_text(file.read(_MOST_BYTES).decode())
    except (OSError, UnicodeDecodeError):
        return None


def write_clear_latch(directory: Path, since: str) -> None:
    """Write a latch that is clear: for the very first start, on a bench or when commissioning.

    Raises:
        OSError: it could not be written.
    """
    _write(directory, Latch(since=since))


def _write(directory: Path, latch: Latch) -> None:
    write_durably(directory / FILE_NAME, latch_text(latch).encode(), 0o644)


class LatchKeeper:
    """Keeps the file like the latch in memory, and keeps trying when it cannot."""

    def __init__(self, directory: Path, on_disk: Latch | None) -> None:
        """Keep the latch in `directory`, which now holds `on_disk`."""
        self._directory = directory
        self._on_disk = on_disk

    def keep(self, latch: Latch) -> str | None:
        """Write the latch if the disk holds another; return what went wrong, in words.

        A trip that cannot be written (a full disk, say) empties the old latch
        instead, which needs no space and holds cooling off at the next start.
        """
        if latch == self._on_disk:
            return None
        try:
            _write(self._directory, latch)
        except OSError as error:
            return self._unwritten(latch, error)
        self._on_disk = latch
        return None

    def _unwritten(self, latch: Latch, error: OSError) -> str:
        said = f"the latch cannot be written ({error.strerror})"
        if latch.tripped is None:
            return f"{said}; after a restart it may hold cooling off until a person resets it"
        try:
            empty_in_place(self._directory / FILE_NAME)
        except FileNotFoundError:
            pass  # a missing latch holds cooling off just as well
        except OSError:
            return f"{said}, nor emptied: the trip holds now, but a restart would forget it"
        self._on_disk = None
        return f"{said}; it has been emptied instead, which holds cooling off after a restart too"
