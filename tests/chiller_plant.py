"""A chiller on a bench whose running feedback is wired: it runs while current can flow to it."""

import threading
from contextlib import suppress
from pathlib import Path
from typing import Self

from bench_rig import Rig

from reefguard.rehearsal.bench import CHILLER, CUTOFF

FEEDBACK = 24


class ChillerPlant:
    """While in a `with`, drives the feedback's pin as the chiller would.

    Attributes:
        welded: pins whose relays' contacts are stuck shut.
        cold_enough: whether its own thermostat holds it off.
    """

    def __init__(self, rig: Rig) -> None:
        self._rig = rig
        self._input = Path(rig.bench.directory / "gpio" / f"GPIO{FEEDBACK}.in")
        self.welded: set[int] = set()
        self.cold_enough = False
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> Self:
        self._input.write_text("0", encoding="ascii")
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def runs(self) -> bool:
        """Return whether current flows: both contacts are closed, or stuck, and its thermostat wants it."""
        return not self.cold_enough and all(
            pin in self.welded or self._rig.pin(pin) == "1" for pin in (CHILLER, CUTOFF)
        )

    def _run(self) -> None:
        shown = False
        while not self._over.wait(0.01):
            with suppress(OSError):
                if self.runs() != shown:
                    shown = not shown
                    beside = self._input.with_suffix(".new")
                    beside.write_text("1" if shown else "0", encoding="ascii")
                    beside.replace(self._input)
