"""A file of weather, read into a series of hours whatever format it has.

It is told by its content: a typical year as EPW, TMY3 or TMY2 (see
`weather_years`), or a table of the keeper's own (see `weather_csv`).
"""

from collections.abc import Callable, Iterator, Sequence

from reefguard.planning import weather_csv, weather_years
from reefguard.planning.weather_cells import UnfitError
from reefguard.planning.weather_series import Reading, series_of
from reefguard.settings.problems import TOP, Place, Problem
from reefguard.thermal.moist_air import STANDARD_PRESSURE_PA
from reefguard.thermal.weather import HourlyWeather

# A year by the minute, with room to spare.
_LARGEST_BYTES = 20_000_000
_LONGEST_LINE = 10_000
_KINDS = f"a table that begins with the line `{weather_csv.EXAMPLE}`, or a typical year as EPW, TMY3 or TMY2"

_Reader = Callable[[Sequence[str], float], Iterator[Reading | UnfitError]]


def read_weather(
    content: bytes, pressure_pa: float = STANDARD_PRESSURE_PA
) -> HourlyWeather | tuple[Problem, ...]:
    """Return the hours a file of weather holds, or all that is wrong with it.  It never raises.

    Args:
        content: of the file, up to 20 MB.
        pressure_pa: of the air at the place, 31 000 to 120 000, where the file does not tell it itself;
            a table of the keeper's own never does.
    """
    if len(content) > _LARGEST_BYTES:
        return _refused(
            f"{len(content) / 1e6:.0f} MB, and at most {_LARGEST_BYTES / 1e6:.0f} are read",
            "keep the summer only, or a line every ten minutes",
        )
    if b"\0" in content:
        return _refused("not a text, or one in UTF-16", f"save it as UTF-8: {_KINDS}")
    if not content.strip():
        return _refused("the file is empty", f"take {_KINDS}")
    lines = _lines_of(content)
    for number, line in enumerate(lines, 1):
        if len(line) > _LONGEST_LINE:
            return (Problem(Place(number, 1), "", line, "no line of weather is so long", f"take {_KINDS}"),)
    reader = _reader_for(lines)
    if reader is None:
        first = next((line for line in lines if line.strip()), "")
        return _refused("no kind of weather file this program reads", f"take {_KINDS}", first)
    return series_of(reader(lines, pressure_pa))


def _lines_of(content: bytes) -> list[str]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        # Spreadsheets on Windows write the degree sign so, and old EPW files the names of places.
        text = content.decode("cp1252", errors="replace")
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def _reader_for(lines: Sequence[str]) -> _Reader | None:
    if weather_years.is_epw(lines):
        return weather_years.epw_readings
    if weather_years.is_tmy3(lines):
        return weather_years.tmy3_readings
    if weather_years.is_tmy2(lines):
        return weather_years.tmy2_readings
    heading = next((line for line in lines if line.strip() and not line.startswith("#")), "")
    return weather_csv.readings if weather_csv.is_heading(heading) else None


def _refused(why: str, mend: str, read: str = "") -> tuple[Problem, ...]:
    return (Problem(TOP, "", read, why, mend),)
