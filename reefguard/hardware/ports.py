"""What the guard asks of the world, as protocols.

The real devices stand beside this file; the rehearsal puts others behind the
same ports.  Nothing above this layer opens a device.
"""

from typing import Protocol

from reefguard.vocabulary import RawSample, RoomAir, Wall


class Clock(Protocol):
    """The two clocks of the machine, and a way to wait on the first."""

    def boot_s(self) -> float:
        """Return seconds since boot, suspend included; never steps, never runs backwards."""
        ...

    def boot_id(self) -> str:
        """Return the name of this boot: `boot_s` of another boot means nothing."""
        ...

    def wall(self) -> Wall:
        """Return local time with its offset, and whether it is known to be right."""
        ...

    def real_seconds(self, span_s: float) -> float:
        """Return how long `span_s` of this clock takes on a stopwatch, for waits and time-outs."""
        ...


class WaterProbes(Protocol):
    """The probes, read in the background: `latest` never blocks."""

    def latest(self) -> dict[str, RawSample]:
        """Return the newest sample of each probe by its name in the settings.

        A probe whose read has not come back within its deadline is `Missed`.
        """
        ...

    def room(self) -> RoomAir | None:
        """Return the air over the tank, or `None` when none is measured or none came back."""
        ...

    def stop(self) -> None:
        """Ask the readers to end; does not wait for one that hangs."""
        ...


class Output(Protocol):
    """One load behind a pin."""

    @property
    def name(self) -> str:
        """Its name in the settings."""
        ...

    def drive(self, level: float) -> None:
        """Set the load's level, 0 to 1; an on/off output is on for anything above 0.

        Raises:
            OSError: the pin could not be driven.
        """
        ...

    def read_back(self) -> bool:
        """Return whether the pin stands at a level that has the load on.

        Raises:
            OSError: the pin could not be read.
        """
        ...


class Input(Protocol):
    """One sensed contact."""

    def sense(self) -> bool | None:
        """Return whether it is active, or `None` when it cannot be read."""
        ...


class ServiceManager(Protocol):
    """The one who started us and watches us."""

    def ready(self) -> None:
        """Say that start-up is complete."""
        ...

    def status(self, sentence: str) -> None:
        """Say in one plain sentence how things stand."""
        ...

    def healthy(self) -> None:
        """Feed the watchdog.  Call it as the last line of a complete tick, nowhere else."""
        ...

    def stopping(self) -> None:
        """Say that the stop has begun."""
        ...
