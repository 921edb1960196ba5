"""What the tank was like, as rows of the history database: the contract between the guard and its readers.

Readings are kept as means over a minute with their extremes, then over five
minutes, then over an hour; outputs as intervals; days as totals.  Other
programs may read the file; its tables are:

`series`       what is measured: `name`, and `kind` (`water`, `room`, `humidity`).
`minutes`      readings over a minute: `key` is 256 times the number of the minute (its beginning, `_s`,
               divided by 60) plus the series' `id`; `mean`, `low`, `high`, and for how much of it there was
               no usable reading (`lost_ms`).  Where there was none at all, there is no row.
`five_minutes`, `hours`   the same over a longer span; made some hours later.
`readings`     the three in one, spelled out: `lasts_s`, `from_s`, `name`, `kind`, `mean`, `low`, `high`, and
               for how much of the span there was a usable reading (`good_ms`).
`runs`         an output was on, `from_ms` to `until_ms`; `start`: it began there; `running`: it still was on
               when last committed.  A run longer than a day goes on in a further row without `start`.
`watches`      when the guard was at work and recorded, without a break.
`days`         totals of a local day: extremes and times as in `DayTotals`; the mean of the warmest probe is
               `warmest_mc_s / (known_ms / 1000)`; hours outside the band are `above_mk_s` and `below_mk_s`.
`day_outputs`  how long each output ran on that day, and how often it started.
`marks`        `folded until`: of the minutes before, five minutes and hours are made.  `60 from`, `300 from`,
               `3600 from`: what is older is no longer kept as finely.

`_s` are seconds and `_ms` milliseconds, of Unix time where they say when; temperatures are thousandths of a
degree Celsius (`_mc_s`, `_mk_s`: of a degree or kelvin, times seconds), humidities hundredths of a per cent:
whole numbers, for they take less room.

No moment is recorded twice: what overlaps a watch that is there is refused, so
that a clock set back changes nothing that was written.
"""

from typing import Final, Literal, NamedTuple

FILE_NAME: Final = "history.db"

# "RGHI", for file(1) and for ourselves: a database of somebody else's is left alone.
APPLICATION_ID: Final = 0x52474849

MINUTE_S, FIVE_MINUTES_S, HOUR_S = 60, 300, 3_600

TABLES: Final = {MINUTE_S: "minutes", FIVE_MINUTES_S: "five_minutes", HOUR_S: "hours"}

# A key is a time and a series in one number: rows are added at a table's end, which costs the card least.
MOST_SERIES: Final = 255


def _spelled_out(lasts_s: int) -> str:
    """Return the part of a view that shows one of the tables."""
    return (
        f"SELECT {lasts_s} AS lasts_s, key / 256 * 60 AS from_s, name, kind, mean, low, high, "  # noqa: S608  ours
        f"{lasts_s * 1_000} - lost_ms AS good_ms FROM {TABLES[lasts_s]} JOIN series ON id = key % 256"
    )


# What makes an empty file version 1 (`user_version`).
SCHEMA: Final = (
    """CREATE TABLE series(
 id INTEGER PRIMARY KEY,
 name TEXT NOT NULL,
 kind TEXT NOT NULL,
 UNIQUE(name, kind)
) STRICT""",
    *(
        f"""CREATE TABLE {table}(
 key INTEGER PRIMARY KEY,
 mean INTEGER NOT NULL, low INTEGER NOT NULL, high INTEGER NOT NULL,
 lost_ms INTEGER NOT NULL
) STRICT"""
        for table in TABLES.values()
    ),
    "CREATE VIEW readings AS " + " UNION ALL ".join(map(_spelled_out, TABLES)),
    """CREATE TABLE runs(
 from_ms INTEGER NOT NULL,
 output TEXT NOT NULL,
 until_ms INTEGER NOT NULL,
 start INTEGER NOT NULL,
 running INTEGER NOT NULL,
 PRIMARY KEY(from_ms, output)
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE watches(
 from_ms INTEGER PRIMARY KEY,
 until_ms INTEGER NOT NULL
) STRICT""",
    """CREATE TABLE days(
 date TEXT PRIMARY KEY,
 low INTEGER, high INTEGER,
 known_ms INTEGER NOT NULL, guarded_ms INTEGER NOT NULL,
 above_ms INTEGER NOT NULL, below_ms INTEGER NOT NULL,
 warmest_mc_s INTEGER NOT NULL,
 above_mk_s INTEGER NOT NULL, below_mk_s INTEGER NOT NULL
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE day_outputs(
 date TEXT NOT NULL,
 output TEXT NOT NULL,
 ran_ms INTEGER NOT NULL,
 starts INTEGER NOT NULL,
 PRIMARY KEY(date, output)
) STRICT, WITHOUT ROWID""",
    """CREATE TABLE marks(
 name TEXT PRIMARY KEY,
 at_s INTEGER NOT NULL
) STRICT, WITHOUT ROWID""",
)

# A run longer than this goes on in a further row, so that a reader need not look further back than this.
LONGEST_ROW_MS: Final = 86_400_000

# Of the minutes before this mark, five minutes and hours are made.
FOLDED: Final = "folded until"


def key_from(from_s: int) -> int:
    """Return the lowest key of what begins at a time; above it by less than 256 is a series' number.

    >>> key_from(120)
    512
    """
    return from_s // MINUTE_S * 256


def kept_from(lasts_s: int) -> str:
    """Return the name of the mark before which spans of this length are no longer kept.

    >>> kept_from(300)
    '300 from'
    """
    return f"{lasts_s} from"


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
        good: the share of it for which there was a sample that could be used, above 0: where there was
            none, there is no span.
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


class Watch(NamedTuple):
    """The guard was at work and recorded, without a break.

    Attributes:
        from_s: since when, Unix seconds.
        until_s: until when; the moment of the last commit while it goes on.
    """

    from_s: float
    until_s: float


class Run(NamedTuple):
    """An output was on, within a minute.

    Attributes:
        output: its name.
        from_s: Unix seconds.
        until_s: Unix seconds.
        start: whether it was switched on there.
    """

    output: str
    from_s: float
    until_s: float
    start: bool


class Minute(NamedTuple):
    """A minute, or what was seen of it: what the guard hands over to be recorded.

    Attributes:
        from_s: when it begins, Unix seconds; a minute seen in full begins on the minute.
        until_s: when it ends.
        date: the local day it belongs to, ISO 8601.
        spans: of what could be measured; each spans the whole minute.
        runs: of the outputs, in order of time.
        running: the outputs that were still on at its end.
        known_s: how long the water was known.
        low_c: of the coldest probe.
        high_c: of the warmest probe.
        warmest_c_s: the warmest probe's temperature, summed over that time.
        above_s: how long the warmest probe was above the safe band.
        below_s: how long the coldest was below it.
        above_k_s: kelvin seconds above the safe band.
        below_k_s: kelvin seconds below it.
    """

    from_s: float
    until_s: float
    date: str
    spans: dict[Series, Span]
    runs: tuple[Run, ...] = ()
    running: frozenset[str] = frozenset()
    known_s: float = 0.0
    low_c: float | None = None
    high_c: float | None = None
    warmest_c_s: float = 0.0
    above_s: float = 0.0
    below_s: float = 0.0
    above_k_s: float = 0.0
    below_k_s: float = 0.0


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
