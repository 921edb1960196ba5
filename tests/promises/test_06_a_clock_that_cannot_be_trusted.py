"""Promise 6: no timer uses the wall clock, and a clock that cannot be trusted is not followed."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from builders import NIGHT, NOON, Life, bench_settings
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.settings.model import Settings
from reefguard.vocabulary import Mode, RawSample, Reason, Wall

GONE: dict[str, RawSample] = {}


def resting() -> Settings:
    base = bench_settings()
    return replace(base, lights=replace(base.lights, fans_run_when_time_unknown=False))


@pytest.mark.parametrize("shown", [NOON, NIGHT, datetime(1970, 1, 1, tzinfo=UTC)])
def test_without_a_clock_or_lights_input_the_fans_run_whatever_the_clock_shows(shown: datetime) -> None:
    life = Life()
    life.last(7_200.0, GONE, wall=Wall(shown, trusted=False))
    assert life.command("fan1").why.reason is Reason.TIME_UNKNOWN_RUN
    assert life.command("fan1").level == life.command("fan2").level == 1.0


def test_a_setting_may_have_them_rest() -> None:
    life = Life(resting())
    life.tick(GONE, wall=Wall(NOON, trusted=False))
    assert life.command("fan1").why.reason is Reason.TIME_UNKNOWN_REST
    assert not life.command("fan1").on


@pytest.mark.parametrize("base", [bench_settings(), resting()])
@pytest.mark.parametrize("lit", [True, False])
def test_a_lights_input_needs_no_clock(base: Settings, lit: bool) -> None:
    life = Life(base)
    life.last(3_600.0, GONE, lights_sensed=lit, wall=Wall(NOON, trusted=False))
    life.tick(GONE, lights_sensed=lit, wall=Wall(NOON, trusted=False))
    assert life.command("fan1").on is lit


def test_the_after_run_runs_on_the_boot_clock() -> None:
    life = Life()
    life.tick(GONE, wall=Wall(NOON, trusted=True))
    life.tick(GONE, wall=Wall(NIGHT, trusted=True))
    until_s = life.command("fan1").why.until_s
    for hours in (1, -2, 5, -1):
        life.tick(GONE, wall=Wall(NIGHT + timedelta(hours=hours), trusted=True))
        assert life.command("fan1").why.until_s == until_s


# A clock's life: how it is wrong, and whether it is known to be right.
walls = st.lists(
    st.tuples(st.integers(-(10**8), 10**8), st.booleans(), st.integers(1, 40)), min_size=1, max_size=12
)


@settings(max_examples=50, deadline=None)
@given(
    walls,
    st.lists(st.sampled_from([25.9, 26.4, 26.9, 27.4, 26.0, 25.0]), min_size=12, max_size=12),
)
def test_two_guards_that_differ_only_in_their_clocks_never_differ_in_automatic(
    clock_of: list[tuple[int, bool, int]], waters_c: list[float]
) -> None:
    base = bench_settings(trust=replace(bench_settings().trust, fastest_c_per_min=60.0))
    right, wrong = Life(base), Life(base)
    # Both begin with the lights seen, so that only the clock differs from here on.
    for life in (right, wrong):
        life.last(100.0, 26.4, lights_sensed=True)
    for (off_by_s, trusted, count), water_c in zip(clock_of, waters_c, strict=False):
        for _ in range(count):
            shown = NOON + timedelta(seconds=right.now_s)
            right.tick(water_c, wall=Wall(shown, trusted=True))
            wrong.tick(water_c, wall=Wall(shown + timedelta(seconds=off_by_s), trusted=trusted))
            assert right.decision.mode is wrong.decision.mode is Mode.AUTOMATIC
            assert right.decision.commands == wrong.decision.commands
            assert right.memory._replace(lights=None) == wrong.memory._replace(lights=None)
