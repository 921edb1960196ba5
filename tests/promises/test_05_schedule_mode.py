"""Promise 5: without a trusted reading the fans follow the lights, the chiller is off, a finding says so."""

from datetime import timedelta

import pytest
from builders import NIGHT, NOON, Life
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.control.findings import find
from reefguard.guard.recall import recalled, to_keep
from reefguard.vocabulary import Cause, Missed, Mode, RawSample, Reason, Sampled, Severity, Wall

DAY, DARK = Wall(NOON, trusted=True), Wall(NIGHT, trusted=True)
GONE: dict[str, RawSample] = {}


def findings(life: Life) -> dict[str, Severity]:
    found = find(life.memory, life.decision, life.last_inputs, life.settings)
    return {finding.name: finding.severity for finding in found}


def automatic(water_c: float = 26.0) -> Life:
    life = Life()
    life.last(120.0, water_c)
    assert life.decision.mode is Mode.AUTOMATIC
    return life


@pytest.mark.parametrize("running", [True, False])
def test_it_begins_the_set_time_after_the_last_reading_and_until_then_fans_stay(running: bool) -> None:
    life = automatic(26.7 if running else 26.0)
    last_s = life.now_s
    opposite = DARK if running else DAY  # what the schedule would do, were it asked
    while life.now_s < last_s + 175.0:
        life.tick(GONE, wall=opposite)
        assert life.decision.mode is Mode.AUTOMATIC
        assert life.command("fan1").on is running
        if life.now_s > last_s + 60.0:
            assert life.command("fan1").why.reason is Reason.AWAITING_READING
            assert not life.command("chiller").on
            assert findings(life)["water awaited"] is Severity.WARNING
    life.tick(GONE, wall=opposite)
    assert life.now_s == last_s + 180.0
    assert life.decision.mode is Mode.SCHEDULE
    assert findings(life)["no water"] is Severity.CRITICAL


def test_fans_run_with_the_lights_and_the_set_time_after_them() -> None:
    life = Life()
    life.tick(GONE, wall=DAY)
    assert life.command("fan1").why.reason is Reason.LIGHTS_ON
    life.tick(GONE, wall=DARK)
    off_s = life.now_s
    while life.now_s < off_s + 3_595.0:
        life.tick(GONE, wall=DARK)
        assert life.command("fan1").why.reason is Reason.AFTER_RUN
        assert life.command("fan2").level == 1.0
    life.tick(GONE, wall=DARK)
    assert life.now_s == off_s + 3_600.0
    assert not life.command("fan1").on
    assert life.command("fan1").why.reason is Reason.LIGHTS_OFF


def test_a_start_long_after_lights_off_runs_no_fan_and_shortly_after_runs_the_rest_of_the_time() -> None:
    life = Life()
    life.tick(GONE, wall=DARK)
    assert not life.command("fan1").on
    life = Life()
    life.tick(GONE, wall=Wall(NOON + timedelta(hours=8, minutes=10), trusted=True))
    assert life.command("fan1").why.until_s == life.now_s + 50 * 60


def test_the_clock_that_is_set_a_while_after_such_a_start_changes_nothing_about_that() -> None:
    life = Life()
    life.last(30.0, GONE, wall=Wall(NIGHT, trusted=False))
    assert life.command("fan1").why.reason is Reason.TIME_UNKNOWN_RUN
    life.tick(GONE, wall=DARK)
    assert life.command("fan1").why.reason is Reason.LIGHTS_OFF


def test_readings_must_be_good_for_the_set_time_before_automatic_returns() -> None:
    life = Life()
    life.last(600.0, GONE)
    for _ in range(12):
        life.tick(26.0, wall=DAY)
        assert life.decision.mode is Mode.SCHEDULE
        assert life.command("fan1").on
    life.tick(26.0, wall=DAY)
    assert life.decision.mode is Mode.AUTOMATIC
    assert not life.command("fan1").on
    assert findings(life) == {}


def test_a_restart_within_the_same_boot_goes_on_where_it_was_with_the_same_clock_running() -> None:
    life = automatic(26.7)
    last_s = life.now_s
    life.last(90.0, GONE)
    kept = to_keep(life.memory, life.settings, now_s=life.now_s, boot_id="one", wall="")
    life.memory = recalled(kept, life.settings, now_s=life.now_s, boot_id="one")
    life.tick(GONE, wall=DARK)
    assert life.command("fan1").on
    assert life.decision.mode is Mode.AUTOMATIC
    life.last(last_s + 175.0 - life.now_s, GONE, wall=DARK)
    assert life.command("fan1").on
    life.tick(GONE, wall=DARK)
    assert not life.command("fan1").on
    assert life.now_s == last_s + 180.0


def test_a_new_boot_begins_in_schedule() -> None:
    life = automatic(26.7)
    kept = to_keep(life.memory, life.settings, now_s=life.now_s, boot_id="one", wall="")
    life.memory = recalled(kept, life.settings, now_s=life.now_s, boot_id="two")
    life.tick(GONE, wall=DARK)
    assert life.decision.mode is Mode.SCHEDULE
    assert not life.command("fan1").on


wires = st.sampled_from([26.0, 26.0, 26.0, 27.0, 85.0, 60.0, Cause.EMPTY, Cause.CRC, Cause.NO_ANSWER])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(wires, wires, st.integers(1, 30)), max_size=20))
def test_never_in_schedule_with_the_chiller_on_nor_later_than_the_set_time(
    life_of: list[tuple[float | Cause, float | Cause, int]],
) -> None:
    life = Life()
    in_order_s = float("-inf")
    for display, sump, count in life_of:
        for _ in range(count):
            at_s = life.now_s + 5.0
            samples: dict[str, RawSample] = {
                name: Missed(wire, at_s) if isinstance(wire, Cause) else Sampled(wire, at_s)
                for name, wire in (("display", display), ("sump", sump))
            }
            life.tick(samples)
            if any(isinstance(wire, float) and 0.0 < wire < 50.0 for wire in (display, sump)):
                in_order_s = at_s
            if at_s - in_order_s >= 180.0:
                assert life.decision.mode is Mode.SCHEDULE
            if life.decision.mode is Mode.SCHEDULE:
                assert not life.command("chiller").on
                assert life.command("fan1").on  # it is noon
                assert {"no water", "water awaited"} & set(findings(life))
