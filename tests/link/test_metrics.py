"""Metrics as a monitoring system reads them, with the client library's own parsers."""

import math
import socket
import urllib.request
from collections.abc import Iterable
from pathlib import Path

import pytest
from guard_said import NOTHING, alarm, output, probe, seen, silent
from hypothesis import given
from hypothesis import strategies as st
from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.core import Metric
from prometheus_client.openmetrics.exposition import generate_latest as open_metrics
from prometheus_client.openmetrics.parser import text_string_to_metric_families as read_open_metrics
from prometheus_client.parser import text_string_to_metric_families as read_text
from prometheus_client.registry import Collector
from real_broker import free_port

from reefguard.link.metrics import metrics
from reefguard.link.metrics_outlet import MetricsOutlet
from reefguard.link.ports import Snapshot
from reefguard.settings.link_model import Metrics

Samples = dict[tuple[str, tuple[tuple[str, str], ...]], float]


def _samples(families: Iterable[Metric]) -> Samples:
    found: Samples = {}
    for family in families:
        assert family.documentation.endswith("."), f"{family.name} says not what it is"
        for one in family.samples:
            place = (one.name, tuple(sorted(one.labels.items())))
            assert place not in found, place
            assert not math.isnan(one.value), f"{place} is not a number"
            assert one.timestamp is None, "the textfile collector takes no timestamps"
            found[place] = one.value
    return found


def _registry(snapshot: Snapshot) -> CollectorRegistry:
    class Said(Collector):
        def collect(self) -> Iterable[Metric]:
            return metrics(snapshot, "Lagoon", "0.1.0")

    registry = CollectorRegistry()
    registry.register(Said())
    return registry


def _of_text(said: str) -> Samples:
    return _samples(read_text(said))


def _of_open_metrics(said: str) -> Samples:
    return _samples(read_open_metrics(said))  # type: ignore[no-untyped-call]  # the library's own parser


def _as_open_metrics(registry: CollectorRegistry) -> str:
    said: bytes = open_metrics(registry)  # type: ignore[no-untyped-call]  # the library's own
    return said.decode()


def _read(snapshot: Snapshot) -> Samples:
    return _of_text(generate_latest(_registry(snapshot)).decode())


def _value(samples: Samples, name: str, **labels: str) -> float | None:
    return samples.get((f"reefguard_{name}", tuple(sorted(({"tank": "Lagoon"} | labels).items()))))


def test_a_healthy_tank() -> None:
    said = _read(seen())
    assert said["reefguard_build_info", (("version", "0.1.0"),)] == 1.0
    assert _value(said, "probe_temperature_celsius", probe="display") == 26.0625
    assert _value(said, "probe_last_read_timestamp_seconds", probe="display") == 1_941_800_717.5
    assert _value(said, "water_warmest_celsius") == 26.0625
    assert _value(said, "band_high_celsius") == 27.8
    assert _value(said, "room_relative_humidity_ratio") == 0.55
    assert _value(said, "output_active", output="left") == 1.0
    assert _value(said, "output_active", output="chiller") == 0.0
    assert _value(said, "output_level_ratio", output="left") == 0.4
    assert _value(said, "output_switches_total", output="left") == 4.0
    assert _value(said, "output_active_seconds_total", output="left") == 812.5
    assert _value(said, "mode", mode="automatic") == 1.0
    assert _value(said, "mode", mode="schedule") == 0.0
    assert _value(said, "status_fresh") == 1.0
    assert _value(said, "findings", severity="critical") == 0.0
    assert not any(name == "reefguard_alert_active" for name, _ in said)


def test_both_formats_say_the_same() -> None:
    registry = _registry(seen(alarms=[alarm("water high", "28 °C")]))
    assert _of_text(generate_latest(registry).decode()) == _of_open_metrics(_as_open_metrics(registry))


def test_an_invalid_value_is_no_line() -> None:
    said = _read(seen(probes={"display": probe(None), "sump": probe(25.0)}, room=None, water=None))
    assert _value(said, "probe_temperature_celsius", probe="display") is None
    assert _value(said, "probe_used", probe="display") == 0.0
    assert _value(said, "probe_temperature_celsius", probe="sump") == 25.0
    assert not any("room" in name or "water" in name for name, _ in said)


@pytest.mark.parametrize("snapshot", [silent(), NOTHING])
def test_a_silent_guard_leaves_no_line_that_speaks_of_now(snapshot: Snapshot) -> None:
    said = _read(snapshot)
    assert _value(said, "status_fresh") == 0.0
    assert _value(said, "alert_active", alert="guard silent", priority="urgent") == 1.0
    assert {name for name, _ in said} <= {
        "reefguard_build_info",
        "reefguard_status_fresh",
        "reefguard_status_age_seconds",
        "reefguard_status_timestamp_seconds",
        "reefguard_alert_active",
    }


def test_alarms_that_stand() -> None:
    said = _read(seen(alarms=[alarm("water high", "28 °C"), alarm("no water", "none", state="shelved")]))
    assert _value(said, "alert_active", alert="water high", priority="high") == 1.0
    assert sum(name == "reefguard_alert_active" for name, _ in said) == 1


@given(st.text(st.characters(exclude_categories=()), max_size=8), st.floats(), st.floats(), st.booleans())
def test_whatever_a_name_or_a_number_is(name: str, water_c: float, level: float, fresh: bool) -> None:
    said = seen(probes={name: probe(water_c)}, outputs={name: output(level=level)})
    snapshot = Snapshot(said.status, fresh=fresh, age_s=1.0)
    registry = _registry(snapshot)
    assert _of_text(generate_latest(registry).decode()) == _of_open_metrics(_as_open_metrics(registry))


def test_the_text_file_is_whole_and_goes_with_the_link(tmp_path: Path) -> None:
    path = tmp_path / "reefguard.prom"
    now_s = [0.0]
    outlet = MetricsOutlet(Metrics(textfile=str(path)), "Lagoon", "0.1.0", stopwatch=lambda: now_s[0])
    outlet.publish(seen())
    assert _value(_of_text(path.read_text(encoding="utf-8")), "water_warmest_celsius") == 26.0625
    assert path.stat().st_mode & 0o777 == 0o644
    first = path.stat().st_ino
    now_s[0] += 14.0
    outlet.publish(seen(water=None))
    assert path.stat().st_ino == first, "a card is not written more often than anybody looks"
    now_s[0] += 1.0
    outlet.publish(seen(water=None))
    assert path.stat().st_ino != first, "replaced whole"
    assert _value(_of_text(path.read_text(encoding="utf-8")), "water_warmest_celsius") is None
    outlet.close()
    assert list(tmp_path.iterdir()) == []


def test_a_text_file_that_cannot_be_written_is_told_and_hurts_nothing(tmp_path: Path) -> None:
    now_s = [0.0]
    path = tmp_path / "gone" / "reefguard.prom"
    outlet = MetricsOutlet(Metrics(textfile=str(path)), "Lagoon", "0.1.0", stopwatch=lambda: now_s[0])
    outlet.publish(seen())
    troubles = [outlet.trouble]
    path.parent.mkdir()
    now_s[0] += 15.0
    outlet.publish(seen())
    troubles.append(outlet.trouble)
    assert troubles == [f"{path} cannot be written: No such file or directory", None]
    assert path.exists()
    outlet.close()


def test_the_port_answers_on_this_machine_in_the_format_that_is_asked_for() -> None:
    port = free_port()
    outlet = MetricsOutlet(Metrics(port=port), "Lagoon", "0.1.0")
    try:
        outlet.publish(seen())
        assert outlet._served is not None
        assert outlet._served[0].server_address == ("127.0.0.1", port), "nobody outside this machine"
        answers = {}
        for accept in ("text/plain", "application/openmetrics-text; version=1.0.0"):
            asked = urllib.request.Request(f"http://127.0.0.1:{port}/metrics", headers={"Accept": accept})
            with urllib.request.urlopen(asked) as answer:  # noqa: S310  our own address
                answers[answer.headers["Content-Type"].split(";")[0]] = answer.read().decode()
    finally:
        outlet.close()
    assert answers.keys() == {"text/plain", "application/openmetrics-text"}
    assert _of_text(answers["text/plain"]) == _of_open_metrics(answers["application/openmetrics-text"])
    with pytest.raises(OSError, match="refused"):
        urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics")


def test_a_port_that_is_taken_is_told_and_tried_again() -> None:
    now_s = [0.0]
    port = free_port()
    with socket.create_server(("127.0.0.1", port)):
        outlet = MetricsOutlet(Metrics(port=port), "Lagoon", "0.1.0", stopwatch=lambda: now_s[0])
        outlet.publish(seen())
        troubles = [outlet.trouble]
    try:
        now_s[0] += 15.0
        outlet.publish(seen())
        troubles.append(outlet.trouble)
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics") as answer:
            assert "reefguard_status_fresh" in answer.read().decode()
    finally:
        outlet.close()
    assert troubles == [f"127.0.0.1:{port} cannot be opened: Address already in use", None]
