"""How large a year of history is, what it writes to the card, and how long it takes to read.

Run by hand: `python tests/bench_history.py [DIRECTORY]`.  The result stands in DEVELOPERS.md.
Three water probes, the room's air and humidity, two fans and a chiller.
"""

import math
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from reefguard.records.history import FILE_NAME, Minute, Run, Series, Span
from reefguard.records.history_reader import HistoryReader
from reefguard.records.history_store import HistoryStore

BEGIN_S = 1_925_000_000 // 86_400 * 86_400
DAY_S = 86_400
SERIES = (
    Series("display", "water"),
    Series("sump", "water"),
    Series("frag", "water"),
    Series("room", "room"),
    Series("room", "humidity"),
)
# As long as the guard gathers, and for the months that nobody measures.
BATCH, LARGE_BATCH = 10, 60


def minutes(first_day: int, last_day: int) -> Iterator[Minute]:
    """Yield every minute of some days: warm afternoons, fans for two hours, a chiller that cycles."""
    for number in range(first_day * 1_440, last_day * 1_440):
        from_s = BEGIN_S + number * 60.0
        swing = math.sin(number / 1_440 * 2 * math.pi)
        spans = {}
        for place, series in enumerate(SERIES):
            mean = 0.55 + 0.1 * swing if series.kind == "humidity" else 26.0 + place * 0.1 + swing
            spans[series] = Span(from_s, 60.0, mean, mean - 0.01, mean + 0.01, 1.0)
        of_day = number % 1_440
        on = [name for name in ("fan1", "fan2") if 720 <= of_day < 840]
        if of_day % 60 < 12:
            on.append("chiller")
        yield Minute(
            from_s=from_s,
            until_s=from_s + 60.0,
            date=datetime.fromtimestamp(from_s, UTC).date().isoformat(),
            spans=spans,
            runs=tuple(Run(name, from_s, from_s + 60.0, of_day in {720, of_day // 60 * 60}) for name in on),
            running=frozenset(on),
            known_s=60.0,
            low_c=25.9,
            high_c=26.3,
            warmest_c_s=26.3 * 60.0,
        )


def fill(store: HistoryStore, first_day: int, last_day: int, batch: int) -> None:
    """Write some days as the guard's queue does."""
    waiting: list[Minute] = []
    for minute in minutes(first_day, last_day):
        waiting.append(minute)
        if len(waiting) == batch:
            store.tidy()
            store.write(waiting)
            waiting.clear()


def written_bytes() -> int:
    """Return what this process has given to write(2) (proc(5), `wchar`)."""
    lines = Path("/proc/self/io").read_text(encoding="ascii").splitlines()
    return int(next(line.split()[1] for line in lines if line.startswith("wchar")))


def measure(directory: Path) -> None:
    """Fill a year and look at it."""
    store = HistoryStore(directory)
    begun = time.perf_counter()
    fill(store, 0, 337, LARGE_BATCH)
    before = written_bytes()
    measured = time.perf_counter()
    fill(store, 337, 365, BATCH)
    daily = (written_bytes() - before) / 28
    each = (time.perf_counter() - measured) / (28 * 144)
    print(f"a year written in {time.perf_counter() - begun:.0f} s; a batch takes {each * 1e3:.1f} ms")
    print(f"written each day in batches of ten minutes: {daily / 1e6:.2f} MB")
    store.close()
    print(f"file: {(directory / FILE_NAME).stat().st_size / 1e6:.1f} MB")
    reader = HistoryReader(directory)
    end_s = BEGIN_S + 365 * DAY_S
    for days, most in ((1, 1_440), (7, 2_016), (90, 2_160), (365, 8_760)):
        spent = []
        for _ in range(5):
            begun = time.perf_counter()
            past = reader.past(end_s - days * DAY_S, end_s, most)
            spent.append(time.perf_counter() - begun)
        count = max(len(spans) for spans in past.series.values())
        print(
            f"past() of {days} d: {sorted(spent)[2] * 1e3:.0f} ms; {count} spans of {past.span_s:.0f} s, "
            f"{len(past.intervals)} intervals"
        )


if __name__ == "__main__":
    if len(sys.argv) > 1:
        measure(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as name:
            measure(Path(name))
