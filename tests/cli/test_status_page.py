"""The page takes whatever the status file holds."""

from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from reefguard.cli.status import as_document, look
from reefguard.cli.status_page import lines, ruler
from reefguard.records import status_file
from reefguard.rehearsal.bench_clock import BenchClock

KEYS = (
    "tank", "written", "mode", "water", "warmest_c", "safe_band", "low_c", "high_c", "probes", "display",
    "shows_c", "id", "used", "cause", "lights", "on", "told", "outputs", "fan1", "level", "why", "cutoff",
    "state", "next", "what", "in_s", "findings", "severity", "mend", "show_temperatures_in", "written_s",
    "sampling_s", "boot_id",
)  # fmt: skip

numbers = st.floats() | st.integers() | st.just(10**400)
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
keys = st.sampled_from(KEYS) | texts
anything = st.recursive(
    st.none() | st.booleans() | numbers | texts | st.sampled_from(["°F", "critical", "in order"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=5),
    max_leaves=30,
)
statuses = st.dictionaries(keys, anything, max_size=len(KEYS))


@given(statuses, st.none() | st.floats(-1e9, 1e9))
@example({"findings": 3}, None)
@example({"findings": [{"severity": []}]}, None)
@example({"lights": {"on": []}}, None)
@example({"next": {"in_s": "soon"}}, None)
@example({"outputs": {"fan1": {"level": "full"}}}, None)
@example({"water": {"warmest_c": float("nan")}, "safe_band": {"low_c": 24, "high_c": 27}}, None)
@example({"water": {"warmest_c": 25}, "safe_band": {"low_c": float("-inf"), "high_c": float("inf")}}, None)
@settings(deadline=None, max_examples=300)
def test_any_status_gives_lines(status: dict[str, Any], age_s: float | None) -> None:
    for line in lines(status, age_s):
        assert isinstance(line, str)


@given(statuses)
@settings(deadline=None, max_examples=150)
def test_any_status_file_can_be_weighed(
    tmp_path_factory: pytest.TempPathFactory, status: dict[str, Any]
) -> None:
    directory = tmp_path_factory.getbasetemp()
    clock = BenchClock(directory)
    whole = {"boot_id": clock.boot_id(), "written_s": clock.boot_s() - 1.0, "sampling_s": 5.0} | status
    status_file.write(directory, whole)
    report = look(directory / status_file.FILE_NAME, clock)
    assert report.condition in {0, 1, 2, 3}
    assert as_document(report)["headline"] == report.headline


@given(st.floats(-50.0, 100.0), st.floats(10.0, 30.0), st.floats(10.0, 30.0), st.integers(1, 60))
def test_the_ruler_is_as_wide_as_asked_wherever_the_water_is(
    value_c: float, low_c: float, high_c: float, width: int
) -> None:
    drawn = ruler(value_c, low_c, high_c, width)
    assert len(drawn.strip("<>[]")) == width
    assert drawn.count("|") == (low_c <= value_c <= high_c)


def test_what_is_missing_is_passed_over() -> None:
    assert list(lines({}, None)) == []
    text = "\n".join(lines({"tank": "North reef"}, 61.0))
    assert "North reef, ?, 1 min 1 s ago" in text
    assert "not known: no probe is trusted" in text
    assert "not heard of" in text


def test_a_fan_at_part_speed_shows_its_share() -> None:
    text = "\n".join(lines({"outputs": {"fan1": {"on": True, "level": 0.35, "why": "warm"}}}, None))
    assert "fan1      35%   warm" in text
