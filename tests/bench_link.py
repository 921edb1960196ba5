"""How soon an alarm reaches a receiver, and how much memory the link takes.  Run by hand.

    python tests/bench_link.py

The delay is from the moment the guard's store has the event to the first byte at a receiver on this machine;
the link looks once a second, so a second is the most it adds.
"""

import random
import statistics
import subprocess
import tempfile
import time
from pathlib import Path

from bench_footprint import resident_kib
from link_rig import GuardFiles, LinkFiles, Receiver, start_link, wait_for

_ALARMS = 30


def delays_s(directory: Path) -> tuple[list[float], int]:
    """Return the delays of single alarms, each long after the one before, and the link's resident KiB."""
    arrivals: list[float] = []

    class Watched(Receiver):
        def __init__(self) -> None:
            super().__init__()
            handler = self._server.RequestHandlerClass
            take = handler.do_POST  # type: ignore[attr-defined]  # it is the rig's own handler

            def do_POST(one: object) -> None:  # noqa: N802  the library's own name
                arrivals.append(time.monotonic())
                take(one)

            handler.do_POST = do_POST  # type: ignore[attr-defined]  # the same

    with Watched() as receiver:
        guard = GuardFiles(directory)
        metrics = f"  metrics: {{textfile: {directory / 'reefguard.prom'}}}\n"
        hook = "  channels:\n    hook: {secret: hook, lowest: low, repeat_after: never}\n"
        files = LinkFiles(
            directory, guard, {"hook": f"json://127.0.0.1:{receiver.port}/hook\n"}, hook + metrics
        )
        guard.status()
        link = start_link(files)
        guard.event("raised", "the first one")
        wait_for(lambda: len(receiver.got) == 1, "the first one")
        begun: list[float] = []
        for number in range(_ALARMS):
            # Anywhere within the link's round; and few enough in 30 s that none is gathered with others.
            time.sleep(random.uniform(10.0, 11.0))  # noqa: S311  no secret hangs on it
            guard.status()
            begun.append(time.monotonic())
            guard.event("raised", f"alarm {number}")
            wait_for(lambda: len(receiver.got) == len(begun) + 1, "it")
        resident = resident_kib(link.pid)
        link.terminate()
        try:
            link.wait(30.0)
        except subprocess.TimeoutExpired:
            link.kill()
    return [arrived - raised for raised, arrived in zip(begun, arrivals[1:], strict=True)], resident


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        delays, resident = delays_s(Path(made))
    print(f"delay: median {statistics.median(delays):.2f} s, worst {max(delays):.2f} s of {len(delays)}")
    print(f"link's resident memory, one channel and metrics: {resident / 1024:.1f} MiB")
