"""Ticks for the history: two clocks that agree unless a test sets one of them."""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta, tzinfo

from reefguard.records.history import Minute, Series
from reefguard.records.history_gather import Gatherer, Look, Water
from reefguard.vocabulary import Wall

DISPLAY, SUMP = Series("display", "water"), Series("sump", "water")
ROOM, HUMIDITY = Series("room", "room"), Series("room", "humidity")
NOON = datetime(2031, 7, 14, 12, tzinfo=UTC)
NOON_S = NOON.timestamp()


class Ticks:
    """A gatherer and the clocks before it.

    Attributes:
        minutes: all that it has given.
        now_s: the boot clock.
        wall_s: the wall clock, Unix seconds.
        trusted: whether that is known to be right.
    """

    def __init__(
        self, wall_s: float = NOON_S, *, zone: tzinfo = UTC, trusted: bool = True, on: Iterable[str] = ()
    ) -> None:
        self.gatherer = Gatherer(zone, longest_hold_s=60.0, on=frozenset(on))
        self.minutes: list[Minute] = []
        self.now_s = 100.0
        self.wall_s = wall_s
        self.trusted = trusted

    def wall(self) -> Wall:
        return Wall(datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=self.wall_s), self.trusted)

    def tick(
        self,
        after_s: float = 5.0,
        *,
        values: Mapping[Series, float] | None = None,
        on: Iterable[str] = (),
        water: Water | None = None,
    ) -> list[Minute]:
        """Let time pass, then make a tick."""
        self.now_s += after_s
        self.wall_s += after_s
        given = self.gatherer.take(Look(self.now_s, self.wall(), values or {}, frozenset(on), water))
        self.minutes += given
        return given

    def finish(self, after_s: float = 5.0) -> list[Minute]:
        """Let time pass, then end."""
        self.now_s += after_s
        self.wall_s += after_s
        given = self.gatherer.finish(self.now_s, self.wall())
        self.minutes += given
        return given
