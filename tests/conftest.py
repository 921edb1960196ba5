"""What all tests stand on."""

import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from cutoff_bench import CutoffBench


def pytest_sessionstart(session: pytest.Session) -> None:
    """Let Ctrl-C be heard by the programs that tests start.

    A shell without job control starts what runs in the background with SIGINT ignored, and every child
    inherits that: the tests that interrupt a program would then wait for ever.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[CutoffBench]:
    """Return a bench for the cutoff alone."""
    made = CutoffBench(tmp_path)
    yield made
    made.stop()
