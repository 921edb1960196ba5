"""A tank as a Homie device, checked by a reader that knows the convention only."""

from collections.abc import Iterable
from itertools import pairwise
from typing import Any

import pytest
from guard_said import NOTHING, alarm, output, probe, seen, silent, status
from homie_reader import Reader
from hypothesis import given
from hypothesis import strategies as st

from reefguard.link.homie import Picture, Post, announcement, changes, picture, urgent
from reefguard.link.ports import Snapshot

DEVICE = "lagoon"


def _shown(snapshot: Snapshot) -> Picture:
    return picture(snapshot, DEVICE, 60.0)


def _read(reader: Reader, posts: Iterable[Post]) -> Reader:
    for post in posts:
        reader.take(f"homie/5/{reader.device}/{post.topic}", post.payload)
    return reader


def _reader(*snapshots: Snapshot) -> Reader:
    """Return a reader that has heard a device appear and change from one snapshot to the next."""
    pictures = [_shown(one) for one in snapshots]
    reader = _read(Reader(DEVICE), announcement(pictures[0]))
    for before, after in pairwise(pictures):
        _read(reader, changes(before, after))
    reader.finish()
    assert not reader.wrong
    return reader


def test_a_healthy_tank_says_all_that_it_describes() -> None:
    reader = _reader(seen())
    assert reader.states == ["init", "ready"]
    assert reader.description is not None
    assert reader.description["name"] == "Lagoon"
    assert reader.description["type"] == "reefguard/tank"
    described = {
        f"{node}/{name}"
        for node, about in reader.description["nodes"].items()
        for name in about["properties"]
    }
    assert described == reader.values.keys()
    assert reader.values["probe-display/temperature"] == "26.0625"
    assert reader.values["probe-display/updated"] == "2031-07-14T13:05:17+00:00"
    assert reader.values["output-left/level"] == "40.00"
    assert reader.values["guard/condition"] == "healthy"
    assert reader.values["guard/status-age"] == "2"
    assert reader.alerts == {}


def test_nothing_is_settable() -> None:
    reader = _reader(seen())
    assert reader.description is not None
    for node in reader.description["nodes"].values():
        for each in node["properties"].values():
            assert each.get("settable", False) is False


def test_a_number_that_cannot_be_vouched_for_is_deleted() -> None:
    lost = seen(probes={"display": probe(None), "sump": probe(25.9375)})
    reader = _reader(seen(), lost)
    assert "probe-display/temperature" not in reader.values
    assert reader.values["probe-display/quality"] == "missing"
    assert reader.values["probe-sump/temperature"] == "25.9375"
    assert "ready" in reader.states
    assert reader.states.count("init") == 1, "a probe that fails changes no description"


def test_a_silent_guard_leaves_no_number_that_speaks_of_now() -> None:
    high = alarm("water high", "display reads 28.10 °C")
    reader = _reader(seen(alarms=[high]), silent(alarms=[high]))
    assert reader.values["guard/condition"] == "critical"
    assert reader.values["guard/status-age"] == "300"
    assert reader.values["probe-display/quality"] == "missing"
    assert reader.values["probe-display/updated"] == "2031-07-14T13:05:17+00:00"
    assert reader.values["water/band-high"] == "27.8000"
    for gone in (
        "probe-display/temperature",
        "water/warmest",
        "output-left/active",
        "guard/mode",
        "cutoff/permits",
    ):
        assert gone not in reader.values
    # Nobody has seen it end.
    assert reader.alerts.keys() == {"water-high", "guard-silent"}


def test_a_guard_that_was_never_heard_is_unknown() -> None:
    reader = _reader(NOTHING)
    assert reader.values["guard/condition"] == "unknown"
    assert reader.alerts.keys() == {"guard-silent"}
    assert reader.description is not None
    assert reader.description["name"] == DEVICE


def test_alerts_come_and_go_with_their_alarms() -> None:
    high = alarm("water high", "display reads 28.10 °C, above 27.80 °C")
    risen = _reader(seen(), seen(alarms=[high]))
    assert risen.alerts == {"water-high": "display reads 28.10 °C, above 27.80 °C"}
    assert _reader(seen(), seen(alarms=[high]), seen()).alerts == {}


@pytest.mark.parametrize(
    ("state", "shown"),
    [
        ("unacknowledged", True),
        ("acknowledged", True),
        ("latched, unacknowledged", True),
        ("latched, acknowledged", True),
        ("returned, unacknowledged", False),
        ("shelved", False),
        ("suppressed by design", False),
        ("out of service", False),
    ],
)
def test_an_alert_is_an_alarm_that_stands_and_is_shown(state: str, shown: bool) -> None:
    reader = _reader(seen(alarms=[alarm("no water", "no probe can be trusted", state=state)]))
    assert ("no-water" in reader.alerts) is shown


def test_other_settings_are_described_anew_and_the_old_topics_go() -> None:
    reader = _reader(seen(), seen(probes={"Display_2": probe()}, outputs={"chiller": output()}))
    assert reader.states == ["init", "ready", "init", "ready"]
    assert reader.values["probe-display-2/temperature"] == "26.0625"
    assert not any(place.startswith(("probe-sump", "output-left")) for place in reader.values)


def test_names_that_come_to_the_same_id_stay_apart() -> None:
    reader = _reader(seen(outputs={"Fan_1": output(), "fan-1": output(on=True)}))
    assert reader.values["output-fan-1/active"] == "false"
    assert reader.values["output-fan-1-2/active"] == "true"


def test_an_empty_text_is_a_zero_byte_and_deletes_nothing() -> None:
    posts = {post.topic: post.payload for post in announcement(_shown(seen(lights={"on": None, "told": ""})))}
    assert posts["lights/told"] == b"\x00"
    assert "lights/active" not in posts


def test_a_clock_that_is_not_trusted_dates_nothing() -> None:
    reader = _reader(seen(clock_trusted=False))
    assert not any(place.endswith("/updated") for place in reader.values)
    assert reader.values["probe-display/temperature"] == "26.0625"


@pytest.mark.parametrize(
    ("findings", "word"),
    [([], "healthy"), (["warning"], "warning"), (["warning", "critical"], "critical")],
)
def test_the_condition_is_the_worst_finding(findings: list[str], word: str) -> None:
    reader = _reader(seen(findings=[{"name": "n", "severity": one} for one in findings]))
    assert reader.values["guard/condition"] == word


def test_what_flows_waits_and_what_happens_does_not() -> None:
    before = _shown(seen())
    warmer = status()["water"] | {"warmest_c": 26.125}
    assert not urgent(before, _shown(seen()))
    assert not urgent(before, _shown(seen(water=warmer)))
    assert not urgent(before, _shown(Snapshot(status(), fresh=True, age_s=4.0)))
    assert urgent(before, _shown(seen(outputs={"chiller": output(on=True), "left": output(on=True)})))
    assert urgent(before, _shown(seen(alarms=[alarm("water high", "28 °C")])))
    assert urgent(before, _shown(seen(water=None)))
    at_28_10, at_28_15 = (seen(alarms=[alarm("water high", text)]) for text in ("28.10 °C", "28.15 °C"))
    assert not urgent(_shown(at_28_10), _shown(at_28_15)), "an alarm's sentence carries its reading"
    assert urgent(before, _shown(seen(mode="schedule")))
    assert urgent(before, _shown(seen(probes={"display": probe()})))
    assert urgent(before, _shown(silent()))


# Any text JSON can hold, half a surrogate pair among them.
_TEXT = st.text(st.characters(exclude_categories=()), max_size=6)
_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | _TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_TEXT, inner, max_size=3),
    max_leaves=8,
)
_ANY_STATUS = st.fixed_dictionaries(
    {},
    optional={
        **dict.fromkeys(status(), _JSON),
        "probes": st.dictionaries(
            _TEXT, _JSON | st.builds(probe, st.floats(), cause=_JSON, quality=_JSON), max_size=4
        ),
        "outputs": st.dictionaries(
            _TEXT,
            _JSON | st.builds(output, on=st.booleans(), level=st.floats(), why=_JSON),
            max_size=4,
        ),
        "alarms": st.lists(
            st.builds(alarm, _TEXT, _TEXT) | _JSON,
            max_size=4,
        ),
    },
)
_ANY_SNAPSHOT = st.builds(
    lambda said, fresh, age_s: Snapshot(said, fresh=fresh, age_s=age_s),
    st.none() | _ANY_STATUS,
    st.booleans(),
    st.none() | st.floats(0, 1e9),
)


@given(st.lists(_ANY_SNAPSHOT, min_size=1, max_size=4))
def test_whatever_a_status_says_the_convention_is_kept(snapshots: list[Snapshot]) -> None:
    reader = _reader(*snapshots)
    fresh: dict[str, Any] = {}
    afterwards = _read(Reader(DEVICE), announcement(_shown(snapshots[-1])))
    fresh |= afterwards.values
    assert reader.values == fresh, "who listened all along knows what one knows who comes now"
    assert reader.alerts == afterwards.alerts
    assert reader.state == "ready"
