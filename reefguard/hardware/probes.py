"""Read every probe in the background, each in a thread of its own.

A read takes most of a second, and on a sick bus it may never come back.  So
nobody waits for one: each probe's thread leaves its newest sample behind, and
a read that has been under way for too long shows as `NO_ANSWER`.  A thread
that hangs is neither waited for nor replaced: replacing it would only hang
another one on the same bus.
"""

import math
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from threading import Event, Lock, Thread
from typing import Final

from reefguard.hardware.one_wire import read_probe
from reefguard.hardware.ports import Clock
from reefguard.settings.model import RoomAirSource, WaterProbe
from reefguard.vocabulary import Cause, Missed, RawSample, RoomAir, Sampled

DEADLINE_S: Final = 5.0

# A room's air.  What a DS18B20 reads before it has measured, 85 °C, and after it failed to,
# 127.9375 °C, lie outside.
_COLDEST_ROOM_C: Final = -10.0
_WARMEST_ROOM_C: Final = 60.0


class BackgroundProbes:
    """The water's probes and the room's (`ports.WaterProbes`)."""

    def __init__(
        self,
        water_probes: Sequence[WaterProbe],
        room_air: RoomAirSource | None,
        *,
        one_wire_directory: Path,
        sampling_s: float,
        clock: Clock,
        deadline_s: float = DEADLINE_S,
    ) -> None:
        """Start reading.

        Args:
            water_probes: which probes are in the water.
            room_air: what measures the air, if anything does.
            one_wire_directory: where the kernel shows them.
            sampling_s: from the start of one read to the start of the next.
            clock: what the samples' times are taken from.
            deadline_s: a read that takes longer is missed.
        """
        self._clock = clock
        self._stopping = Event()

        def reader(name: str, read: Callable[[], float | Cause]) -> _Reader:
            return _Reader(
                name,
                read,
                clock=clock,
                period_s=sampling_s,
                deadline_s=deadline_s,
                stopping=self._stopping,
            )

        self._water = {
            probe.name: reader(probe.name, partial(read_probe, one_wire_directory, probe.rom_id))
            for probe in water_probes
        }
        self._air: _Reader | None = None
        self._humidity: _Reader | None = None
        if room_air is not None:
            self._air = reader("room air", partial(read_probe, one_wire_directory, room_air.rom_id))
            if room_air.humidity_file is not None:
                file = Path(room_air.humidity_file)
                self._humidity = reader("room humidity", partial(read_humidity, file))

    def latest(self) -> dict[str, RawSample]:
        """Return the newest sample of each water probe by its name; never blocks."""
        now_s = self._clock.boot_s()
        return {name: reader.newest(now_s) for name, reader in self._water.items()}

    def room(self) -> RoomAir | None:
        """Return what is known of the air over the tank; never blocks."""
        now_s = self._clock.boot_s()
        return room_of(
            None if self._air is None else self._air.newest(now_s),
            None if self._humidity is None else self._humidity.newest(now_s),
        )

    def stop(self) -> None:
        """Ask the readers to end; waits for none."""
        self._stopping.set()


class _Reader:
    """One thread that reads one thing again and again."""

    def __init__(
        self,
        name: str,
        read: Callable[[], float | Cause],
        *,
        clock: Clock,
        period_s: float,
        deadline_s: float,
        stopping: Event,
    ) -> None:
        self._read = read
        self._clock = clock
        self._period_s = period_s
        self._deadline_s = deadline_s
        self._stopping = stopping
        self._lock = Lock()
        self._sample: RawSample = Missed(Cause.NOT_YET, clock.boot_s())
        self._began_s: float | None = None
        Thread(target=self._run, name=f"reads {name}", daemon=True).start()

    def newest(self, now_s: float) -> RawSample:
        """Return the last sample, or the missed one when a read is overdue."""
        with self._lock:
            if self._began_s is not None and now_s - self._began_s > self._deadline_s:
                return Missed(Cause.NO_ANSWER, self._began_s + self._deadline_s)
            return self._sample

    def _run(self) -> None:
        due_s = self._clock.boot_s()
        while not self._stopping.is_set():
            with self._lock:
                self._began_s = self._clock.boot_s()
            reading = self._read()
            at_s = self._clock.boot_s()
            with self._lock:
                self._began_s = None
                self._sample = Missed(reading, at_s) if isinstance(reading, Cause) else Sampled(reading, at_s)
            due_s = next_due_s(due_s, at_s, self._period_s)
            self._stopping.wait(self._clock.real_seconds(max(0.0, due_s - at_s)))


def next_due_s(due_s: float, now_s: float, period_s: float) -> float:
    """Return the next moment of a rhythm that neither drifts nor catches up.

    >>> next_due_s(due_s=100.0, now_s=100.75, period_s=5.0)
    105.0
    >>> next_due_s(due_s=100.0, now_s=117.0, period_s=5.0)
    120.0
    """
    return due_s + period_s * max(1, math.ceil((now_s - due_s) / period_s))


def read_humidity(file: Path) -> float | Cause:
    """Return the relative humidity, 0 to 1, from a file of the kernel's IIO system.

    Source:
        Linux, Documentation/ABI/testing/sysfs-bus-iio, `in_humidityrelative_input`:
        "scaled humidity measurement in milli percent".
    """
    try:
        share = float(file.read_text(encoding="ascii")) / 100_000
    except FileNotFoundError:
        return Cause.ABSENT
    except OSError:
        return Cause.UNREADABLE
    except ValueError:
        return Cause.MALFORMED
    return share if 0 <= share <= 1 else Cause.OUT_OF_RANGE


def room_of(air: RawSample | None, humidity: RawSample | None) -> RoomAir | None:
    """Put together what is known of the room; a part that cannot be true is missing."""
    believed_air = (
        air if isinstance(air, Sampled) and _COLDEST_ROOM_C <= air.raw_c <= _WARMEST_ROOM_C else None
    )
    measured_humidity = humidity if isinstance(humidity, Sampled) else None
    times_s = [part.at_s for part in (believed_air, measured_humidity) if part is not None]
    if not times_s:
        return None
    return RoomAir(
        air_c=None if believed_air is None else believed_air.raw_c,
        relative_humidity=None if measured_humidity is None else measured_humidity.raw_c,
        at_s=min(times_s),
    )
