"""What the guard tells the history, tick by tick: gathered here, handed over in batches."""

from datetime import tzinfo
from typing import Final

from reefguard.control.step import Decision
from reefguard.guard.chronicle import Moment
from reefguard.records.history import Minute, Series
from reefguard.records.history_gather import Gatherer, Look, Water
from reefguard.records.history_queue import HistoryQueue
from reefguard.settings.model import Settings
from reefguard.vocabulary import Cause, Inputs, Reading, Trusted

# A commit costs the SD card some six pages, whatever is in it.
_BATCH_S: Final = 600.0

# A tick that takes longer than this was no tick: the watchdog has long restarted a guard that hangs.
_LONGEST_HOLD_S: Final = 60.0

# The wire gave a number at this tick, though the probes may not agree about it.
_MEASURED: Final = (Cause.NONE, Cause.DISAGREES, Cause.ODD_ONE_OUT)


class HistoryDesk:
    """Gathers what ticks saw and hands it over.  An error of its own ends the history, never the guard."""

    def __init__(self, queue: HistoryQueue, zone: tzinfo, on: frozenset[str], now_s: float) -> None:
        """Start with nothing.

        Args:
            queue: where finished minutes go.
            zone: of the local day.
            on: the outputs that are on before the first tick.
            now_s: boot clock.
        """
        self._queue = queue
        self._gatherer = Gatherer(zone, longest_hold_s=_LONGEST_HOLD_S, on=on)
        self._batch: list[Minute] = []
        self._handed_over_s = now_s
        self._error: str | None = None

    @property
    def trouble(self) -> str | None:
        """Why no history is written now, or `None`."""
        return self._error or self._queue.trouble

    def tick(self, inputs: Inputs, decision: Decision, settings: Settings) -> None:
        """Take a tick; returns at once."""
        if self._error is not None:
            return
        try:
            self._batch += self._gatherer.take(look(inputs, decision, settings))
        except Exception as error:  # noqa: BLE001  no error in a record of the past is worth the chiller's stop
            self._error = f"an error of the program itself: {type(error).__name__}: {error}"
            return
        if inputs.now_s - self._handed_over_s >= _BATCH_S:
            self._hand_over(inputs.now_s)

    def finish(self, at: Moment, patience_s: float) -> None:
        """Hand over what is left, and wait for it, but no longer than `patience_s` (stopwatch seconds)."""
        if self._error is None:
            try:
                self._batch += self._gatherer.finish(at.now_s, at.wall)
            except Exception as error:  # noqa: BLE001  the stop goes on, as above
                self._error = f"an error of the program itself: {type(error).__name__}: {error}"
        self._hand_over(at.now_s)
        self._queue.finish(patience_s)

    def _hand_over(self, now_s: float) -> None:
        self._handed_over_s = now_s
        batch, self._batch = self._batch, []
        self._queue.add(*batch)


def look(inputs: Inputs, decision: Decision, settings: Settings) -> Look:
    """Return what a tick saw, as far as it can be used."""
    values = {
        Series(one.probe, "water"): one.water_c
        for one in decision.readings
        if isinstance(one, Trusted) and _measured(one)
    }
    room = inputs.room
    if room is not None and inputs.now_s - room.at_s <= settings.trust.stale_after_s:
        if room.air_c is not None:
            values[Series("room", "room")] = room.air_c
        if room.relative_humidity is not None:
            values[Series("room", "humidity")] = room.relative_humidity
    water = decision.estimate
    band = settings.safe_band
    return Look(
        now_s=inputs.now_s,
        wall=inputs.wall,
        values=values,
        on=frozenset(command.output for command in decision.commands if command.on),
        water=None if water is None else Water(water.coldest_c, water.warmest_c, band.low_c, band.high_c),
    )


def _measured(reading: Reading) -> bool:
    """Return whether it is this tick's, not an older one that still holds."""
    return reading.cause in _MEASURED
