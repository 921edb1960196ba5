"""What a person asks of an output stands for the demand and for nothing else."""

import pytest
from builders import Life, bench_settings
from hypothesis import given
from hypothesis import strategies as st

from reefguard.control.words import explain
from reefguard.settings.model import Unit
from reefguard.vocabulary import Command, Reason, RoomAir, Wish


def wish(life: Life, output: str, *, on: bool, for_s: float = 120.0) -> Wish:
    return Wish(output, on, "ann", life.now_s + 5.0 + for_s)


def warm_life(water_c: float, seconds: float = 700.0) -> Life:
    life = Life()
    life.last(seconds, water_c)
    return life


def test_a_fan_is_asked_to_run_and_says_who_asks() -> None:
    life = warm_life(26.0)
    assert not life.command("fan1").on
    life.tick(26.0, wish=wish(life, "fan1", on=True))
    assert life.command("fan1").on
    assert not life.command("fan2").on
    assert explain(life.command("fan1"), life.now_s, Unit.CELSIUS) == (
        "ann asks for it to run, for another 2 min at most"
    )


def test_a_fan_is_asked_to_rest() -> None:
    life = warm_life(26.8)
    assert life.command("fan1").on
    life.tick(26.8, wish=wish(life, "fan1", on=False))
    assert not life.command("fan1").on
    assert life.command("fan2").on
    life.tick(26.8)
    assert life.command("fan1").on


@pytest.mark.parametrize("water", [27.9, {}])
def test_no_fan_rests_for_a_person_over_water_that_is_too_warm_or_not_known(water: float) -> None:
    life = warm_life(27.9)
    life.last(100.0, water)
    assert life.command("fan1").on
    life.tick(water, wish=wish(life, "fan1", on=False))
    assert life.command("fan1").on


def test_a_fan_that_would_heat_does_not_run_for_a_person() -> None:
    life = warm_life(26.0)
    humid = RoomAir(32.0, 0.95, life.now_s + 5.0)
    life.tick(26.0, wish=wish(life, "fan1", on=True), room=humid)
    blocked = life.command("fan1").blocked
    assert blocked is not None
    assert blocked.reason is Reason.WOULD_HEAT


def test_a_wish_ends_on_its_second() -> None:
    life = warm_life(26.0)
    asked = Wish("fan1", True, "ann", life.now_s + 10.0)
    life.tick(26.0, 9.999, wish=asked)
    assert life.command("fan1").on
    life.tick(26.0, 0.001, wish=asked)
    assert not life.command("fan1").on


def test_nothing_is_left_of_a_wish_while_a_reading_is_awaited() -> None:
    life = warm_life(26.0)
    life.last(60.0, {})
    for _ in range(3):
        life.tick({}, wish=wish(life, "fan1", on=True))
    assert life.decision.estimate is None
    assert life.command("fan1").on
    life.tick({})
    assert not life.command("fan1").on


def test_a_chiller_starts_for_a_person_only_rested_and_stops_only_after_its_minimum_on_time() -> None:
    life = Life()
    life.last(100.0, 26.8)
    while not life.command("chiller").on:
        life.tick(26.8, wish=wish(life, "chiller", on=True))
        if not life.command("chiller").on:
            blocked = life.command("chiller").blocked
            assert blocked is None or blocked.reason in (Reason.MINIMUM_OFF, Reason.NO_TRUSTED_WATER)
    started_s = life.now_s
    assert started_s >= 300.0
    while life.command("chiller").on:
        life.tick(26.8, wish=wish(life, "chiller", on=False))
    assert life.now_s - started_s == 120.0


def test_a_chiller_stops_once_nobody_asks_any_more() -> None:
    """The water has not called for it, and must not seem to have."""
    life = Life()
    life.last(320.0, 26.8)
    life.tick(26.8, wish=wish(life, "chiller", on=True))
    assert life.command("chiller").on
    life.last(125.0, 26.8)
    assert not life.command("chiller").on


def test_no_chiller_rests_for_a_person_over_water_that_is_too_warm() -> None:
    life = Life()
    life.last(400.0, 27.7)
    assert life.command("chiller").on
    while life.command("chiller").on:
        life.tick(27.7, wish=wish(life, "chiller", on=False))
    life.last(400.0, 27.9)
    assert life.command("chiller").on
    for _ in range(60):
        life.tick(27.9, wish=wish(life, "chiller", on=False))
        assert life.command("chiller").on
    assert life.command("chiller").why.reason is Reason.WARM


@pytest.mark.parametrize(("water_c", "reason"), [(26.0, Reason.COLD_WATER), (None, Reason.NO_TRUSTED_WATER)])
def test_no_chiller_starts_for_a_person_over_cold_or_unknown_water(
    water_c: float | None, reason: Reason
) -> None:
    life = Life()
    for _ in range(200):
        life.tick({} if water_c is None else water_c, wish=wish(life, "chiller", on=True))
        assert not life.command("chiller").on
    blocked = life.command("chiller").blocked
    assert blocked is not None
    assert blocked.reason is reason


def test_out_of_service_outranks_a_person() -> None:
    settings = bench_settings()
    assert settings.fans is not None
    from dataclasses import replace  # noqa: PLC0415  only here

    first, second = settings.fans.fans
    fans = replace(settings.fans, fans=(replace(first, out_of_service=True), second))
    life = Life(replace(settings, fans=fans))
    life.last(200.0, 26.0)
    life.tick(26.0, wish=wish(life, "fan1", on=True))
    assert life.command("fan1").blocked is not None


ticks = st.lists(
    st.tuples(
        st.sampled_from([24.5, 25.9, 26.3, 26.7, 27.3, 28.5]),
        st.sampled_from(["fan1", "chiller"]),
        st.none() | st.booleans(),
        st.integers(1, 40),
    ),
    max_size=30,
)


@given(ticks)
def test_rests_and_protections_hold_whatever_a_person_asks(
    asked: list[tuple[float, str, bool | None, int]],
) -> None:
    """And once nothing is asked any more, fans are as if nobody ever had."""
    life, beside = Life(), Life()
    stopped_s = 0.0
    was_on = False
    for water_c, output, on, times in asked:
        for _ in range(times):
            wished = None if on is None else wish(life, output, on=on)
            life.tick(water_c, wish=wished)
            beside.tick(water_c)
            chiller: Command = life.command("chiller")
            if chiller.on and not was_on:
                assert life.now_s - stopped_s >= 300.0
            if was_on and not chiller.on:
                stopped_s = life.now_s
            if chiller.on:
                assert life.decision.estimate is not None
                assert life.decision.estimate.coldest_c > 26.0
            was_on = chiller.on
            if wished is None or output != "fan1":
                assert life.command("fan1").level == beside.command("fan1").level
