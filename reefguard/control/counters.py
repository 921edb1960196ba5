"""Elapsed active time and change-of-state count of an output (terms of ANSI/ASHRAE 135)."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Counter:
    """How often and how long an output was on.

    Attributes:
        on: whether it is on now.
        since_s: boot-clock time of the last change.
        before_s: elapsed active time up to then, seconds.
        changes: how often it changed between off and on.
    """

    on: bool
    since_s: float
    before_s: float = 0.0
    changes: int = 0

    def elapsed_active_s(self, now_s: float) -> float:
        """Return how long it has been on in all."""
        return self.before_s + (now_s - self.since_s if self.on else 0.0)

    def run_s(self, now_s: float) -> float:
        """Return how long the present run lasts; 0 while off."""
        return now_s - self.since_s if self.on else 0.0


def count(counter: Counter, *, on: bool, now_s: float) -> Counter:
    """Take the output's state at this tick into account."""
    if on == counter.on:
        return counter
    return Counter(on, now_s, counter.elapsed_active_s(now_s), counter.changes + 1)
