"""Keeps an eye on the record of proof tests, in the background: a tick waits for no disk."""

import threading
from contextlib import suppress
from pathlib import Path
from typing import Final

from reefguard.commissioning.record import proof_tests
from reefguard.hardware.ports import Clock
from reefguard.records import commissioning_log
from reefguard.vocabulary import ProofTests

_LOOK_EVERY_S: Final = 60.0


class ProofTestWatch:
    """One thread that reads the record again once a minute."""

    def __init__(self, directory: Path, clock: Clock) -> None:
        """Begin: make the directory, so that persons can write there, and read what it holds."""
        self._directory = directory
        self._pause_s = clock.real_seconds(_LOOK_EVERY_S)
        self._known: ProofTests | None = None
        self._waiting = threading.Event()
        threading.Thread(target=self._run, name="proof tests", daemon=True).start()

    def latest(self) -> ProofTests | None:
        """Return what is on record, `None` before it was first looked at; never waits."""
        return self._known

    def _run(self) -> None:
        with suppress(OSError):
            commissioning_log.prepare(self._directory)
        while True:
            try:
                self._known = proof_tests(commissioning_log.read(self._directory))
            except OSError:
                # Known once, it stays known; never read, nothing is proven.
                self._known = self._known or ProofTests()
            self._waiting.wait(self._pause_s)
