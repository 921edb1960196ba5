"""One cell of a weather file: a number in its bounds, nothing measured, or a problem with its line."""

import csv
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

from reefguard.settings.problems import Place, Problem
from reefguard.settings.quantities import (
    SHARE,
    TEMPERATURE,
    Bounds,
    Measure,
    Scale,
)

_NUMBER = re.compile(r"[+-]?(?:[0-9]{1,9}(?:\.[0-9]{0,9})?|\.[0-9]{1,9})")
_NOTHING = frozenset({"", "-", "na", "n/a", "nan", "none", "null"})
_OR_DELETE = "or delete the line: up to 3 h without one are bridged"

# The hottest air measured is 56.7 °C, Furnace Creek, 1913 (World Meteorological Organization; from memory).
AIR: Final = Bounds(
    -60.0,
    60.0,
    too_low="colder than any place this program plans for",
    too_high="no air outdoors has been so hot",
)
# "\maximum 110": EnergyPlus, Auxiliary Programs, EPW data dictionary, field N8.  What is above 100 is fog
# and a sensor that reads a little high; it is taken as saturated.
HUMIDITY: Final = Bounds(0.0, 1.1, too_low="no air is so dry", too_high="no air holds so much vapour")
# The same, field N9.
PRESSURE: Final = Bounds(31_000.0, 120_000.0, too_low="no place is so high", too_high="no place is so low")
_PRESSURE: Final = Measure("a pressure", "101325 Pa", {"Pa": Scale()})


class UnfitError(Exception):
    """A line cannot be taken; it holds the problem."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem)
        self.problem = problem


class Cell(NamedTuple):
    """What stands in one place of a file."""

    place: Place
    text: str


def cell_in(cells: list[str], index: int, line: int, key: str) -> Cell:
    """Return one cell of a line.

    Raises:
        UnfitError: the line is too short for it.
    """
    if index >= len(cells):
        raise UnfitError(
            Problem(
                Place(line, 1),
                key,
                "",
                f"the line ends before it: it has {len(cells)} cells, and this would be number {index + 1}",
                f"complete the line, {_OR_DELETE}",
            )
        )
    return Cell(Place(line, 1 + sum(len(cell) + 1 for cell in cells[:index])), cells[index].strip())


def cells_of(line: str, separator: str) -> list[str]:
    """Return the cells of a line, quotation marks around them taken off."""
    if '"' not in line:
        return line.split(separator)
    return next(csv.reader((line,), delimiter=separator))


def _never(_raw: float) -> bool:
    return False


@dataclass(frozen=True, slots=True)
class Column:
    """What one column of a format holds.

    Attributes:
        key: what it is called there.
        measure: the kind of quantity.
        bounds: what it may be, in the base unit.
        size: of the column's unit, in the base unit.
        zero: of the base unit, in the column's.
        missing: tells a number that stands for nothing measured.
        if_too_high: what else a number above the bounds can mean, before the rest of the mend.
    """

    key: str
    measure: Measure
    bounds: Bounds
    size: float = 1.0
    zero: float = 0.0
    missing: Callable[[float], bool] = _never
    if_too_high: str = ""

    def read(self, cell: Cell) -> float | None:
        """Return the value in the base unit; `None` where nothing was measured.

        Raises:
            UnfitError: it is no number, or one that cannot be.
        """
        if cell.text.lower() in _NOTHING:
            return None
        if not _NUMBER.fullmatch(cell.text):
            mend = (
                "write the number alone, with a decimal point; leave the cell empty if nothing was measured"
            )
            raise self._unfit(cell, "not a plain number", mend)
        raw = float(cell.text)
        if self.missing(raw):
            return None
        value = (raw - self.zero) * self.size
        if self.bounds.low <= value <= self.bounds.high:
            return value
        raise self._out_of_bounds(cell, value)

    def _out_of_bounds(self, cell: Cell, value: float) -> UnfitError:
        measure, bounds = self.measure, self.bounds
        mend = f"write what was measured ({bounds.words(measure)}), {_OR_DELETE}"
        if value < bounds.low:
            return self._unfit(cell, f"{measure.below} {measure.show(bounds.low)}: {bounds.too_low}", mend)
        why = f"{measure.above} {measure.show(bounds.high)}: {bounds.too_high}"
        return self._unfit(cell, why, f"{self.if_too_high}{mend}")

    def _unfit(self, cell: Cell, why: str, mend: str) -> UnfitError:
        return UnfitError(Problem(cell.place, self.key, cell.text, why, mend))


def temperature_column(
    key: str,
    size: float = 1.0,
    zero: float = 0.0,
    missing: Callable[[float], bool] = _never,
    if_too_high: str = "",
) -> Column:
    """Return a column of temperatures, degrees Celsius when read."""
    return Column(key, TEMPERATURE, AIR, size, zero, missing, if_too_high)


def humidity_column(key: str, missing: Callable[[float], bool] = _never) -> Column:
    """Return a column of relative humidities in percent, a share when read."""
    return Column(key, SHARE, HUMIDITY, size=0.01, missing=missing)


def pressure_column(key: str, size: float, missing: Callable[[float], bool]) -> Column:
    """Return a column of pressures at the station, pascals when read."""
    return Column(key, _PRESSURE, PRESSURE, size, missing=missing)
