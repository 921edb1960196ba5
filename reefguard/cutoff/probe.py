"""The cutoff's probe, read by a child process so that a hung bus cannot hang the cutoff."""

import contextlib
import errno
import os
import select
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from reefguard.cutoff import probe_child
from reefguard.cutoff.clock import BootClock
from reefguard.cutoff.ds18b20 import Failed, Fault, Measured, Sample, sample_from_text
from reefguard.cutoff.limits import Setup


class ProbeReaderEndedError(Exception):
    """The child that reads the probe has ended."""


class Probe:
    """Samples of the probe, in order, as they come."""

    def __init__(self, setup: Setup, clock: BootClock) -> None:
        """Start the child; do this before a GPIO library is loaded.

        Raises:
            OSError: it cannot be started.
        """
        self._setup = setup
        self._clock = clock
        self._unfinished = b""
        path = setup.one_wire_directory / setup.probe / "w1_slave"
        interval_s = clock.real_s(setup.sampling_s)
        script = Path(probe_child.__file__)
        self._child = subprocess.Popen(  # noqa: S603  our own interpreter and our own file
            [sys.executable, "-I", "-S", script, path, f"{interval_s:.6f}"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd="/",
            start_new_session=True,
        )

    def wait(self, longest_s: float, interrupt: int) -> list[Sample]:
        """Wait for samples, and return those that came: none when the time is up, or when interrupted.

        Args:
            longest_s: to wait, seconds of the clock.
            interrupt: a file descriptor that ends the wait once there is something to read.

        Raises:
            ProbeReaderEndedError: there will be no more.
        """
        pipe = self._pipe()
        ready, _, _ = select.select([pipe, interrupt], [], [], self._clock.real_s(longest_s))
        if pipe not in ready:
            return []
        chunk = os.read(pipe, 65_536)
        if not chunk:
            raise ProbeReaderEndedError("the process that reads the probe has ended")
        *lines, self._unfinished = (self._unfinished + chunk).split(b"\n")
        return list(self._samples(lines))

    def stop(self) -> None:
        """End the child; does not wait for one that hangs in the kernel."""
        self._child.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._child.wait(timeout=1.0)
        for pipe in (self._child.stdin, self._child.stdout):
            if pipe is not None:
                pipe.close()

    def _pipe(self) -> int:
        if self._child.stdout is None:
            raise ProbeReaderEndedError("the process that reads the probe has no pipe")
        return self._child.stdout.fileno()

    def _samples(self, lines: list[bytes]) -> Iterator[Sample]:
        now_s = self._clock.now_s()
        for line in lines:
            began_ns, kind, content = line.decode("ascii").split(" ")
            began_s = int(began_ns) / 1e9 * self._clock.speed
            if now_s - began_s >= self._setup.limits.probe_timeout_s:
                yield Failed(Fault.LATE)
            elif kind == "errno":
                yield Failed(Fault.ABSENT if int(content) == errno.ENOENT else Fault.UNREADABLE)
            else:
                yield self._corrected(sample_from_text(bytes.fromhex(content).decode("latin-1")))

    def _corrected(self, sample: Sample) -> Sample:
        if isinstance(sample, Measured):
            return Measured(sample.water_c + self._setup.probe_offset_c)
        return sample
