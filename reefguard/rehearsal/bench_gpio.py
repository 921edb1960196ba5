"""Pins that are files: a gpiozero pin factory for the bench.

With `GPIOZERO_PIN_FACTORY=bench` and `REEFGUARD_BENCH=DIR`, GPIO17 is two files:

    DIR/gpio/GPIO17      what the program does: `0` or `1` while it drives the pin,
                         a share such as `0.35` while it pulses it, `in` once it lets go
    DIR/gpio/GPIO17.in   what the world does: `0` or `1`, written by another program

Levels are electrical.  A killed program leaves its last level behind, as the
kernels of Raspberry Pi OS do (raspberrypi/linux pull request 6117).
"""

import os
import time
from pathlib import Path
from threading import get_ident
from typing import Final

from gpiozero import PinFixedPull, PinInvalidFunction, PinInvalidPull, PinInvalidState, PinSetInput
from gpiozero.exc import BadPinFactory
from gpiozero.pins import PinInfo
from gpiozero.pins.pi import PiFactory, PiPin

BOARD_REVISION: Final = 0xC03111  # a Raspberry Pi 4B 1.1 with 4 GB
RELEASED: Final = "in"
_DUTY_DECIMALS: Final = 4


class BenchFactory(PiFactory):  # type: ignore[misc]  # gpiozero has no types
    """Pins of a Raspberry Pi 4B, each of them a file under a bench directory."""

    def __init__(self, directory: Path | None = None) -> None:
        """Open the bench in `directory`, or in the one that REEFGUARD_BENCH names.

        Raises:
            BadPinFactory: REEFGUARD_BENCH is not set, or the directory cannot be made.
        """
        super().__init__()
        self.directory = (directory or _bench_directory()) / "gpio"
        try:
            self.directory.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise BadPinFactory(f"the bench directory {self.directory} cannot be made: {error}") from error
        self.pin_class = BenchPin

    def ticks(self) -> float:
        """Return a time for edge events, seconds."""
        return time.monotonic()

    def ticks_diff(self, later: float, earlier: float) -> float:
        """Return the time between two `ticks`, seconds."""
        return later - earlier

    def _get_revision(self) -> int:
        return BOARD_REVISION


def _bench_directory() -> Path:
    named = os.environ.get("REEFGUARD_BENCH")
    if not named:
        raise BadPinFactory(
            "GPIOZERO_PIN_FACTORY is `bench` but REEFGUARD_BENCH is not set; "
            "set it to the bench's directory, or unset both to use the Pi's own pins"
        )
    return Path(named).absolute()


class BenchPin(PiPin):  # type: ignore[misc]  # gpiozero has no types
    """One pin as a file.

    Making one writes nothing: a line keeps its level until a program drives or releases it.
    """

    def __init__(self, factory: BenchFactory, info: PinInfo) -> None:
        super().__init__(factory, info)
        self._driven_file: Path = factory.directory / info.name
        self._world_file: Path = factory.directory / f"{info.name}.in"
        self._function = "input"
        self._pull: str = info.pull or "floating"
        self._frequency: float | None = None
        self._edges = "both"
        self._last_input: bool | None = None

    def close(self) -> None:
        """Stop pulses and let the line go, unless the bench itself is gone."""
        self._frequency = None
        if self._driven_file.parent.is_dir():
            self._set_function("input")

    def output_with_state(self, state: float) -> None:
        """Drive the line at `state` at once: no other level comes before it."""
        self._function = "output"
        self._set_state(state)

    def _get_info(self) -> PinInfo:
        return self._info

    def _get_function(self) -> str:
        return self._function

    def _set_function(self, value: str) -> None:
        if value not in {"input", "output"}:
            raise PinInvalidFunction(f'{self!r} can be "input" or "output", not {value!r}')
        if value == "input":
            self._function = value
            _replace(self._driven_file, RELEASED)
        elif self._function != "output":
            self.output_with_state(self._sensed())

    def _get_state(self) -> float:
        if self._function == "input":
            return self._sensed()
        text = self._driven_file.read_text(encoding="ascii", errors="replace").strip()
        level = _parsed(text)
        if level is None:
            raise OSError(f"{self._driven_file} says {text!r} where a level was written; the line was taken")
        return level if self._frequency is not None else level > 0

    def _set_state(self, value: float) -> None:
        if self._function == "input":
            raise PinSetInput(f"cannot set the state of input {self!r}")
        if not 0 <= value <= 1:
            raise PinInvalidState(f"a level of {self!r} lies between 0 and 1; this is {value!r}")
        _replace(self._driven_file, _worded(value if self._frequency is not None else bool(value)))

    def _sensed(self) -> bool:
        """Return the level the world puts on the line: its file, else the last one, else the pull."""
        try:
            level = _parsed(self._world_file.read_text(encoding="ascii", errors="replace").strip())
        except FileNotFoundError:
            self._last_input = None
        else:
            # A writer that truncates first (a shell's `>`) shows an empty file for an instant.
            self._last_input = self._last_input if level is None else level > 0
        return self._pull == "up" if self._last_input is None else self._last_input

    def _get_frequency(self) -> float | None:
        return self._frequency

    def _set_frequency(self, value: float | None) -> None:
        level = self._get_state()
        self._frequency = value or None
        if self._function == "output":
            # Pulses that end leave a steady level; only full duty counts as high.
            self._set_state(level if self._frequency is not None else level >= 1)

    def _get_pull(self) -> str:
        return self._pull

    def _set_pull(self, value: str) -> None:
        if self._function != "input":
            raise PinFixedPull(f"cannot set the pull of output {self!r}")
        if value not in {"floating", "up", "down"}:
            raise PinInvalidPull(f'{self!r} can be pulled "up", "down" or "floating", not {value!r}')
        if self.info.pull not in {value, ""}:
            raise PinFixedPull(f"{self!r} has a pull-{self.info.pull} resistor on the board")
        self._pull = value

    def _get_edges(self) -> str:
        return self._edges

    def _set_edges(self, value: str) -> None:
        self._edges = value

    def _enable_event_detect(self) -> None:
        """Accept it: a file fires no edges, so a device on the bench is asked for its value."""

    def _disable_event_detect(self) -> None:
        """Nothing was enabled."""


def _parsed(text: str) -> float | None:
    """Return the level that `text` gives, 0 to 1, or `None` when it gives none."""
    try:
        level = float(text)
    except ValueError:
        return None
    return level if 0 <= level <= 1 else None


def _worded(level: float) -> str:
    """Write a level so that both ends are one digit.

    >>> [_worded(level) for level in (0, 0.35, 1.0, True)]
    ['0', '0.35', '1', '1']
    """
    return f"{float(level):.{_DUTY_DECIMALS}f}".rstrip("0").rstrip(".")


def _replace(path: Path, text: str) -> None:
    """Make `path` hold `text`, whatever it held; no reader ever sees it empty."""
    try:
        if path.read_text(encoding="ascii", errors="replace").strip() == text:
            return
    except FileNotFoundError:
        pass  # not driven yet
    beside = path.with_name(f".{path.name}.{os.getpid()}.{get_ident()}")
    beside.write_text(text, encoding="ascii")
    beside.replace(path)
