"""How large the page is and how long it takes, for a day and for a year, over a real year of history.

Run by hand: `python tests/bench_page.py [DIRECTORY]`; a year that is not there is written first, in half a
minute.  The result stands in DEVELOPERS.md.
"""

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from kept_year import ENDS_S, kept_year
from page_rig import ZONE, World

from reefguard.link.notes import Now
from reefguard.link.page.spans import REACHES
from reefguard.records.event_reader import EventReader
from reefguard.records.history_reader import HistoryReader

_TIMES = 7
_MOST_ALARM_EVENTS = 2_000


class AtTheEnd(World):
    """A page that is looked at when the year ends."""

    def now(self) -> Now:
        """Return the present."""
        local = datetime.fromtimestamp(ENDS_S + self.boot_s - 1_000.0, ZONE)
        return Now(self.boot_s, "b", local, trusted=True)


def measure(directory: Path) -> None:
    """Print bytes and milliseconds of each reach."""
    reader = HistoryReader(directory)
    print("reach     page, bytes   chart alone   drawn anew, ms: least / median / most   drawn already")
    for reach in REACHES:
        world = AtTheEnd(past=reader.past, events=EventReader(directory).of_kind("alarm", _MOST_ALARM_EVENTS))
        client = world.application().test_client()
        client.get("/")
        whole = client.get(f"/?span={reach.key}").get_data()
        chart = sum(len(part.partition(b"</svg>")[0]) for part in whole.split(b'<div class="chart ')[1:])
        anew, already = [], []
        for _ in range(_TIMES):
            world.boot_s += reach.fresh_s + 1.0
            anew.append(_timed(lambda: client.get(f"/?span={reach.key}")))  # noqa: B023  called at once
            already.append(_timed(lambda: client.get(f"/?span={reach.key}")))  # noqa: B023  called at once
        times = " / ".join(f"{value:5.0f}" for value in (min(anew), statistics.median(anew), max(anew)))
        print(f"{reach.key:8}{len(whole):>13,}{chart:>14,}   {times:>39}{statistics.median(already):>16.1f}")


def _timed(work: Callable[[], object]) -> float:
    start_s = time.perf_counter()
    work()
    return 1_000.0 * (time.perf_counter() - start_s)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        measure(kept_year(Path(sys.argv[1])))
    else:
        with tempfile.TemporaryDirectory() as name:
            measure(kept_year(Path(name)))
