from collections.abc import Iterator
from pathlib import Path

import pytest
from cutoff_bench import CutoffBench


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[CutoffBench]:
    made = CutoffBench(tmp_path)
    yield made
    made.stop()
