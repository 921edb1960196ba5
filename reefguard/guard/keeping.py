"""The guard's history: what each tick found, handed on every ten minutes."""

from pathlib import Path
from typing import Final

from reefguard.control.step import Decision
from reefguard.records.gathering import Gathering, Tick
from reefguard.records.history import Series
from reefguard.records.history_writer import HistoryWriter
from reefguard.settings.model import Settings
from reefguard.vocabulary import Inputs, Trusted

# Each batch wears the card a little; a power cut costs what has not been handed on.
BATCH_S: Final = 600.0


class HistoryKeeping:
    """Gathers ticks for the thread that writes."""

    def __init__(self, writer: HistoryWriter) -> None:
        """Begin with nothing."""
        self._gathering, self._writer = Gathering(), writer
        self._handed_s: float | None = None

    @property
    def trouble(self) -> str | None:
        """Why the history cannot be written, `None` when it can."""
        return self._writer.trouble

    def take_damage(self) -> Path | None:
        """Return, once, where a damaged history was put; `None` when there was none."""
        return self._writer.take_damage()

    def tick(self, decision: Decision, inputs: Inputs, settings: Settings) -> None:
        """Take a tick into account; never waits."""
        self._gathering.tick(_tick(decision, inputs, settings))
        if self._handed_s is None:
            self._handed_s = inputs.now_s
        elif inputs.now_s - self._handed_s >= BATCH_S:
            self._handed_s = inputs.now_s
            self._writer.add(self._gathering.take())

    def finish(self, patience_s: float) -> None:
        """Hand on what there is, and have it written within `patience_s` (stopwatch seconds)."""
        self._writer.add(self._gathering.take(final=True))
        self._writer.finish(patience_s)


def _tick(decision: Decision, inputs: Inputs, settings: Settings) -> Tick:
    readings = {
        Series(reading.probe, "water"): reading.water_c if isinstance(reading, Trusted) else None
        for reading in decision.readings
    }
    if settings.room_air is not None:
        room = inputs.room
        fresh = room is not None and inputs.now_s - room.at_s <= settings.trust.stale_after_s
        readings[Series("room", "room")] = room.air_c if fresh and room is not None else None
        if settings.room_air.humidity_file is not None:
            humidity = room.relative_humidity if fresh and room is not None else None
            readings[Series("room", "humidity")] = humidity
    water, band = decision.estimate, settings.safe_band
    return Tick(
        boot_s=inputs.now_s,
        local=inputs.wall.local,
        trusted=inputs.wall.trusted,
        readings=readings,
        outputs={command.output: command.level > 0.0 for command in decision.commands},
        warmest_c=None if water is None else water.warmest_c,
        coldest_c=None if water is None else water.coldest_c,
        low_c=band.low_c,
        high_c=band.high_c,
    )
