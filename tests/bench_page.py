"""How large the page is and how long it takes, for a day and for a year; run by hand.

    python tests/bench_page.py

Over a made-up history in memory: reading the history from disk is measured where it is kept.
"""

import statistics
import time
from collections.abc import Callable

from page_rig import NOW_S, World, made_up_past

from reefguard.link.page.spans import REACHES
from reefguard.records.history import Past

_TIMES = 7


def main() -> None:
    """Print bytes and milliseconds of each reach."""
    known: dict[tuple[float, int], Past] = {}

    def from_memory(from_s: float, until_s: float, most: int) -> Past:
        asked = float(round(until_s - from_s)), most
        return known.setdefault(asked, made_up_past(NOW_S - asked[0], NOW_S, most))

    print("reach     page, bytes   chart alone   drawn anew, ms: least / median / most   drawn already")
    for reach in REACHES:
        world = World(past=from_memory)
        world.past(NOW_S - reach.lasts_s, NOW_S, reach.most_spans)
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
    main()
