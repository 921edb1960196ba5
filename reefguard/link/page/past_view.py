"""A stretch of the past as the page shows it: charts, what can be pointed at, run hours, a table."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import tzinfo

from reefguard.link.page.charts import Charts, Limits, charts, describe
from reefguard.link.page.past_spells import spells
from reefguard.link.page.spans import Reach
from reefguard.link.page.values import Pointed, Ran, ValueTable, pointed, runs, value_table
from reefguard.records.events import Recorded
from reefguard.records.history import Past
from reefguard.records.history_reader import NoHistory
from reefguard.settings.model import Unit


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked for.

    Attributes:
        reach: how far back.
        now_s: Unix seconds.
        limits: what the water is held against.
        unit: of temperatures.
        zone: whose clock names the times.
    """

    reach: Reach
    now_s: float
    limits: Limits
    unit: Unit
    zone: tzinfo


@dataclass(frozen=True, slots=True)
class PastView:
    """What there is to show.

    Attributes:
        reach: how far back.
        trouble: what cannot be shown, and why; empty where all can.
        charts: `None` where there is no history; then all that follows is empty too.
    """

    reach: Reach
    trouble: str = ""
    charts: Charts | None = None
    described: str = ""
    pointed: Pointed | None = None
    ran: tuple[Ran, ...] = ()
    table: ValueTable | None = None


def past_view(
    asked: Asked, read: Callable[[float, float, int], Past], alarms: Sequence[Recorded], trouble: str = ""
) -> PastView:
    """Read a stretch of the past, and make all of it that the page shows."""
    reach = asked.reach
    try:
        past = read(asked.now_s - reach.lasts_s, asked.now_s, reach.most_spans)
    except NoHistory as error:
        return PastView(reach, f"No chart: {error}.")
    stood = spells(alarms, past.from_s, past.until_s)
    said = describe(past, stood, asked.unit, asked.zone)
    return PastView(
        reach,
        trouble,
        charts(past, stood, reach, asked.limits, said=said, unit=asked.unit, zone=asked.zone),
        said,
        pointed(past, reach, asked.unit, asked.zone),
        runs(past),
        value_table(past, reach, asked.unit, asked.zone),
    )
