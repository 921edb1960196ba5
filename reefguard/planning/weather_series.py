"""Readings of the air outdoors, whenever they were taken, made a series of hours.

Between two readings up to three hours apart the air is taken to have changed in
a straight line, as it is at each full hour.  Readings taken more often are not
averaged: the error of a sensor is small beside a day's swing, and what was
measured at a full hour stays what it is.  The first and the last reading hold
up to three hours towards midnight; what is left of a day beyond that is left out.
"""

from collections.abc import Iterable, Iterator
from datetime import date, datetime, time, timedelta
from typing import Final, NamedTuple

from reefguard.planning.weather_cells import UnfitError
from reefguard.settings.problems import TOP, Place, Problem
from reefguard.thermal.weather import HourlyWeather, OutsideAir

_BRIDGED: Final = timedelta(hours=3)
_MOST_TOLD: Final = 20


class Reading(NamedTuple):
    """The air outdoors, once.

    Attributes:
        when: local time.
        line: where it stands in the file.
        air: what was measured.
    """

    when: datetime
    line: int
    air: OutsideAir


def series_of(found: Iterable[Reading | UnfitError]) -> HourlyWeather | tuple[Problem, ...]:
    """Return the hours of whole days, or what is wrong with the lines; of many problems the first twenty.

    Args:
        found: the readings in the order of the file, and the lines that hold none; a line without
            a measurement is just left out.
    """
    problems: list[Problem] = []
    first_day, hours = _hourly(_in_order(found, problems))
    if problems:
        return tuple(problems)
    whole = len(hours) // 24 * 24
    if whole == 0:
        return (
            Problem(
                TOP,
                "",
                "",
                "its readings make no whole day, from midnight to midnight",
                "take a file of several days, the hottest of a summer among them",
            ),
        )
    return HourlyWeather(first_day, tuple(hours[:whole]))


def _in_order(found: Iterable[Reading | UnfitError], problems: list[Problem]) -> Iterator[Reading]:
    """Pass the readings on up to the first problem; collect the problems."""
    last: Reading | None = None
    # The hours that an unfit line leaves out are no gap of their own.
    excused = False
    for item in found:
        if isinstance(item, UnfitError):
            problems.append(item.problem)
            excused = True
        else:
            wrong = None if last is None else _out_of_order(last, item, excused)
            if wrong is not None:
                problems.append(wrong)
            if last is None or item.when > last.when:
                last = item
                excused = False
            if not problems:
                yield item
        if len(problems) == _MOST_TOLD:
            problems.append(
                Problem(
                    problems[-1].place,
                    "",
                    "",
                    f"{_MOST_TOLD} problems up to here; the rest of the file was not read",
                    "mend these first, then try again",
                )
            )
            return


def _out_of_order(last: Reading, reading: Reading, excused: bool) -> Problem | None:
    if reading.when <= last.when:
        why = "not later than the reading before it"
        mend = (
            "put the lines in the order of time, each time once; where the clock went back in autumn, "
            "write times with their offset, as in `2025-10-26T02:30+01:00`"
        )
    elif reading.when - last.when > _BRIDGED and not excused:
        why = "the air between is anyone's guess: more than 3 h after the reading before it"
        mend = "fill the gap, or keep only the lines on one side of it"
    else:
        return None
    before = f"{last.when.isoformat(' ', 'minutes')} (line {last.line})"
    return Problem(
        Place(reading.line, 1), "time", reading.when.isoformat(" ", "minutes"), f"{why}, {before}", mend
    )


def _hourly(readings: Iterable[Reading]) -> tuple[date | None, list[OutsideAir]]:
    """Return the first day and the air at each full hour from its midnight on."""
    first_day: date | None = None
    midnight = datetime.min  # noqa: DTZ901  # local time; the first reading sets it
    hours: list[OutsideAir] = []
    hour, air = 0.0, OutsideAir(0.0, 0.0)
    for reading in readings:
        if first_day is None:
            first_day = _first_whole_day(reading.when)
            midnight = datetime.combine(first_day, time())
            # From midnight on, the air is that of the first reading.
            air = reading.air
        earlier_hour, earlier = hour, air
        hour, air = (reading.when - midnight) / timedelta(hours=1), reading.air
        while len(hours) <= hour:
            share = (len(hours) - earlier_hour) / (hour - earlier_hour) if hour > earlier_hour else 1.0
            hours.append(
                OutsideAir(
                    (1.0 - share) * earlier.air_c + share * air.air_c,
                    (1.0 - share) * earlier.humidity_ratio + share * air.humidity_ratio,
                )
            )
    lacking = -len(hours) % 24
    if lacking <= _BRIDGED / timedelta(hours=1):
        hours.extend([air] * lacking)
    return first_day, hours


def _first_whole_day(when: datetime) -> date:
    since_midnight = when - datetime.combine(when.date(), time())
    return when.date() if since_midnight <= _BRIDGED else when.date() + timedelta(days=1)
