"""How far back the page can look, and how finely."""

from dataclasses import dataclass
from typing import Final

from reefguard.report.calendar import Step
from reefguard.report.scales import DAY_S, HOUR_S, MINUTE_S


@dataclass(frozen=True, slots=True)
class Reach:
    """A stretch of time up to now.

    Attributes:
        key: in the address.
        name: on the page.
        lasts_s: how long it is.
        most_spans: how many spans a series the history is asked for.
        pointed_s: how long a moment lasts that can be pointed at in the chart.
        row: what one row of the table of values stands for.
        row_name: the same in words.
        fresh_s: how long a chart of it is shown before it is drawn anew.
        by_day: lines are means over a day, for each day would be narrower than a line.
    """

    key: str
    name: str
    lasts_s: float
    most_spans: int
    pointed_s: float
    row: Step
    row_name: str
    fresh_s: float
    by_day: bool = False


REACHES: Final = (
    Reach("24h", "24 hours", DAY_S, 1_500, 5 * MINUTE_S, Step.HOUR, "an hour", 20.0),
    Reach("7d", "7 days", 7 * DAY_S, 2_100, 30 * MINUTE_S, Step.SIX_HOURS, "six hours", 120.0),
    Reach("90d", "90 days", 90 * DAY_S, 2_300, 6 * HOUR_S, Step.DAY, "a day", 300.0, by_day=True),
    Reach("season", "half year", 183 * DAY_S, 4_500, 12 * HOUR_S, Step.WEEK, "a week", 300.0, by_day=True),
    Reach("year", "year", 365 * DAY_S, 9_000, DAY_S, Step.WEEK, "a week", 300.0, by_day=True),
)


def reach_of(key: str | None) -> Reach | None:
    """Return the reach of that key, the first where none is asked for, `None` where there is no such."""
    if key is None:
        return REACHES[0]
    return next((reach for reach in REACHES if reach.key == key), None)
