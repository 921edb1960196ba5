"""What the tank was like, as rows of the history database: what the guard keeps, and others read.

Readings are kept as means over a minute with their extremes, then over five
minutes, then over an hour; outputs as intervals; days as totals.  Times are
Unix seconds, temperatures thousandths of a degree Celsius, humidities
hundredths of a per cent: whole numbers, for they take less room.
"""

from typing import Final, Literal, NamedTuple

FILE_NAME: Final = "history.db"

# "RGHI", for file(1) and for ourselves: a database of somebody else's is left alone.
APPLICATION_ID: Final = 0x52474849
USER_VERSION: Final = 1

MINUTE_S, FIVE_MINUTES_S, HOUR_S = 60, 300, 3_600


class Series(NamedTuple):
    """What was measured.

    Attributes:
        name: the probe's, or `room`.
        kind: `water` (a probe in the water), `room` (air temperature) or `humidity` (of the room).
    """

    name: str
    kind: Literal["water", "room", "humidity"]


class Span(NamedTuple):
    """A reading over a minute, five minutes or an hour.

    Attributes:
        from_s: its start, Unix seconds.
        lasts_s: 60, 300 or 3600.
        mean: degrees Celsius; of humidity a share, 0 to 1.
        low: the lowest in it.
        high: the highest in it.
        good: the share of its samples that could be used, above 0: where there was none, there is no span.
    """

    from_s: float
    lasts_s: float
    mean: float
    low: float
    high: float
    good: float


class Interval(NamedTuple):
    """An output was on.

    Attributes:
        output: its name.
        from_s: since when, Unix seconds.
        until_s: until when; the moment of the last commit while it goes on.
        running: whether it went on at that moment.
        start: whether it began with the output's start; not so where the guard began to look later.
    """

    output: str
    from_s: float
    until_s: float
    running: bool
    start: bool


class DayTotals(NamedTuple):
    """A local day, in totals; they stay when its spans are gone.

    Attributes:
        date: ISO 8601.
        low_c: of the coldest probe; `None` where the water was never known.
        high_c: of the warmest probe.
        mean_c: of the warmest probe.
        known_s: how long the water was known.
        guarded_s: how long the guard was at work.
        above_s: how long the warmest probe was above the safe band.
        below_s: how long the coldest was below it.
        above_k_h: kelvin hours above the safe band.
        below_k_h: kelvin hours below it.
        ran_s: how long each output ran.
        starts: how often each output started.
    """

    date: str
    low_c: float | None
    high_c: float | None
    mean_c: float | None
    known_s: float
    guarded_s: float
    above_s: float
    below_s: float
    above_k_h: float
    below_k_h: float
    ran_s: dict[str, float]
    starts: dict[str, int]


class Past(NamedTuple):
    """What the history holds of a stretch of time.

    Attributes:
        from_s: Unix seconds.
        until_s: Unix seconds.
        span_s: how fine its spans are: 60, 300 or 3600.
        series: spans by what was measured, in order of time; a gap is a gap.
        intervals: in order of time; cut to the stretch.
    """

    from_s: float
    until_s: float
    span_s: float
    series: dict[Series, tuple[Span, ...]]
    intervals: tuple[Interval, ...]
