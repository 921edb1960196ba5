"""How many ticks a second the pure step makes, for the settings of the prepared bench.

Run by hand: `python tests/bench_step.py`.  The result stands in DEVELOPERS.md.
"""

import gc
import time
from datetime import UTC, datetime

from builders import bench_settings

from reefguard.control.step import at_start, step
from reefguard.vocabulary import CutoffReport, Inputs, RoomAir, Sampled, Wall

TICKS = 100_000


def measure() -> float:
    """Return ticks per second over a day-like swing of the water, every sample new."""
    settings = bench_settings()
    wall = Wall(datetime(2026, 7, 1, 12, tzinfo=UTC), trusted=True)
    lives: list[Inputs] = []
    for tick in range(TICKS):
        now_s = 5.0 * tick
        triangle = abs((tick % 4_000) - 2_000) / 2_000.0
        water_c = round((25.8 + 2.0 * triangle) * 16) / 16
        lives.append(
            Inputs(
                now_s=now_s,
                wall=wall,
                samples={"display": Sampled(water_c, now_s), "sump": Sampled(water_c - 0.0625, now_s)},
                room=RoomAir(27.0, None, now_s),
                cutoff=CutoffReport("permitting", permits=True, why="", at_s=now_s),
            )
        )
    memory = at_start(settings, 0.0)
    gc.collect()
    gc.freeze()  # a guard does not hold 100,000 past inputs for the collector to walk
    begun = time.perf_counter()
    for inputs in lives:
        memory, _ = step(memory, inputs, settings)
    return TICKS / (time.perf_counter() - begun)


if __name__ == "__main__":
    rates = sorted(measure() for _ in range(5))
    print(f"pure step: {rates[0]:,.0f} / {rates[2]:,.0f} / {rates[4]:,.0f} ticks/s (min / median / max of 5)")
