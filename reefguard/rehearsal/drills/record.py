"""What a run leaves behind: extremes, sums, and a trace to draw."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from reefguard.settings.model import SafeBand
from reefguard.thermal.state import Flows
from reefguard.thermal.stress import degree_heating_weeks
from reefguard.thermal.weather import DAY_S

TRACE_EVERY_S = 60.0
# A guard that has just started says so for some minutes; what came after is worth telling.
SETTLES_S = 600.0


@dataclass(frozen=True, slots=True)
class Interval:
    """Something that held from one moment to another, in seconds of the run."""

    from_s: float
    until_s: float


class Spells:
    """When each of several things held: opened and closed by name."""

    def __init__(self) -> None:
        self.closed: dict[str, list[Interval]] = {}
        self._open: dict[str, float] = {}
        self._last: tuple[str, ...] = ()

    def hold(self, names: tuple[str, ...], now_s: float) -> None:
        """Take in what holds now; what held before and is not named has ended."""
        if names == self._last:
            return
        self._last = names
        held = self._open
        for name in [one for one in held if one not in names]:
            self.closed.setdefault(name, []).append(Interval(held.pop(name), now_s))
        for name in names:
            held.setdefault(name, now_s)

    def end(self, now_s: float) -> Mapping[str, tuple[Interval, ...]]:
        """Close all; return them by name, in the order in which they first held."""
        self.hold((), now_s)
        in_order = sorted(self.closed, key=lambda name: self.closed[name][0].from_s)
        return {name: tuple(self.closed[name]) for name in in_order}


@dataclass(frozen=True, slots=True)
class Record:
    """A run, whole.

    Attributes:
        lasted_s: its length.
        hottest_c: of the water itself, not of a probe.
        coldest_c: the same.
        hottest_s: when.
        coldest_s: when.
        out_of_band_s: time outside the safe band.
        degree_hours: distance outside it times hours.
        starts_s: when the compressor got power.
        shortest_rest_s: between two runs of it; `None` with fewer than two.
        compressor_s: time with power.
        energy_kwh: of fans and chiller.
        evaporated_kg: in all.
        ticks: of the guard.
        trace: (time, water, room air) each minute.
        runs: when each fan and the chiller ran, by name.
        modes: when the guard was in which mode, or down.
        told: when each alarm stood, by name.
        cutoff_held: when the cutoff tripped or held, by its state.
    """

    lasted_s: float
    hottest_c: float
    coldest_c: float
    hottest_s: float
    coldest_s: float
    out_of_band_s: float
    degree_hours: float
    starts_s: tuple[float, ...]
    shortest_rest_s: float | None
    compressor_s: float
    energy_kwh: float
    evaporated_kg: float
    ticks: int
    trace: tuple[tuple[float, float, float], ...]
    runs: Mapping[str, tuple[Interval, ...]]
    modes: Mapping[str, tuple[Interval, ...]]
    told: Mapping[str, tuple[Interval, ...]]
    cutoff_held: Mapping[str, tuple[Interval, ...]]

    def heating_weeks(self, usual_highest_c: float) -> float:
        """Return degree heating weeks over the run's whole days, against a tank's usual highest."""
        days: dict[int, list[float]] = {}
        for at_s, water_c, _ in self.trace:
            days.setdefault(int(at_s // DAY_S), []).append(water_c)
        whole = [means for day, means in days.items() if (day + 1) * DAY_S <= self.lasted_s]
        return degree_heating_weeks([sum(means) / len(means) for means in whole], usual_highest_c)


@dataclass(slots=True)
class Recorder:
    """Takes a run in, tick by tick."""

    band: SafeBand
    hottest_c: float = float("-inf")
    coldest_c: float = float("inf")
    hottest_s: float = 0.0
    coldest_s: float = 0.0
    out_of_band_s: float = 0.0
    degree_seconds: float = 0.0
    energy_j: float = 0.0
    evaporated_kg: float = 0.0
    compressor_s: float = 0.0
    shortest_rest_s: float | None = None
    ticks: int = 0
    starts_s: list[float] = field(default_factory=list)
    trace: list[tuple[float, float, float]] = field(default_factory=list)
    runs: Spells = field(default_factory=Spells)
    modes: Spells = field(default_factory=Spells)
    told: Spells = field(default_factory=Spells)
    cutoff_held: Spells = field(default_factory=Spells)
    _traced_s: float = float("-inf")
    _powered: bool = False
    _stopped_s: float | None = None

    def water(self, water_c: float, room_c: float, now_s: float, span_s: float) -> None:
        """Take in the water's true temperature, which then holds for `span_s`."""
        if water_c > self.hottest_c:
            self.hottest_c, self.hottest_s = water_c, now_s
        if water_c < self.coldest_c:
            self.coldest_c, self.coldest_s = water_c, now_s
        outside_c = max(water_c - self.band.high_c, self.band.low_c - water_c)
        if outside_c > 0.0:
            self.out_of_band_s += span_s
            self.degree_seconds += outside_c * span_s
        if now_s - self._traced_s >= TRACE_EVERY_S:
            self._traced_s = now_s
            self.trace.append((now_s, water_c, room_c))

    def power(self, flows: Flows, span_s: float) -> None:
        """Take in what the coolers drew."""
        self.energy_j += (flows.chiller_electric_w + flows.fans_w) * span_s
        self.evaporated_kg += flows.evaporation_kg_s * span_s

    def compressor(self, now_s: float, span_s: float, *, powered: bool) -> None:
        """Take in whether the compressor has power."""
        if powered:
            self.compressor_s += span_s
        if powered is self._powered:
            return
        self._powered = powered
        if not powered:
            self._stopped_s = now_s
            return
        self.starts_s.append(now_s)
        if self._stopped_s is not None:
            rest_s = now_s - self._stopped_s
            if self.shortest_rest_s is None or rest_s < self.shortest_rest_s:
                self.shortest_rest_s = rest_s

    def end(self, now_s: float) -> Record:
        """Return the record of a run that ends now."""
        return Record(
            lasted_s=now_s,
            hottest_c=self.hottest_c,
            coldest_c=self.coldest_c,
            hottest_s=self.hottest_s,
            coldest_s=self.coldest_s,
            out_of_band_s=self.out_of_band_s,
            degree_hours=self.degree_seconds / 3_600.0,
            starts_s=tuple(self.starts_s),
            shortest_rest_s=self.shortest_rest_s,
            compressor_s=self.compressor_s,
            energy_kwh=self.energy_j / 3.6e6,
            evaporated_kg=self.evaporated_kg,
            ticks=self.ticks,
            trace=tuple(self.trace),
            runs=self.runs.end(now_s),
            modes=self.modes.end(now_s),
            told=self.told.end(now_s),
            cutoff_held=self.cutoff_held.end(now_s),
        )
