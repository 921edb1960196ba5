"""A tank as metrics: base units in the names, a help text each, and no line for what is not known.

Names follow Prometheus' naming practices (prometheus.io/docs/practices/naming).
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, InfoMetricFamily, Metric

from reefguard.alarms.catalogue import GUARD_SILENT
from reefguard.link.homie_description import MODES
from reefguard.link.ports import Snapshot
from reefguard.link.readout import (
    Table,
    flag,
    moment,
    number,
    severities,
    standing_alarms,
    table,
    tables,
    text,
)

# One value: its labels' values, and what it is; `None` leaves the line out.
_Line = tuple[tuple[str, ...], float | None]

_PRIORITIES: Final[Mapping[int | None, str]] = {1: "low", 2: "medium", 3: "high", 4: "urgent"}


def metrics(snapshot: Snapshot, tank: str, version: str) -> Iterator[Metric]:
    """Return everything that can be said of a tank.

    Values that speak of now are left out while the guard is silent: a scraper then sees
    them end, and `reefguard_status_fresh` says why.

    Args:
        snapshot: what the link knows of the guard.
        tank: its name in the settings, a label of every value.
        version: of this program.
    """
    yield InfoMetricFamily("reefguard_build", "The version of reefguard.", value={"version": version})
    status: Table = snapshot.status or {}
    yield from _freshness(snapshot, status, tank)
    known = status if snapshot.fresh else {}
    yield from _water(known, tank)
    yield from _probes(known, tank)
    yield from _surroundings(known, tank)
    yield from _outputs(known, tank)
    yield from _alarms(snapshot, tank)


def _gauge(name: str, says: str, labels: tuple[str, ...], lines: Iterable[_Line]) -> Iterator[Metric]:
    yield from _family(GaugeMetricFamily(name, says, labels=labels), lines)


def _counter(name: str, says: str, labels: tuple[str, ...], lines: Iterable[_Line]) -> Iterator[Metric]:
    yield from _family(CounterMetricFamily(name, says, labels=labels), lines)


def _family(family: GaugeMetricFamily | CounterMetricFamily, lines: Iterable[_Line]) -> Iterator[Metric]:
    """Add the lines whose value is known; a family without any is left out."""
    for labels, value in lines:
        if value is not None:
            family.add_metric(labels, value)
    if family.samples:
        yield family


def _freshness(snapshot: Snapshot, status: Table, tank: str) -> Iterator[Metric]:
    label = ("tank",)
    yield from _gauge(
        "reefguard_status_fresh",
        "Whether the guard has spoken lately (1) or is silent (0).",
        label,
        [((tank,), float(snapshot.fresh))],
    )
    yield from _gauge(
        "reefguard_status_age_seconds",
        "How old the guard's last word was when this was written.",
        label,
        [((tank,), snapshot.age_s)],
    )
    written = moment(status)
    yield from _gauge(
        "reefguard_status_timestamp_seconds",
        "When the guard last spoke, if its clock is known to be right.",
        label,
        [((tank,), None if written is None else written.timestamp())],
    )


def _water(known: Table, tank: str) -> Iterator[Metric]:
    water, band, label = table(known, "water"), table(known, "safe_band"), ("tank",)
    for name, says, value in (
        ("water_warmest", "The warmest trusted probe.", number(water, "warmest_c")),
        ("water_coldest", "The coldest trusted probe.", number(water, "coldest_c")),
        ("band_low", "The lower end of the safe band.", number(band, "low_c")),
        ("band_high", "The upper end of the safe band.", number(band, "high_c")),
    ):
        yield from _gauge(f"reefguard_{name}_celsius", says, label, [((tank,), value)])
    mode = text(known, "mode")
    yield from _gauge(
        "reefguard_mode",
        "How the outputs are decided: 1 for the mode that holds.",
        ("tank", "mode"),
        [((tank, one), float(one == mode)) for one in MODES if mode in MODES],
    )


def _probes(known: Table, tank: str) -> Iterator[Metric]:
    probes, labels = tables(known, "probes"), ("tank", "probe")
    yield from _gauge(
        "reefguard_probe_temperature_celsius",
        "What a trusted probe reads; no line while it is not trusted.",
        labels,
        [((tank, name), number(probe, "water_c")) for name, probe in probes.items()],
    )
    yield from _gauge(
        "reefguard_probe_used",
        "Whether a probe is trusted (1) or left out (0).",
        labels,
        [((tank, name), _share(flag(probe, "used"))) for name, probe in probes.items()],
    )
    at = {name: moment(known, number(probe, "age_s")) for name, probe in probes.items()}
    yield from _gauge(
        "reefguard_probe_last_read_timestamp_seconds",
        "When a trusted probe was last read, if the clock is known to be right.",
        labels,
        [((tank, name), None if one is None else one.timestamp()) for name, one in at.items()],
    )


def _surroundings(known: Table, tank: str) -> Iterator[Metric]:
    room, label = table(known, "room"), ("tank",)
    for name, says, value in (
        ("room_temperature_celsius", "The air over the tank.", number(room, "air_c")),
        (
            "room_relative_humidity_ratio",
            "The air's relative humidity, 0 to 1.",
            number(room, "relative_humidity"),
        ),
        ("lights_on", "Whether the lights are on.", _share(flag(table(known, "lights"), "on"))),
        (
            "cutoff_permits",
            "Whether the over-cool cutoff lets the chiller run.",
            _share(flag(table(known, "cutoff"), "permits")),
        ),
    ):
        yield from _gauge(f"reefguard_{name}", says, label, [((tank,), value)])


def _outputs(known: Table, tank: str) -> Iterator[Metric]:
    outputs, labels = tables(known, "outputs"), ("tank", "output")

    def lines(key: str) -> list[_Line]:
        return [((tank, name), number(output, key)) for name, output in outputs.items()]

    yield from _gauge(
        "reefguard_output_active",
        "Whether an output is switched on.",
        labels,
        [((tank, name), _share(flag(output, "on"))) for name, output in outputs.items()],
    )
    yield from _gauge(
        "reefguard_output_level_ratio", "How far an output is on, 0 to 1.", labels, lines("level")
    )
    yield from _counter(
        "reefguard_output_switches",
        "How often an output has changed since the guard started.",
        labels,
        lines("changes"),
    )
    yield from _counter(
        "reefguard_output_active_seconds",
        "How long an output has been on since the guard started.",
        labels,
        lines("elapsed_active_s"),
    )


def _alarms(snapshot: Snapshot, tank: str) -> Iterator[Metric]:
    status: Table = snapshot.status or {}
    standing: dict[str, str] = {
        one.name: _PRIORITIES.get(one.priority, "unknown") for one in standing_alarms(status)
    }
    if not snapshot.fresh:
        standing[GUARD_SILENT] = "urgent"
    yield from _gauge(
        "reefguard_alert_active",
        "An alarm that stands: 1, and no line for one that does not.",
        ("tank", "alert", "priority"),
        [((tank, name, priority), 1.0) for name, priority in standing.items()],
    )
    if snapshot.fresh:
        found = severities(status)
        yield from _gauge(
            "reefguard_findings",
            "How many things a person should look at.",
            ("tank", "severity"),
            [((tank, one), float(found.count(one))) for one in ("warning", "critical")],
        )


def _share(value: bool | None) -> float | None:
    return None if value is None else float(value)
