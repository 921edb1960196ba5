"""The demonstration and its programs, as objects; `tests/cli/test_demo.py` starts it as a person does."""

import os
import signal
import subprocess
from pathlib import Path

import pytest

from reefguard.cutoff.latch import write_clear_latch
from reefguard.rehearsal.bench import FIRST_WATER_C, prepare
from reefguard.rehearsal.demonstration import Demonstration


def test_asked_to_end_while_a_program_starts_it_still_knows_that_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between the birth of a process and its handle lies an instant: Ctrl-C may fall there."""
    started: list[subprocess.Popen[bytes]] = []

    class Interrupted(subprocess.Popen[bytes]):
        def __init__(self, *args: object, **options: object) -> None:
            super().__init__(*args, **options)  # type: ignore[call-overload]  # handed on as they are
            started.append(self)
            if len(started) == 2:
                os.kill(os.getpid(), signal.SIGINT)

    monkeypatch.setattr(subprocess, "Popen", Interrupted)
    bench = prepare(tmp_path / "bench")
    write_clear_latch(bench.cutoff_state, "2027-07-12T09:00:00+00:00")
    demonstration = Demonstration(bench, 60.0, FIRST_WATER_C)
    with pytest.raises(KeyboardInterrupt):
        demonstration.start()
    assert demonstration.stop() == {"guard": 0, "cutoff": 0}
    assert len(started) == 2
    assert [program.poll() is None for program in started] == [False, False]
