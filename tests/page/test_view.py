"""What the page says of a moment: it never makes a thing look better, newer or surer than it is."""

import json
from typing import Any

import pytest
from guard_said import alarm, output, probe, status
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from page_rig import World

from reefguard.link.page.said import Shape, View
from reefguard.link.page.sight import Liveness, Sight, sight
from reefguard.link.page.view import view
from reefguard.records.status_file import NoStatus
from reefguard.settings.model import Unit


def seen(read: Any, boot_s: float = 1_001.5) -> Sight:
    return sight(read, World(boot_s=boot_s).now(), 60.0)


def said(read: Any, boot_s: float = 1_001.5) -> View:
    return view(seen(read, boot_s), "Lagoon", Unit.CELSIUS)


def test_all_well() -> None:
    found = said(status())
    assert found.title == "OK 26.1 °C - Lagoon"
    assert (found.water, found.unit, found.place.word) == ("26.1", "°C", "in the safe band")
    assert found.age == "measured 4 s ago"
    assert found.loud == ""
    assert [(one.name, one.said.word) for one in found.outputs] == [("chiller", "off"), ("left", "on at 40%")]
    assert found.cutoff.word == "lets the chiller run"
    assert found.room == "24.5 °C, 55% relative humidity, fans cool water above 20.1 °C"


@pytest.mark.parametrize(
    ("boot_s", "liveness"),
    [
        (1_000.0, Liveness.LIVE),
        (1_015.0, Liveness.LIVE),
        (1_015.1, Liveness.LATE),  # 10 s later than one sampling of 5 s
        (1_060.0, Liveness.LATE),
        (1_060.1, Liveness.SILENT),
        (994.0, Liveness.NOTHING),  # written in the future
    ],
)
def test_how_far_a_status_is_of_now(boot_s: float, liveness: Liveness) -> None:
    assert seen(status(), boot_s).liveness is liveness


@pytest.mark.parametrize(
    ("read", "boot_s", "why"),
    [
        (status(), 1_300.0, "the guard has written nothing for 5 min"),
        (NoStatus("it is not there"), 1_001.0, "it is not there"),
        (status(boot_id="another"), 1_001.0, "from before the machine started"),
        (status(written_s="soon"), 1_001.0, "says not when"),
        (status(written_s=float("nan")), 1_001.0, "says not when"),
        (status(written_s=9_000.0), 1_001.0, "a clock that is not this one"),
    ],
)
def test_what_is_not_of_now_never_looks_live(read: Any, boot_s: float, why: str) -> None:
    found = said(read, boot_s)
    assert why in found.loud
    assert found.title == "NOT LIVE - Lagoon"
    assert found.water == "\N{EN DASH}"
    assert found.place.shape is Shape.UNKNOWN
    assert found.gauge is None
    assert found.coming == ""
    assert "old" in found.spoken
    assert "26.1" not in found.title + found.spoken


def test_a_silent_guards_last_word_is_told_with_its_time() -> None:
    assert said(status(), 1_300.0).last_water == "It was 26.1 °C at 13:05:20 on 14 Jul 2031."


def test_a_late_guard_is_told_and_alarms_come_first() -> None:
    assert said(status(), 1_030.0).condition.word == "LATE"
    late = said(status(alarms=[alarm("water high", "28 °C")]), 1_030.0)
    assert late.condition.word == "ALARM"
    assert "late" in late.loud


@pytest.mark.parametrize(
    ("warmest", "coldest", "word", "shape"),
    [
        (27.8, 24.0, "in the safe band", Shape.WELL),
        (27.81, 26.0, "above the safe band", Shape.ABOVE),
        (26.0, 23.99, "below the safe band", Shape.BELOW),
        (29.0, 23.0, "below the safe band", Shape.BELOW),
    ],
)
def test_where_the_water_is(warmest: float, coldest: float, word: str, shape: Shape) -> None:
    water = {
        "warmest_c": warmest,
        "coldest_c": coldest,
        "warmest_probe": "a",
        "coldest_probe": "b",
        "age_s": 1,
    }
    found = said(status(water=water))
    assert (found.place.word, found.place.shape) == (word, shape)
    assert found.condition.word == ("OK" if shape is Shape.WELL else "LOOK")


def test_water_that_nobody_knows_is_not_well() -> None:
    found = said(status(water=None, mode="schedule"))
    assert (found.water, found.place.word, found.condition.word) == ("\N{EN DASH}", "not known", "LOOK")
    assert found.mode.shape is Shape.LOOK


def test_alarms_say_what_to_do_first_and_those_that_are_quiet_stand_apart() -> None:
    world = World()
    world.warns()
    found = said(world.read)
    assert [one.name for one in found.alarms] == ["water far too high", "chiller does not start"]
    assert found.alarms[0].urgency == "urgent: act now"
    assert found.alarms[0].first.startswith("lights off")
    assert [one.name for one in found.quiet_alarms] == ["probe sump suspect"]
    assert found.title == "ALARM 28.9 °C - Lagoon"


def test_an_output_that_is_held_off_says_so() -> None:
    held = output(blocked_by="the compressor rests for another 2 min")
    (found,) = said(status(outputs={"chiller": held})).outputs
    assert (found.said.word, found.said.shape) == ("held off", Shape.HELD)


@pytest.mark.parametrize(("changes", "words"), [(0, "0 times"), (1, "once"), (2, "2 times")])
def test_how_often_an_output_was_switched(changes: int, words: str) -> None:
    switched = output(elapsed_active_s=60.0, changes=changes)
    (found,) = said(status(outputs={"fan1": switched})).outputs
    assert found.more == f"on for 1 min since the guard started, switched {words}"


def test_a_cutoff_nobody_hears_is_not_one_that_permits() -> None:
    assert said(status(cutoff=None)).cutoff.word == "not heard of"
    tripped = {"state": "tripped", "permits": False, "why": "too cold", "age_s": 1.0}
    assert said(status(cutoff=tripped)).cutoff.word == "holds the chiller off (tripped)"


def test_fahrenheit_by_the_status() -> None:
    found = said(status(show_temperatures_in="°F"))
    assert (found.water, found.unit, found.band) == (
        "78.9",
        "°F",
        "75.2 to 82.0 °F",
    )  # 26.0625 °C by 9/5 + 32


def test_a_probe_that_is_not_used_is_told_why() -> None:
    sick = probe(None, cause="the checksum does not match")
    (found,) = said(status(probes={"sump": sick})).probes
    assert (found.said.word, found.said.why) == ("no value, not used", "the checksum does not match")


def test_when_a_proof_test_is_due_is_shown_where_it_is_known() -> None:
    assert said(status()).proof_test == ""
    assert said(status(proof_test={"due": "2031-09-01T00:00:00+02:00"})).proof_test == "2031-09-01"


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=12,
)


@settings(suppress_health_check=[HealthCheck.too_slow])  # a busy machine
@given(st.fixed_dictionaries({}, optional=dict.fromkeys(status(), json_values)))
def test_whatever_another_version_writes_the_page_says_something(odd: dict[str, Any]) -> None:
    for changes in (odd, status(**odd)):
        found = said(changes)
        assert found.title
        assert found.condition.word
        if found.water != "\N{EN DASH}":
            assert found.liveness in (Liveness.LIVE, Liveness.LATE)


@given(st.recursive(st.just("\ud800<\x00"), lambda inner: st.lists(inner, max_size=2), max_leaves=3))
def test_odd_letters_do_not_reach_the_page(odd: Any) -> None:
    listed = [{"name": odd, "state": "unacknowledged", "priority": odd, "what": odd, "first": odd}]
    found = said(json.loads(json.dumps(status(tank=odd, alarms=listed, mode=odd))))
    assert "\ud800" not in repr(found).encode("utf-8", "surrogatepass").decode("utf-8", "replace")
