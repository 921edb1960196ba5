"""What a person or the service manager asks for by signals.

The interpreter notes each signal in a pipe, and the pipe is read between two
ticks.  Nothing of ours runs in a handler: one comes in the middle of anything,
and a lock that it would need may be held by what it interrupts.
"""

import os
import select
import signal
import time

_STOP = (signal.SIGTERM, signal.SIGINT)


class Signals:
    """Says whether to stop, and whether to read the settings again."""

    def __init__(self) -> None:
        """Listen from now on; must be made in the main thread."""
        self.stop = False
        self.reload = False
        self._noted, notes = os.pipe()
        os.set_blocking(self._noted, False)
        os.set_blocking(notes, False)
        signal.set_wakeup_fd(notes, warn_on_full_buffer=False)
        for asked in (*_STOP, signal.SIGHUP):
            signal.signal(asked, _leave_it_to_the_pipe)

    def wait(self, longest_s: float) -> None:
        """Wait that long (stopwatch seconds), or until asked to stop; takes in what has come meanwhile."""
        until_s = time.monotonic() + longest_s
        while not self.stop:
            ready, _, _ = select.select([self._noted], [], [], max(0.0, until_s - time.monotonic()))
            if not ready:
                return
            for number in os.read(self._noted, 512):
                self.stop |= number in _STOP
                self.reload |= number == signal.SIGHUP


def _leave_it_to_the_pipe(*_: object) -> None:
    """Do nothing: without a handler the signal would end the program."""
