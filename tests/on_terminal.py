"""A program on a pseudo-terminal of its own: what it says is read, what a person types is typed."""

import os
import pty
import select
import signal
import subprocess
import time
from collections.abc import Mapping
from typing import Self

DEADLINE_S = 90.0


class Terminal:
    """A running program; `with Terminal(...)` leaves it dead."""

    def __init__(self, *command: str, env: Mapping[str, str] | None = None) -> None:
        self._ours, theirs = pty.openpty()
        self.program = subprocess.Popen(
            command, stdin=theirs, stdout=theirs, stderr=theirs, env=env, start_new_session=True
        )
        os.close(theirs)
        self.seen = ""
        self._read_to = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.program.kill()
        self.program.wait(DEADLINE_S)

    def type(self, text: str) -> None:
        os.write(self._ours, text.encode())

    def answer(self, awaited: str, text: str) -> None:
        """Read on until the question is seen, then type."""
        self.read_until(awaited)
        self.type(f"{text}\n")

    def read_until(self, awaited: str) -> None:
        """Read on until `awaited` was seen; fail if the program ends without it."""
        assert self._read(awaited), f"waited in vain for {awaited!r}:\n{self.seen}"
        self._read_to = self.seen.index(awaited, self._read_to) + len(awaited)

    def _read(self, awaited: str) -> bool:
        deadline = time.monotonic() + DEADLINE_S
        while awaited not in self.seen[self._read_to :]:
            assert time.monotonic() < deadline, f"waited too long for {awaited!r}:\n{self.seen}"
            if not select.select([self._ours], [], [], 0.2)[0]:
                continue
            try:
                self.seen += os.read(self._ours, 4096).decode(errors="replace").replace("\r\n", "\n")
            except OSError:  # the other end is closed
                return False
        return True

    def interrupt(self) -> None:
        """Press Ctrl-C."""
        self.program.send_signal(signal.SIGINT)
        # An interrupt between the question and the wait for its answer is noticed with the next key.
        self.type("\n")

    def close(self) -> int:
        """Read on to the end; return the exit code."""
        self._read("\0")
        code = self.program.wait(DEADLINE_S)
        os.close(self._ours)
        return code
