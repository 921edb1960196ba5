"""Step 4 of the tick: automatic, or by the lights' schedule?

    from        to          when
    schedule    automatic   there is a trusted water reading (a probe earns trust first)
    automatic   schedule    no trusted reading for `schedule_after_s`

The guard starts in schedule: automatic is earned.  A restart within the same
boot goes on where it was, with the same clock running.
"""

from typing import NamedTuple

from reefguard.vocabulary import Mode, WaterEstimate


class ModeMemory(NamedTuple):
    """The mode, and when the water was last known (`None`: not since this boot)."""

    mode: Mode = Mode.SCHEDULE
    last_known_s: float | None = None


def choose(
    memory: ModeMemory, estimate: WaterEstimate | None, now_s: float, schedule_after_s: float
) -> ModeMemory:
    """Return the mode for this tick."""
    if estimate is not None:
        return ModeMemory(Mode.AUTOMATIC, estimate.at_s)
    if memory.last_known_s is None or now_s - memory.last_known_s >= schedule_after_s:
        return ModeMemory(Mode.SCHEDULE, memory.last_known_s)
    return memory
