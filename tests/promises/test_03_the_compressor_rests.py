"""Promise 3: between a stop and the next start lies at least the minimum off time, whatever happens."""

from dataclasses import replace
from datetime import timedelta

import pytest
from builders import NOON, Life, bench_settings
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.guard.recall import recalled, to_keep
from reefguard.vocabulary import CutoffReport, Reason, Wall

REST_S = 300.0


def started() -> Life:
    life = Life()
    life.last(400.0, 27.5)
    assert life.command("chiller").on
    return life


def held(life: Life) -> CutoffReport:
    return CutoffReport("tripped", permits=False, why="test", at_s=life.now_s + 5.0)


def wait_for_start(life: Life) -> float:
    """Return how long a warm tank waits for the compressor, counted from now."""
    begun_s = life.now_s
    while not life.command("chiller").on:
        life.tick(27.5)
        assert life.now_s - begun_s < 2_000.0
    return life.now_s - begun_s


def test_after_any_start_of_the_program_it_counts_as_just_stopped() -> None:
    life = Life(now_s=1e6)
    life.tick(27.5, 0.0)
    assert wait_for_start(life) == REST_S


def test_after_a_trip_it_rests_in_full_and_not_a_tick_longer() -> None:
    life = started()
    life.last(600.0, 27.5)
    life.tick(27.5, cutoff=held(life))
    assert not life.command("chiller").on
    assert wait_for_start(life) == REST_S


@pytest.mark.parametrize("same_boot", [True, False])
def test_after_a_restart_it_rests_in_full_even_if_it_had_rested(same_boot: bool) -> None:
    life = started()
    life.tick(27.5, cutoff=held(life))
    life.last(295.0, 27.5, cutoff=held(life))
    kept = to_keep(life.memory, life.settings, now_s=life.now_s, boot_id="one", wall="")
    life.now_s = life.now_s if same_boot else 12.0
    life.memory = recalled(kept, life.settings, now_s=life.now_s, boot_id="one" if same_boot else "two")
    life.tick(27.5, 0.0)
    assert wait_for_start(life) == REST_S


def test_a_clock_that_is_set_neither_shortens_nor_stretches_the_rest() -> None:
    life = started()
    life.last(600.0, 27.5)
    life.tick(27.5, cutoff=held(life))
    waited_s = 0.0
    while not life.command("chiller").on:
        waited_s += 5.0
        jump = timedelta(days=30 if waited_s % 10.0 else -400)
        life.tick(27.5, wall=Wall(NOON + jump, trusted=True))
    assert waited_s == REST_S


def test_starts_lie_the_start_to_start_time_apart() -> None:
    life = started()
    start_s = life.memory.counters[-1].since_s
    life.tick(27.5, cutoff=held(life))
    blocked = life.command("chiller").blocked
    assert blocked is not None
    wait_for_start(life)
    assert life.memory.counters[-1].since_s - start_s == 420.0


def test_what_keeps_a_wanted_compressor_waiting_says_when_it_ends() -> None:
    life = started()
    start_s = life.memory.counters[-1].since_s
    life.tick(27.5, cutoff=held(life))
    stop_s = life.now_s
    life.tick(27.5)
    blocked = life.command("chiller").blocked
    assert blocked is not None
    assert blocked.until_s == max(stop_s + REST_S, start_s + 420.0)
    wait_for_start(life)
    assert life.now_s == blocked.until_s


# What may happen in a minute: the water's state, a restart, another rest in the settings.
minutes = st.lists(
    st.tuples(
        st.sampled_from([27.5, 27.5, 27.0, 26.5, 25.0]),
        st.sampled_from(["", "", "", "", "trip", "restart", "reboot"]),
        st.sampled_from([120.0, 300.0, 420.0]),
        st.floats(0.1, 30.0),
    ),
    max_size=60,
)


@settings(max_examples=80, deadline=None)
@given(minutes)
def test_no_life_gives_a_short_rest(life_of: list[tuple[float, str, float, float]]) -> None:
    """Counted in seconds that pass, not in those of a clock that begins anew with each boot."""
    base = bench_settings(trust=replace(bench_settings().trust, fastest_c_per_min=1e6))
    assert base.chiller is not None
    chiller = replace(base.chiller, start_to_start_s=0.0, minimum_on_s=60.0)
    life = Life(replace(base, chiller=chiller))
    passed_s = stopped_s = 0.0
    running = False
    for water_c, event, rest_s, tick_s in life_of:
        life.settings = replace(life.settings, chiller=replace(chiller, minimum_off_s=rest_s))
        if event in ("restart", "reboot"):
            kept = to_keep(life.memory, life.settings, now_s=life.now_s, boot_id="one", wall="")
            life.now_s = life.now_s if event == "restart" else 1.0
            life.memory = recalled(
                kept, life.settings, now_s=life.now_s, boot_id="one" if event == "restart" else "two"
            )
            running, stopped_s = False, passed_s
        for _ in range(20):
            passed_s += tick_s
            changes = {"cutoff": held(life)} if event == "trip" else {}
            life.tick(water_c, tick_s, **changes)
            on = life.command("chiller").on
            if on and not running:
                assert passed_s - stopped_s >= rest_s - 1e-6
            if running and not on:
                stopped_s = passed_s
            running = on


def test_a_rest_is_not_shortened_by_what_ends_during_it() -> None:
    life = started()
    life.last(600.0, 27.5)
    life.tick(27.5, cutoff=held(life))
    stopped_s = life.now_s
    life.last(200.0, 27.5, cutoff=held(life))
    life.tick(27.5)
    blocked = life.command("chiller").blocked
    assert blocked is not None
    assert (blocked.reason, blocked.until_s) == (Reason.MINIMUM_OFF, stopped_s + REST_S)
