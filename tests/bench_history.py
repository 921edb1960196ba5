"""A year of history: how large, how much a day wears the card, how long a question takes.  Run by hand.

python tests/bench_history.py
"""

import math
import sys
import tempfile
import time
from pathlib import Path

from reefguard.records.gathering import Batch
from reefguard.records.history import DayTotals, Interval, Series, Span
from reefguard.records.history_reader import HistoryReader
from reefguard.records.history_store import HistoryStore

SERIES = (
    *(Series(f"probe{number}", "water") for number in range(3)),
    Series("room", "room"),
    Series("room", "humidity"),
)
FIRST_S = 1_800_000_000 // 86_400 * 86_400
# The guard hands on ten minutes at a time.
_BATCH_S, _MINUTES = 600, 10


def batch(at_s: int) -> Batch:
    """Return ten minutes of three probes, room air and humidity, with an output that changes now and then."""
    spans = []
    for number, series in enumerate(SERIES):
        for minute in range(_MINUTES):
            from_s = at_s + 60 * minute
            wave = math.sin(from_s / 86_400.0 * 2.0 * math.pi) + 0.03 * math.sin(from_s / 171.0)
            value = 0.5 + 0.1 * wave if series.kind == "humidity" else 26.0 + wave - 0.1 * number
            spans.append((series, Span(float(from_s), 60.0, value, value - 0.06, value + 0.06, 1.0)))
    half_hour = at_s // 1_800
    runs = (Interval("fan1", half_hour * 1_800.0, at_s + 600.0, at_s % 1_800 != 1_200, True),) * (
        half_hour % 2
    )
    date = time.strftime("%Y-%m-%d", time.gmtime(at_s))
    totals = DayTotals(date, 25.0, 27.0, 26.0, 600.0, 600.0, 0.0, 0.0, 0.0, 0.0, {"fan1": 300.0}, {"fan1": 1})
    return Batch(tuple(spans), runs, (totals,), at_s + 600.0)


def written_bytes() -> int:
    """Return what this process has had written to the disk."""
    lines = Path("/proc/self/io").read_text(encoding="ascii").splitlines()
    return int(next(line for line in lines if line.startswith("write_bytes")).split()[1])


def main() -> None:
    """Make the year; print the figures."""
    days = int(sys.argv[1]) if len(sys.argv) > 1 else 365
    with tempfile.TemporaryDirectory(dir=".") as made:
        directory = Path(made)
        store = HistoryStore(directory)
        before = written_bytes()
        for at_s in range(FIRST_S, FIRST_S + 86_400 * days, _BATCH_S):
            store.append(batch(at_s))
            if at_s % 3_600 == 3_000:
                store.tidy(at_s + 600.0)
        wear = (written_bytes() - before) / days
        store.close()
        size = (directory / "history.db").stat().st_size
        print(f"{days} days: {size / 1e6:.1f} MB, written {wear / 1e6:.2f} MB a day")
        reader, until_s = HistoryReader(directory), FIRST_S + 86_400.0 * days
        for name, back, most in (
            ("24 h", 1, 1_500),
            ("7 d", 7, 2_100),
            ("90 d", 90, 2_300),
            ("1 y", 365, 9_000),
        ):
            begun = time.perf_counter()
            past = reader.past(until_s - 86_400.0 * back, until_s, most)
            took_s = time.perf_counter() - begun
            spans = sum(len(one) for one in past.series.values())
            print(f"{name}: {spans} spans of {past.span_s:.0f} s in {1_000.0 * took_s:.0f} ms")


if __name__ == "__main__":
    main()
