"""A table of the keeper's own: time, temperature and humidity, with units in the heading.

    time,temperature °C,humidity %
    2026-07-14T15:00,34.2,38

The columns stand in any order, others beside them are passed over.  Cells are
parted by commas or by semicolons; in a table with semicolons a decimal comma
is read as a point.  Times follow ISO 8601 and are local; where they have an
offset, that of the first line is local time throughout, so that a day does
not jump where the clocks change.
"""

import re
from collections.abc import Iterator, Sequence
from datetime import datetime, tzinfo
from typing import Final, NamedTuple

from reefguard.planning.weather_cells import (
    Cell,
    Column,
    UnfitError,
    cell_in,
    cells_of,
    humidity_column,
    temperature_column,
)
from reefguard.planning.weather_series import Reading
from reefguard.settings.problems import Place, Problem
from reefguard.thermal.moist_air import humidity_ratio, saturated_pa
from reefguard.thermal.weather import OutsideAir

EXAMPLE: Final = "time,temperature °C,humidity %"

_TIME = re.compile(r"(?:local )?(?:date ?)?time(?: ?stamp)?|date|when")
_WHERE = r"(?:air |outside |outdoor |outdoors |ambient |dry ?bulb )?"
_TEMPERATURE = re.compile(rf"{_WHERE}(?:air |dry ?bulb )?(?:temperature|temp|dry ?bulb) ?(.*)")
_HUMIDITY = re.compile(rf"{_WHERE}(?:relative ?|rel ?)?(?:humidity|hum|rh) ?(.*)")
_UNITS_C = frozenset({"°c", "c", "deg c", "degc", "celsius"})
_UNITS_F = frozenset({"°f", "f", "deg f", "degf", "fahrenheit"})
_UNITS_SHARE = frozenset({"%", "%rh", "percent", "pct"})
_EARLIEST, _LATEST = 1900, 2200


class _Table(NamedTuple):
    separator: str
    time: int
    temperature: tuple[int, Column]
    humidity: tuple[int, Column]


def is_heading(line: str) -> bool:
    """Tell whether a line names at least two of the three columns."""
    names = [_plain(name) for name in cells_of(line, _separator(line))]
    patterns = (_TIME, _TEMPERATURE, _HUMIDITY)
    return sum(any(pattern.fullmatch(name) for name in names) for pattern in patterns) >= 2


def readings(lines: Sequence[str], pressure_pa: float) -> Iterator[Reading | UnfitError]:
    """Yield the reading of each line that has one.

    Args:
        lines: of the file; the first that is neither blank nor a comment (`#`) is the heading.
        pressure_pa: of the air.
    """
    table: _Table | None = None
    zone: tzinfo | None = None
    begun = False
    for number, line in enumerate(lines, 1):
        if not line.strip() or line.startswith("#"):
            continue
        try:
            if table is None:
                table = _table_of(line, number)
                continue
            cells = cells_of(line, table.separator)
            air = _air_of(cells, number, table, pressure_pa)
            if air is None:
                continue
            cell = cell_in(cells, table.time, number, "time")
            when = _time_of(cell)
            if not begun:
                begun, zone = True, when.tzinfo
            yield Reading(_local(when, zone, cell), number, air)
        except UnfitError as unfit:
            yield unfit
            if table is None:
                return


def _separator(line: str) -> str:
    return ";" if line.count(";") > line.count(",") else ","


def _plain(name: str) -> str:
    """Return a heading in small letters, its brackets, underscores and hyphens made blanks.

    >>> _plain("Air_Temperature [°C]")
    'air temperature °c'
    """
    name = name.replace("\u00ba", "°").replace("\u2103", "°c").replace("\u2109", "°f")
    return re.sub(r"[\s_()\[\]/,-]+", " ", name.lower().replace("° ", "°")).strip()


def _table_of(line: str, number: int) -> _Table:
    separator = _separator(line)
    names = cells_of(line, separator)
    time, _ = _only(names, _TIME, "time", number)
    at, unit = _only(names, _TEMPERATURE, "temperature", number)
    if unit in _UNITS_F:
        # NIST SP 811 (2008), appendix B.8.
        temperature = temperature_column("temperature °F", size=5.0 / 9.0, zero=32.0)
    elif unit in _UNITS_C:
        hint = "if these are °F, name the column `temperature °F`; if not, "
        temperature = temperature_column("temperature °C", if_too_high=hint)
    else:
        raise _without_unit(number, "temperature", names[at], "`temperature °C` or `temperature °F`")
    humid, unit = _only(names, _HUMIDITY, "humidity", number)
    if unit not in _UNITS_SHARE:
        raise _without_unit(number, "humidity", names[humid], "`humidity %`")
    return _Table(separator, time, (at, temperature), (humid, humidity_column("humidity %")))


def _only(names: list[str], pattern: re.Pattern[str], key: str, number: int) -> tuple[int, str]:
    """Return where the one column stands whose name matches, and the unit in its name."""
    matches = [
        (index, match) for index, name in enumerate(names) if (match := pattern.fullmatch(_plain(name)))
    ]
    if len(matches) == 1:
        index, match = matches[0]
        return index, match.group(match.re.groups)
    read, why = ", ".join(names), "the heading names no column for it"
    if matches:
        read = ", ".join(names[index] for index, _ in matches)
        why = f"the heading names {len(matches)} columns for it"
    mend = f"name one column so, as in `{EXAMPLE}`, and the others otherwise"
    raise UnfitError(Problem(Place(number, 1), key, read, why, mend))


def _without_unit(number: int, key: str, name: str, mend: str) -> UnfitError:
    why = "its name has no unit, or none that is known"
    return UnfitError(Problem(Place(number, 1), key, name, why, f"name the column {mend}"))


def _air_of(cells: list[str], number: int, table: _Table, pressure_pa: float) -> OutsideAir | None:
    at, column = table.temperature
    air_c = column.read(_pointed(cell_in(cells, at, number, column.key), table.separator))
    at, column = table.humidity
    humidity = column.read(_pointed(cell_in(cells, at, number, column.key), table.separator))
    if air_c is None or humidity is None:
        return None
    vapour_pa = min(humidity, 1.0) * saturated_pa(air_c)
    return OutsideAir(air_c, humidity_ratio(vapour_pa, pressure_pa))


def _pointed(cell: Cell, separator: str) -> Cell:
    return cell._replace(text=cell.text.replace(",", ".")) if separator == ";" else cell


def _time_of(cell: Cell) -> datetime:
    try:
        when = datetime.fromisoformat(cell.text)
    except ValueError:
        when = None
    if when is None or not _EARLIEST <= when.year <= _LATEST:
        raise UnfitError(
            Problem(
                cell.place,
                "time",
                cell.text,
                f"no time by ISO 8601 from {_EARLIEST} to {_LATEST}",
                "write year, month, day, hour and minute, as in `2026-07-14T15:00`",
            )
        )
    return when


def _local(when: datetime, zone: tzinfo | None, cell: Cell) -> datetime:
    """Return the time by the clock of the first line."""
    if (when.tzinfo is None) != (zone is None):
        raise UnfitError(
            Problem(
                cell.place,
                "time",
                cell.text,
                "some times have an offset and some have none",
                "write all with an offset, as in `2026-07-14T15:00+02:00`, or all without",
            )
        )
    return when if zone is None else when.astimezone(zone).replace(tzinfo=None)
