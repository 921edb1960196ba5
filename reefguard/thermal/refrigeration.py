"""A chiller: what it takes out of the water, what it draws, and what it throws out again.

Sources: the share of Carnot's coefficient of performance is textbook
thermodynamics; the values for small machines (a third of Carnot, 12 K below
the water, 15 K above the air) and the slopes of capacity are common practice
and from memory, on the cautious side of the 0.7 % a kelvin that handbooks
give for condensing temperature.
"""

from dataclasses import dataclass

_KELVIN = 273.15

W_PER_BTU_H = 1.0 / 3.412_142  # NIST SP 811 (2008), appendix B.8, international table Btu
W_PER_TON = 3_516.853  # the same: 12 000 Btu/h
# How far what a bare "hp" label stands for may be off: common practice.
LABEL_HP_UNCERTAINTY = 0.3


@dataclass(frozen=True, slots=True)
class ChillerTraits:
    """A vapour-compression chiller.

    Attributes:
        capacity_w: heat taken from the water at the rating point.
        rated_water_c: water temperature of the rating.
        rated_air_c: temperature of the air around the condenser at the rating.
        share_of_carnot: of the ideal coefficient of performance.
        below_water_k: evaporating temperature below the water.
        above_air_k: condensing temperature above the air.
        per_air_k: capacity lost for each kelvin of warmer air, as a share.
        per_water_k: capacity lost for each kelvin of colder water, as a share.
        trips_at_air_c: its own protection stops it in air this hot.
    """

    capacity_w: float
    rated_water_c: float = 26.0
    rated_air_c: float = 30.0
    share_of_carnot: float = 0.30
    below_water_k: float = 12.0
    above_air_k: float = 15.0
    per_air_k: float = 0.012
    per_water_k: float = 0.025
    trips_at_air_c: float = 45.0

    def derating(self, water_c: float, air_c: float) -> float:
        """Return the share of the rated capacity that is left; never below nought."""
        share = (
            1.0
            - self.per_air_k * (air_c - self.rated_air_c)
            + self.per_water_k * (water_c - self.rated_water_c)
        )
        return max(0.0, share)

    def cooling_w(self, water_c: float, air_c: float) -> float:
        """Return the heat taken from the water; nought where its own protection has stopped it."""
        if air_c >= self.trips_at_air_c:
            return 0.0
        return self.capacity_w * self.derating(water_c, air_c)

    def performance(self, water_c: float, air_c: float) -> float:
        """Return the coefficient of performance: heat moved for each joule of electricity.

        >>> [round(ChillerTraits(300.0).performance(26.0, air), 2) for air in (25.0, 30.0, 35.0, 40.0)]
        [3.31, 2.78, 2.39, 2.1]
        """
        evaporating_k = water_c - self.below_water_k + _KELVIN
        # In very cold air the machine still has to lift the heat by something.
        lift_k = max(10.0, air_c + self.above_air_k + _KELVIN - evaporating_k)
        return self.share_of_carnot * evaporating_k / lift_k


def runaway_conductance_w_k(load_w: float, water_c: float, traits: ChillerTraits) -> float:
    """Return the cabinet conductance at or below which no equilibrium exists at all.

    A chiller in a closed cabinet breathes the heat it rejects: the cabinet's air settles at
    x above the water with x (1 - Q/(G eta Te)) = (room - water) + (Q/G)(1 + delta/(eta Te)),
    which has no solution for G <= Q/(eta Te).

    Args:
        load_w: heat to be taken from the water, as a mean.
        water_c: held temperature.
        traits: of the chiller.
    """
    evaporating_k = water_c - traits.below_water_k + _KELVIN
    return load_w / (traits.share_of_carnot * evaporating_k)


def cabinet_air_c(
    load_w: float, water_c: float, room_c: float, conductance_w_k: float, traits: ChillerTraits
) -> float | None:
    """Return where the air of a closed cabinet settles around a chiller that moves `load_w`.

    Args:
        load_w: heat taken from the water, as a mean.
        water_c: held temperature.
        room_c: air around the cabinet.
        conductance_w_k: of the cabinet to the room, its ventilation included.
        traits: of the chiller.

    Returns:
        Degrees Celsius, or `None` when there is no equilibrium: it runs away.

    Source:
        The balance G (x + water - room) = Q (1 + 1/COP(x)) with COP = eta Te / (x + delta), solved
        for x in closed form (derived here).
    """
    evaporating_k = water_c - traits.below_water_k + _KELVIN
    ideal = traits.share_of_carnot * evaporating_k
    gain = load_w / (conductance_w_k * ideal)
    if gain >= 1.0:
        return None
    delta_k = traits.below_water_k + traits.above_air_k
    above_k = ((room_c - water_c) + load_w / conductance_w_k * (1.0 + delta_k / ideal)) / (1.0 - gain)
    return water_c + above_k
