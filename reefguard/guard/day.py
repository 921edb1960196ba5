"""One day in one line, for the log."""

from collections.abc import Sequence

from reefguard.control.counters import Counter
from reefguard.control.words import span, temperature
from reefguard.settings.model import Unit
from reefguard.vocabulary import WaterEstimate


class Day:
    """Collects the extremes of a day, and how long each output ran."""

    def __init__(self, names: Sequence[str], counters: Sequence[Counter], now_s: float) -> None:
        """Start the day with the counters as they stand."""
        self._names = tuple(names)
        self._begin(counters, now_s)

    def _begin(self, counters: Sequence[Counter], now_s: float) -> None:
        self._coldest_c: float | None = None
        self._warmest_c: float | None = None
        self._before = tuple((counter.elapsed_active_s(now_s), counter.changes) for counter in counters)

    def see(self, water: WaterEstimate | None) -> None:
        """Take a tick's water into account."""
        if water is None:
            return
        if self._warmest_c is None or water.warmest_c > self._warmest_c:
            self._warmest_c = water.warmest_c
        if self._coldest_c is None or water.coldest_c < self._coldest_c:
            self._coldest_c = water.coldest_c

    def close(self, counters: Sequence[Counter], now_s: float, unit: Unit) -> str:
        """Return the day as a sentence, and begin the next."""
        if self._coldest_c is None or self._warmest_c is None:
            parts = ["the water was never known"]
        else:
            parts = [f"water {temperature(self._coldest_c, unit)} to {temperature(self._warmest_c, unit)}"]
        for name, counter, (active_s, changes) in zip(self._names, counters, self._before, strict=True):
            ran_s = counter.elapsed_active_s(now_s) - active_s
            switched = counter.changes - changes
            parts.append(f"{name} ran {span(ran_s)} ({switched} changes)" if ran_s else f"{name} did not run")
        self._begin(counters, now_s)
        return "; ".join(parts)
