"""How the rehearsed tank differs from the planned one: nobody's tank is quite as planned."""

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from reefguard.thermal.plant import Plant

# The share by which each trait may be off, either way.
SPREAD = 0.3
# The data sheet of the DS18B20 allows it this much, either way.
PROBE_ERROR_C = 0.5
# A stainless sheath in moving water, and one in a still corner or a thick pocket: common practice.
_LAG_S = (15.0, 120.0)


@dataclass(frozen=True, slots=True)
class Deviation:
    """One tank's deviations: factors, and errors of each probe.

    Attributes:
        volume: of the water.
        evaporation: of all exchange at the surface.
        chiller: of its capacity.
        room: of the room's volume, envelope and air changes.
        probe_error_c: by the probe's name.
        probe_lag_s: the same.
    """

    volume: float
    evaporation: float
    chiller: float
    room: float
    probe_error_c: Mapping[str, float]
    probe_lag_s: Mapping[str, float]

    def of(self, plant: Plant) -> Plant:
        """Return the plant as it really is."""
        room = plant.room
        chiller = plant.chiller
        return replace(
            plant,
            litres=plant.litres * self.volume,
            exchange_scale=plant.exchange_scale * self.evaporation,
            chiller=None
            if chiller is None
            else replace(chiller, capacity_w=chiller.capacity_w * self.chiller),
            room=replace(
                room,
                volume_m3=room.volume_m3 * self.room,
                conductance_w_k=room.conductance_w_k * self.room,
            ),
        )

    def in_words(self) -> str:
        """Return the deviations in one line."""
        shares = ", ".join(
            f"{name} {share - 1.0:+.0%}"
            for name, share in (
                ("volume", self.volume),
                ("evaporation", self.evaporation),
                ("chiller", self.chiller),
                ("room", self.room),
            )
        )
        errors = ", ".join(f"{name} {error_c:+.2f} °C" for name, error_c in self.probe_error_c.items())
        return f"{shares}; probes off by: {errors}"


def drawn(seed: str, probes: Sequence[str]) -> Deviation:
    """Draw a tank's deviations; the same seed draws the same.

    Args:
        seed: any text.
        probes: names of all probes, the cutoff's too.
    """
    dice = random.Random(seed)  # noqa: S311  nothing secret hangs on it

    def share() -> float:
        return dice.uniform(1.0 - SPREAD, 1.0 + SPREAD)

    return Deviation(
        volume=share(),
        evaporation=share(),
        chiller=share(),
        room=share(),
        probe_error_c={name: dice.uniform(-PROBE_ERROR_C, PROBE_ERROR_C) for name in probes},
        probe_lag_s={name: dice.uniform(*_LAG_S) for name in probes},
    )


def none_at_all(probes: Sequence[str]) -> Deviation:
    """Return the tank exactly as planned, with perfect probes."""
    return Deviation(1.0, 1.0, 1.0, 1.0, dict.fromkeys(probes, 0.0), dict.fromkeys(probes, 30.0))
