"""The cutoff's relay: energised means cooling may run.

Built on an explicitly chosen pin factory, never on whichever works: see
DEVELOPERS.md, "No fallback for hardware".
"""

import contextlib
import importlib
import json
import tempfile
from collections.abc import Mapping
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any, Final

from gpiozero import OutputDevice

from reefguard.cutoff.durable import write_durably
from reefguard.cutoff.limits import RelayWiring

RECORD_NAME: Final = "relay.json"


class RelayError(Exception):
    """The relay cannot be driven: what, and how to mend it."""

    def __init__(self, what: str, mend: str) -> None:
        super().__init__(f"{what}\n  mend: {mend}")


class _HeldOutput(OutputDevice):  # type: ignore[misc]  # gpiozero has no types
    """An output that never lets go of its line: a line let go floats.

    gpiozero closes a device when its last reference dies.
    """

    def close(self) -> None:
        """Keep the line and its level."""


class Relay:
    """One relay on one pin, off from the first moment."""

    def __init__(self, wiring: RelayWiring, factory: Any) -> None:  # noqa: ANN401  gpiozero has no types
        """Claim the pin with the relay off.

        Raises:
            RelayError: the pin cannot be had.
        """
        self._name = f"GPIO{wiring.pin}"
        try:
            self._output = _HeldOutput(self._name, active_high=wiring.active_high, pin_factory=factory)
        except Exception as error:  # pin libraries let out errors of their own
            raise RelayError(
                f"{self._name} cannot be driven: {error}",
                f"see that no other program uses {self._name} (`gpioinfo` names its user) and that the "
                "settings of the guard name another pin",
            ) from error

    def drive(self, *, on: bool) -> None:
        """Set the pin's level, whether or not it already stands there.

        Raises:
            RelayError: the pin did not take it.
        """
        try:
            self._output.value = on
        except Exception as error:  # pin libraries let out errors of their own
            raise RelayError(
                f"{self._name} does not take a level any more: {error}",
                "restart the cutoff; if it stays, the Pi",
            ) from error


def open_factory(environ: Mapping[str, str]) -> Any:  # noqa: ANN401  gpiozero has no types
    """Return the pin factory that GPIOZERO_PIN_FACTORY names, else the Pi's own lines.

    Raises:
        RelayError: there is none, or it cannot be opened.
    """
    name = environ.get("GPIOZERO_PIN_FACTORY", "lgpio")
    try:
        if name == "lgpio":
            return _own_lines()
        found = tuple(entry_points(group="gpiozero_pin_factories", name=name))
        if found:
            return found[0].load()()
    except ModuleNotFoundError as error:
        raise RelayError(
            f"the library {error.name} is not installed", "install it: sudo apt install python3-lgpio"
        ) from error
    except Exception as error:  # pin libraries let out errors of their own
        raise RelayError(
            f"the GPIO lines cannot be opened: {error}",
            "run it on a Raspberry Pi as a user of group gpio (`sudo usermod -aG gpio NAME`)",
        ) from error
    raise RelayError(
        f"GPIOZERO_PIN_FACTORY names {name!r}, which is not installed", "unset it, to use the Pi's own lines"
    )


def _own_lines() -> Any:  # noqa: ANN401  gpiozero has no types
    """Load the library for the Pi's own lines where the FIFO that it makes can be made, and is swept up."""
    with tempfile.TemporaryDirectory() as somewhere, contextlib.chdir(somewhere):
        pi_lines = importlib.import_module("reefguard.cutoff.pi_lines")
    return pi_lines.CutoffFactory()


def record_relay(directory: Path, wiring: RelayWiring) -> None:
    """Note which pin is the relay's and which level is off, for `drop_last_known`.

    Raises:
        OSError: it could not be written.
    """
    record = {"pin": wiring.pin, "off_level": int(not wiring.active_high)}
    write_durably(directory / RECORD_NAME, f"{json.dumps(record)}\n".encode(), 0o644)


def recorded_relay(directory: Path) -> RelayWiring | None:
    """Return the relay last driven, or `None` when nothing believable is noted."""
    try:
        record = json.loads((directory / RECORD_NAME).read_bytes())
    except (OSError, ValueError, RecursionError):
        return None
    match record:
        case {"pin": int(pin), "off_level": 0 | 1 as off_level} if 0 <= pin <= 27:
            return RelayWiring(pin=pin, active_high=off_level == 0)
    return None


def drop_last_known(directory: Path, environ: Mapping[str, str]) -> str:
    """Drive the relay last driven to its off level; return what was done, in words.

    Needs no readable limits file: it is what runs when everything else failed.

    Raises:
        RelayError: the relay is known, but cannot be driven.
    """
    wiring = recorded_relay(directory)
    if wiring is None:
        return f"no relay was driven: none is noted in {directory / RECORD_NAME}"
    Relay(wiring, open_factory(environ)).drive(on=False)
    return f"relay on GPIO{wiring.pin} dropped: cooling is held off"
