"""Heat through the walls of a tank: glass or acrylic, water inside, still room air outside."""

from dataclasses import dataclass
from enum import Enum

from reefguard.thermal.water_surface import STEFAN_BOLTZMANN

_KELVIN = 273.15
# Pumped water along the inside, W/(m2 K); 200 to 500, and hardly matters.
_INSIDE_W_M2_K = 300.0
_EMISSIVITY_OF_GLASS = 0.837  # EN 673 (from memory)


class Material(Enum):
    """What a wall is made of, with its conductivity in W/(m K) (EN 673, and handbook values; from memory)."""

    GLASS = 1.0
    ACRYLIC = 0.19


def nusselt_upright(rayleigh: float, prandtl: float) -> float:
    """Return the mean Nusselt number of natural convection along an upright plate.

    Source:
        Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975).  Worked value: Bergman et al.,
        Fundamentals of Heat and Mass Transfer, example 9.2: Pr 0.69, Gr 2.63e9 give 147.

    >>> round(nusselt_upright(0.69 * 2.63e9, 0.69), 2)
    147.16
    """
    shape = (1.0 + (0.492 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    return float((0.825 + 0.387 * rayleigh ** (1.0 / 6.0) / shape) ** 2)


def convection_w_m2_k(height_m: float, difference_k: float, film_c: float = 27.0) -> float:
    """Return the coefficient of natural convection of air along a wall.

    Args:
        height_m: of the wall.
        difference_k: between wall and air, without its sign.
        film_c: mean of the two.

    Source:
        Churchill and Chu (1975), with the properties of dry air at one atmosphere near 300 K (Bergman
        et al., table A.4): conductivity 0.0263, viscosity 15.89e-6, diffusivity 22.5e-6, Pr 0.707,
        each with its slope.
    """
    above_k = film_c + _KELVIN - 300.0
    conductivity = 0.0263 + 7.4e-5 * above_k
    viscosity = 15.89e-6 + 1.0e-7 * above_k
    diffusivity = 22.5e-6 + 1.48e-7 * above_k
    rayleigh = 9.806_65 / (film_c + _KELVIN) * difference_k * height_m**3 / (viscosity * diffusivity)
    return nusselt_upright(rayleigh, viscosity / diffusivity) * conductivity / height_m


@dataclass(frozen=True, slots=True)
class Walls:
    """The upright walls of a tank.

    Attributes:
        area_m2: of all of them, as far as water stands behind them.
        height_m: of the water behind them.
        thickness_m: of the pane.
    """

    area_m2: float
    height_m: float
    thickness_m: float
    material: Material = Material.GLASS

    def coefficient_w_m2_k(self, difference_k: float, middle_c: float = 27.0) -> float:
        """Return the whole coefficient from water to air.

        The pane's outside stands between water and air: a few rounds find where.

        Args:
            difference_k: water less air; its sign does not matter.
            middle_c: mean of water and air.

        Source:
            The series of resistances; natural convection and radiation outside.  10 mm of glass give
            6 to 7 W/(m2 K): a window's 5.8 counts the wind outdoors.
        """
        whole_k = max(abs(difference_k), 0.05)
        radiative = 4.0 * _EMISSIVITY_OF_GLASS * STEFAN_BOLTZMANN * (middle_c + _KELVIN) ** 3
        inner = 1.0 / _INSIDE_W_M2_K + self.thickness_m / self.material.value
        outside_k = whole_k
        coefficient = 0.0
        for _ in range(8):
            outer = convection_w_m2_k(self.height_m, outside_k, middle_c) + radiative
            coefficient = 1.0 / (inner + 1.0 / outer)
            outside_k = whole_k * coefficient / outer
        return coefficient

    def conductance_w_k(self, difference_k: float, middle_c: float = 27.0) -> float:
        """Return the heat flow of all walls per kelvin between water and air."""
        return self.area_m2 * self.coefficient_w_m2_k(difference_k, middle_c)


def conductance_by_kelvin(walls: Walls, up_to_k: int = 24) -> tuple[float, ...]:
    """Return the conductance for differences of 0, 1, 2 ... kelvin: natural convection grows with them."""
    return tuple(walls.conductance_w_k(float(difference)) for difference in range(up_to_k + 1))


def between(table: tuple[float, ...], difference_k: float) -> float:
    """Return the conductance for any difference, from such a table; beyond its end, its last.

    >>> between((5.0, 6.0, 7.0), -1.5)
    6.5
    """
    magnitude = abs(difference_k)
    below = int(magnitude)
    if below >= len(table) - 1:
        return table[-1]
    return table[below] + (magnitude - below) * (table[below + 1] - table[below])
