"""How large a year of history is, what it writes to the card, and how long it takes to read.

Run by hand: `python tests/bench_history.py [DIRECTORY]`, an empty one.  The result stands in DEVELOPERS.md.
"""

import sys
import tempfile
import time
from pathlib import Path

from kept_year import BATCH, DAY_S, DAYS, ENDS_S, LARGE_BATCH, fill, kept_year

from reefguard.link.page.spans import REACHES
from reefguard.records.history import FILE_NAME
from reefguard.records.history_reader import HistoryReader
from reefguard.records.history_store import HistoryStore

_MEASURED_DAYS = 28


def written_bytes() -> int:
    """Return what this process has given to write(2) (proc(5), `wchar`)."""
    lines = Path("/proc/self/io").read_text(encoding="ascii").splitlines()
    return int(next(line.split()[1] for line in lines if line.startswith("wchar")))


def measure(directory: Path) -> None:
    """Fill a year and look at it."""
    store = HistoryStore(directory)
    begun = time.perf_counter()
    fill(store, 0, DAYS - _MEASURED_DAYS, LARGE_BATCH)
    before = written_bytes()
    measured = time.perf_counter()
    fill(store, DAYS - _MEASURED_DAYS, DAYS, BATCH)
    daily = (written_bytes() - before) / _MEASURED_DAYS
    each = (time.perf_counter() - measured) / (_MEASURED_DAYS * 144)
    print(f"a year written in {time.perf_counter() - begun:.0f} s; a batch takes {each * 1e3:.1f} ms")
    print(f"written each day in batches of ten minutes: {daily / 1e6:.2f} MB")
    store.close()
    print(f"file: {(directory / FILE_NAME).stat().st_size / 1e6:.1f} MB")
    kept_year(directory)
    print(f"a year of events: {(directory / 'events.db').stat().st_size / 1e6:.1f} MB")
    reader = HistoryReader(directory)
    for reach in REACHES:
        spent = []
        for _ in range(5):
            begun = time.perf_counter()
            past = reader.past(ENDS_S - reach.lasts_s, ENDS_S, reach.most_spans)
            spent.append(time.perf_counter() - begun)
        count = max(len(spans) for spans in past.series.values())
        print(
            f"past() of {reach.lasts_s / DAY_S:.0f} d: {sorted(spent)[2] * 1e3:.0f} ms; {count} spans of "
            f"{past.span_s:.0f} s, {len(past.intervals)} intervals"
        )


if __name__ == "__main__":
    if len(sys.argv) > 1:
        measure(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as name:
            measure(Path(name))
