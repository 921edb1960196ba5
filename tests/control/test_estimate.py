"""What several probes say together: warmest, coldest, and the one that stands alone."""

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.control.estimate import cross_check, estimate
from reefguard.vocabulary import Cause, Distrusted, Quality, Reading, Trusted, WaterEstimate

LIMIT_C = 1.0


def trusted(*waters_c: float) -> list[Trusted]:
    return [
        Trusted(f"probe {place}", water_c, 100.0 + place, Quality.PASS, Cause.NONE)
        for place, water_c in enumerate(waters_c)
    ]


def causes(readings: Sequence[Reading]) -> list[Cause]:
    return [reading.cause for reading in readings]


LOST = Distrusted("lost", None, Quality.MISSING, Cause.EMPTY)


@pytest.mark.parametrize("readings", [[], [LOST], [LOST, LOST, LOST]])
def test_nothing_trusted_is_no_estimate(readings: list[Reading]) -> None:
    assert estimate(cross_check(readings, LIMIT_C)) is None


def test_one_probe_is_both_warmest_and_coldest() -> None:
    (only,) = trusted(26.5)
    assert estimate([LOST, only]) == WaterEstimate(26.5, "probe 0", 26.5, "probe 0", 100.0)


@pytest.mark.parametrize("order", [[0, 1, 2], [2, 1, 0], [1, 0, 2], [1, 2, 0]])
def test_warmest_coldest_and_oldest_are_found_in_any_order(order: list[int]) -> None:
    readings = trusted(26.0, 26.5, 26.2)
    found = estimate([readings[place] for place in order])
    assert found == WaterEstimate(26.5, "probe 1", 26.0, "probe 0", 100.0)


def test_of_equals_the_first_in_the_settings_is_named() -> None:
    found = estimate(trusted(26.0, 26.0))
    assert found is not None
    assert (found.warmest_probe, found.coldest_probe) == ("probe 0", "probe 0")


def test_two_in_specification_agree_at_exactly_the_limit() -> None:
    readings = trusted(26.0, 27.0)
    assert cross_check(readings, LIMIT_C) == tuple(readings)


def test_two_further_apart_disagree_and_are_both_used_each_against_its_danger() -> None:
    checked = cross_check([*trusted(26.0, 27.0625), LOST], LIMIT_C)
    assert causes(checked) == [Cause.DISAGREES, Cause.DISAGREES, Cause.EMPTY]
    assert [reading.quality for reading in checked] == [Quality.SUSPECT, Quality.SUSPECT, Quality.MISSING]
    found = estimate(checked)
    assert found is not None
    assert (found.warmest_c, found.coldest_c) == (27.0625, 26.0)


@pytest.mark.parametrize(
    ("waters_c", "odd"),
    [
        ([26.0, 26.5, 29.0], 2),
        ([22.0, 26.5, 26.0], 0),
        ([26.0, 20.0, 26.0, 26.9], 1),
        ([26.0, 27.0, 28.0625], 2),  # the other two agree at exactly the limit
    ],
)
def test_of_three_or_more_the_one_that_stands_alone_is_left_out(waters_c: list[float], odd: int) -> None:
    readings = trusted(*waters_c)
    checked = cross_check(readings, LIMIT_C)
    assert checked[odd] == Distrusted(f"probe {odd}", waters_c[odd], Quality.FAIL, Cause.ODD_ONE_OUT)
    others = [reading for place, reading in enumerate(checked) if place != odd]
    assert others == [reading for place, reading in enumerate(readings) if place != odd]


@pytest.mark.parametrize(
    "waters_c",
    [
        [25.0, 26.0, 27.0],  # the middle one may side with either
        [20.0, 26.0, 32.0],  # nobody agrees with anybody
        [26.0, 26.0, 30.0, 30.0],  # two against two
        [26.0, 26.0, 20.0, 32.0],  # two stand alone
    ],
)
def test_where_nobody_can_say_who_is_wrong_all_are_used(waters_c: list[float]) -> None:
    checked = cross_check(trusted(*waters_c), LIMIT_C)
    assert causes(checked) == [Cause.DISAGREES] * len(waters_c)
    found = estimate(checked)
    assert found is not None
    assert (found.coldest_c, found.warmest_c) == (min(waters_c), max(waters_c))


def test_a_distrusted_probe_has_no_vote() -> None:
    stranger = Distrusted("stranger", 20.0, Quality.NOT_EVALUATED, Cause.PROVING)
    checked = cross_check([*trusted(26.0, 28.0), stranger], LIMIT_C)
    assert causes(checked) == [Cause.DISAGREES, Cause.DISAGREES, Cause.PROVING]


@settings(deadline=None)
@given(st.lists(st.floats(0.1, 49.9), min_size=1, max_size=6))
def test_never_leaves_out_more_than_one_nor_the_last_two(waters_c: list[float]) -> None:
    checked = cross_check(trusted(*waters_c), LIMIT_C)
    used = [reading for reading in checked if isinstance(reading, Trusted)]
    assert len(used) >= len(waters_c) - (1 if len(waters_c) >= 3 else 0)
    found = estimate(checked)
    assert found is not None
    assert found.coldest_c == min(reading.water_c for reading in used)
    assert found.warmest_c == max(reading.water_c for reading in used)
