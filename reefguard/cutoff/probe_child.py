"""Reads the probe's file again and again, in a process of its own, and tells its parent.

A read that never returns hangs this process and not the cutoff.  It is run
by its path, without site packages, and imports next to nothing to stay small:

    python -I -S probe_child.py FILE INTERVAL

INTERVAL is in seconds of a stopwatch.  For each read one line goes to
standard output: the boot clock in ns when the read began, then `text` and
the file's bytes in hex, or `errno` and its number.  Standard input is a pipe
on which nothing ever comes; that it closes means the parent is gone.
"""

import fcntl
import os
import select
import signal
import sys
import time

MOST_BYTES = 1024


def end_with_parent() -> None:
    """Have the kernel end this process, even within a read, when the parent is gone.

    Signal-driven input (fcntl(2), F_SETOWN and O_ASYNC) sends SIGIO when the
    parent's end of the pipe closes, and SIGIO ends a process by default.
    """
    signal.signal(signal.SIGIO, signal.SIG_DFL)
    # A stop is the parent's to decide: it must drop the relay first.
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    fcntl.fcntl(0, fcntl.F_SETOWN, os.getpid())
    fcntl.fcntl(0, fcntl.F_SETFL, fcntl.fcntl(0, fcntl.F_GETFL) | os.O_ASYNC)
    if select.select([0], [], [], 0)[0]:
        sys.exit(0)  # it went before we listened


def line_of_one_read(path: str) -> bytes:
    """Read the file once and frame what came."""
    began_ns = time.clock_gettime_ns(time.CLOCK_BOOTTIME)
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
        try:
            content = os.read(descriptor, MOST_BYTES)
        finally:
            os.close(descriptor)
    except OSError as error:
        return b"%d errno %d\n" % (began_ns, error.errno or 0)
    return b"%d text %s\n" % (began_ns, content.hex().encode())


def main() -> None:
    """Read until the parent is gone."""
    path, interval_s = sys.argv[1], float(sys.argv[2])
    end_with_parent()
    next_s = time.monotonic()
    while True:
        line = line_of_one_read(path)
        try:
            os.write(1, line)  # far below PIPE_BUF, so it goes whole
        except BrokenPipeError:
            return
        # Late reads are skipped, not caught up with, and the beat does not drift.
        next_s = max(next_s + interval_s, time.monotonic())
        time.sleep(max(0.0, next_s - time.monotonic()))


if __name__ == "__main__":
    main()
