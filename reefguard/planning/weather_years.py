"""Typical years in the formats they are published in: EPW, TMY3 and TMY2.

Their hours are numbered 1 to 24; what was measured in hour 15 was measured at
15:00, local standard time.  The months come from different years, so the year
a line names is passed over: the series is dated in a nominal year of 365 days,
and a 29 February is left out.

Dew point and relative humidity do not always agree, and the dew point is
taken: in the TMY3 file of Greensboro (723170) they differ by more than three
points in 605 hours, by up to 33; in the ten of these hours above 20 °C the
humidity ratio by the relative humidity strays from the mean of the hours beside
it nine times as far as that by the dew point does, and the vapour in air
outdoors changes slowly.  (Over all 605 it is only half as far again.)  The
price: a program that takes the relative humidity differs in such hours.  Below
freezing the dew point is read over ice, as ASHRAE's equation 5 is.

Sources:
    EPW: U.S. Department of Energy, EnergyPlus, Auxiliary Programs, "EnergyPlus Weather File (EPW)
    Data Dictionary", with the numbers that stand for missing.
    TMY3: Wilcox and Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156 (2008); that -9900 stands for
    missing is from memory.
    TMY2: Marion and Urban, User's Manual for TMY2s, NREL/SP-463-7668 (1995), section 3 and table 3-2; the
    numbers that stand for missing are from memory.
"""

import re
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from reefguard.planning.weather_cells import (
    Cell,
    Column,
    UnfitError,
    cell_in,
    cells_of,
    humidity_column,
    pressure_column,
    temperature_column,
)
from reefguard.planning.weather_series import Reading
from reefguard.settings.problems import Place, Problem
from reefguard.thermal.moist_air import humidity_ratio, saturated_pa
from reefguard.thermal.weather import OutsideAir, saturated_ratio

_NOMINAL_YEAR = 2001


class _Columns(NamedTuple):
    temperature: Column
    dew_point: Column
    humidity: Column
    pressure: Column


class _Line(NamedTuple):
    """The cells of a line that count here."""

    month: Cell
    day: Cell
    since_midnight: timedelta
    temperature: Cell
    dew_point: Cell
    humidity: Cell
    pressure: Cell


_EPW = _Columns(
    temperature_column("dry bulb temperature", missing=lambda raw: raw >= 99.9),
    temperature_column("dew point temperature", missing=lambda raw: raw >= 99.9),
    humidity_column("relative humidity", missing=lambda raw: raw >= 999.0),
    pressure_column("atmospheric station pressure", 1.0, missing=lambda raw: raw >= 999_999.0),
)
_TMY3 = _Columns(
    temperature_column("Dry-bulb (C)", missing=lambda raw: raw <= -9_900.0),
    temperature_column("Dew-point (C)", missing=lambda raw: raw <= -9_900.0),
    humidity_column("RHum (%)", missing=lambda raw: raw <= -9_900.0),
    pressure_column("Pressure (mbar)", 100.0, missing=lambda raw: raw <= -9_900.0),
)
_TMY2 = _Columns(
    temperature_column("dry bulb temperature", size=0.1, missing=lambda raw: raw >= 9_999.0),
    temperature_column("dew point temperature", size=0.1, missing=lambda raw: raw >= 9_999.0),
    humidity_column("relative humidity", missing=lambda raw: raw >= 999.0),
    pressure_column("atmospheric pressure", 100.0, missing=lambda raw: raw >= 9_999.0),
)


def is_epw(lines: Sequence[str]) -> bool:
    """Tell an EPW file by its first word."""
    return lines[0].upper().startswith("LOCATION,")


def is_tmy3(lines: Sequence[str]) -> bool:
    """Tell a TMY3 file by its second line, the names of its columns."""
    return len(lines) > 1 and lines[1].startswith("Date (MM/DD/YYYY),Time (HH:MM),")


def is_tmy2(lines: Sequence[str]) -> bool:
    """Tell a TMY2 file by its header (WBAN number) and by the digits its second line begins with."""
    return (
        len(lines) > 1
        and re.match(r" [0-9]{5} ", lines[0]) is not None
        and re.match(r" [0-9]{16}", lines[1]) is not None
    )


def epw_readings(lines: Sequence[str], pressure_pa: float) -> Iterator[Reading | UnfitError]:
    """Yield the readings of an EPW file.

    Args:
        lines: of the file.
        pressure_pa: of the air where a line has none; so for the other formats.
    """
    dating = _Dating()
    steps_an_hour: int | None = None
    for number, line in enumerate(lines, 1):
        cells = cells_of(line, ",")
        try:
            if steps_an_hour is not None and line.strip():
                yield from dating.reading(_epw_line(cells, number, steps_an_hour), number, _EPW, pressure_pa)
            elif cells[0].strip().upper() == "DATA PERIODS":
                steps_an_hour = _whole(cell_in(cells, 2, number, "records an hour"), "records an hour", 1, 60)
        except UnfitError as unfit:
            yield unfit
            if steps_an_hour is None:
                return
    if steps_an_hour is None:
        why = "an EPW file without its line `DATA PERIODS`, after which the hours begin"
        yield UnfitError(Problem(Place(1, 1), "", "", why, "fetch the file again: this one is incomplete"))


def _epw_line(cells: list[str], number: int, steps_an_hour: int) -> _Line:
    hour = _whole(cell_in(cells, 3, number, "hour"), "hour", 1, 24)
    minute = 60
    if steps_an_hour > 1:
        # The last record of an hour has minute 60 or 0.
        minute = _whole(cell_in(cells, 4, number, "minute"), "minute", 0, 60) or 60
    return _Line(
        cell_in(cells, 1, number, "month"),
        cell_in(cells, 2, number, "day"),
        timedelta(hours=hour - 1, minutes=minute),
        cell_in(cells, 6, number, _EPW.temperature.key),
        cell_in(cells, 7, number, _EPW.dew_point.key),
        cell_in(cells, 8, number, _EPW.humidity.key),
        cell_in(cells, 9, number, _EPW.pressure.key),
    )


def tmy3_readings(lines: Sequence[str], pressure_pa: float) -> Iterator[Reading | UnfitError]:
    """Yield the readings of a TMY3 file."""
    dating = _Dating()
    names = cells_of(lines[1], ",")
    lacking = [column.key for column in _TMY3 if column.key not in names]
    if lacking:
        why = "a TMY3 file without this column"
        yield UnfitError(
            Problem(Place(2, 1), ", ".join(lacking), "", why, "fetch the file again: this one was changed")
        )
        return
    places = [names.index(column.key) for column in _TMY3]
    for number, line in enumerate(lines[2:], 3):
        if not line.strip():
            continue
        cells = cells_of(line, ",")
        try:
            yield from dating.reading(_tmy3_line(cells, number, places), number, _TMY3, pressure_pa)
        except UnfitError as unfit:
            yield unfit


def _tmy3_line(cells: list[str], number: int, places: list[int]) -> _Line:
    day = cell_in(cells, 0, number, "date")
    time = cell_in(cells, 1, number, "time")
    month_and_day = re.fullmatch(r"([0-9]{1,2})/([0-9]{1,2})/[0-9]{4}", day.text)
    clock = re.fullmatch(r"([0-9]{1,2}):([0-9]{2})", time.text)
    if month_and_day is None:
        raise _no_time(day, "date", "no date as TMY3 writes them", "write it like `07/14/1998`")
    if clock is None:
        raise _no_time(time, "time", "no time as TMY3 writes them", "write it like `15:00`, 01:00 to 24:00")
    hour = _whole(time._replace(text=clock.group(1)), "time", 0, 24)
    minute = _whole(time._replace(text=clock.group(2)), "time", 0, 59)
    air_c, dew_point, humidity, pressure = (
        cell_in(cells, place, number, column.key) for place, column in zip(places, _TMY3, strict=True)
    )
    return _Line(
        day._replace(text=month_and_day.group(1)),
        day._replace(text=month_and_day.group(2)),
        timedelta(hours=hour, minutes=minute),
        air_c,
        dew_point,
        humidity,
        pressure,
    )


def tmy2_readings(lines: Sequence[str], pressure_pa: float) -> Iterator[Reading | UnfitError]:
    """Yield the readings of a TMY2 file, whose fields have fixed places."""
    dating = _Dating()
    for number, line in enumerate(lines[1:], 2):
        if not line.strip():
            continue
        try:
            yield from dating.reading(_tmy2_line(line, number), number, _TMY2, pressure_pa)
        except UnfitError as unfit:
            yield unfit


def _tmy2_line(line: str, number: int) -> _Line:
    def field(first: int, last: int) -> Cell:
        return Cell(Place(number, first), line[first - 1 : last].strip())

    # What follows is told of a line that ends early, rather than taken for "nothing measured".
    if len(line) < 88:
        why = f"a line of TMY2 data has 142 characters, this one {len(line)}"
        raise UnfitError(Problem(Place(number, 1), "", line, why, "fetch the file again, or delete the line"))
    return _Line(
        field(4, 5),
        field(6, 7),
        timedelta(hours=_whole(field(8, 9), "hour", 1, 24)),
        field(68, 71),
        field(74, 77),
        field(80, 82),
        field(85, 88),
    )


class _Dating:
    """Dates the lines of one file in the nominal year; a file that passes New Year goes on in the next."""

    def __init__(self) -> None:
        self._year = _NOMINAL_YEAR
        self._month = 0

    def reading(self, line: _Line, number: int, columns: _Columns, pressure_pa: float) -> Iterator[Reading]:
        """Yield the reading of a line, if it has one.

        Raises:
            UnfitError: something in it cannot be.
        """
        month = _whole(line.month, "month", 1, 12)
        day = _whole(line.day, "day", 1, 31)
        air = _air_of(line, columns, pressure_pa)
        if air is None or (month, day) == (2, 29):
            return
        if month < self._month:
            self._year += 1
        self._month = month
        try:
            begin = datetime(self._year, month, day)  # noqa: DTZ001  # local standard time of a nominal year
        except ValueError:
            raise _no_time(line.day, "day", f"month {month} has no such day", "mend the line") from None
        yield Reading(begin + line.since_midnight, number, air)


def _air_of(line: _Line, columns: _Columns, pressure_pa: float) -> OutsideAir | None:
    air_c = columns.temperature.read(line.temperature)
    dew_point_c = columns.dew_point.read(line.dew_point)
    humidity = columns.humidity.read(line.humidity)
    measured_pa = columns.pressure.read(line.pressure)
    if air_c is None:
        return None
    pressure_pa = pressure_pa if measured_pa is None else measured_pa
    if dew_point_c is not None:
        return OutsideAir(air_c, saturated_ratio(min(dew_point_c, air_c), pressure_pa))
    if humidity is not None:
        return OutsideAir(air_c, humidity_ratio(min(humidity, 1.0) * saturated_pa(air_c), pressure_pa))
    return None


def _whole(cell: Cell, key: str, low: int, high: int) -> int:
    if re.fullmatch(r"[0-9]{1,4}", cell.text) and low <= int(cell.text) <= high:
        return int(cell.text)
    raise _no_time(
        cell, key, f"no whole number from {low} to {high}", "mend the line, or fetch the file again"
    )


def _no_time(cell: Cell, key: str, why: str, mend: str) -> UnfitError:
    return UnfitError(Problem(cell.place, key, cell.text, why, mend))
