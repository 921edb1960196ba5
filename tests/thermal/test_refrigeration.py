"""The chiller against thermodynamics, its units, and what a root finder says of a closed cabinet."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq

from reefguard.settings.plan_kinds import W_PER_LABEL_HP
from reefguard.thermal.refrigeration import (
    LABEL_HP_UNCERTAINTY,
    W_PER_BTU_H,
    W_PER_TON,
    ChillerTraits,
    cabinet_air_c,
    runaway_conductance_w_k,
)

SMALL = ChillerTraits(300.0)
BTU_J = 1_055.05585262  # the international table Btu: ISO 80000-5, NIST SP 811 (2008)

waters_c = st.floats(15.0, 35.0)
airs_c = st.floats(0.0, 44.9)


# --- Units ---


def test_units_are_those_of_the_standards() -> None:
    assert pytest.approx(BTU_J / 3_600.0, rel=1e-6) == W_PER_BTU_H
    assert pytest.approx(12_000.0 * BTU_J / 3_600.0, rel=1e-6) == W_PER_TON
    assert pytest.approx(12_000.0, rel=1e-6) == W_PER_TON / W_PER_BTU_H


def test_a_bare_label_spans_what_the_trade_sells_under_it() -> None:
    """Common practice: a tenth of a horsepower is 220 to 300 W, a horsepower never more than a ton."""
    tenth_w = W_PER_LABEL_HP / 10.0
    assert tenth_w * (1.0 - LABEL_HP_UNCERTAINTY) < 220.0
    assert tenth_w * (1.0 + LABEL_HP_UNCERTAINTY) > 300.0
    assert W_PER_LABEL_HP * (1.0 + LABEL_HP_UNCERTAINTY) < W_PER_TON


# --- Coefficient of performance ---


@pytest.mark.parametrize(
    ("water_c", "air_c", "performance"),
    [
        (26.0, 25.0, 3.31),
        (26.0, 30.0, 2.78),
        (26.0, 35.0, 2.39),
        (26.0, 40.0, 2.10),
        (30.0, 30.0, 3.23),
        (24.0, 25.0, 3.06),
    ],
)
def test_performance_is_a_share_of_carnots(water_c: float, air_c: float, performance: float) -> None:
    """Three tenths of Te / (Tc - Te), with 12 and 15 K of difference; worked by hand."""
    assert SMALL.performance(water_c, air_c) == pytest.approx(performance, abs=0.005)
    evaporating_k, condensing_k = water_c - 12.0 + 273.15, air_c + 15.0 + 273.15
    exact = 0.30 * evaporating_k / (condensing_k - evaporating_k)
    assert SMALL.performance(water_c, air_c) == pytest.approx(exact, rel=1e-12)


@given(waters_c, airs_c, st.floats(0.05, 1.0))
def test_no_chiller_breaks_the_second_law(water_c: float, air_c: float, share: float) -> None:
    """Even the ideal one makes no entropy vanish: rejected / T_air is at least taken / T_water."""
    chiller = ChillerTraits(300.0, share_of_carnot=share)
    performance = chiller.performance(water_c, air_c)
    rejected = 1.0 + 1.0 / performance
    assert rejected / (air_c + 273.15) > 1.0 / (water_c + 273.15)
    evaporating_k, condensing_k = water_c - 12.0 + 273.15, air_c + 15.0 + 273.15
    if condensing_k > evaporating_k:
        assert performance <= evaporating_k / (condensing_k - evaporating_k) * (1.0 + 1e-12)


@given(waters_c, airs_c, st.floats(0.1, 5.0))
def test_warmer_air_makes_it_worse(water_c: float, air_c: float, more_k: float) -> None:
    warmer_c = min(44.9, air_c + more_k)
    assert SMALL.performance(water_c, warmer_c) <= SMALL.performance(water_c, air_c)
    assert SMALL.cooling_w(water_c, warmer_c) <= SMALL.cooling_w(water_c, air_c)


def test_in_very_cold_air_it_lifts_ten_kelvin_still() -> None:
    assert SMALL.performance(26.0, -20.0) == pytest.approx(0.30 * 287.15 / 10.0)
    assert SMALL.performance(26.0, 9.0) == SMALL.performance(26.0, -20.0) > SMALL.performance(26.0, 9.1)


# --- Capacity ---


@pytest.mark.parametrize(
    ("water_c", "air_c", "share"),
    [(26.0, 30.0, 1.0), (26.0, 40.0, 0.88), (26.0, 20.0, 1.12), (22.0, 30.0, 0.90), (24.0, 35.0, 0.89)],
)
def test_capacity_falls_by_its_slopes(water_c: float, air_c: float, share: float) -> None:
    """1.2 % a kelvin of air, 2.5 % a kelvin of water: common practice, worked by hand."""
    assert SMALL.derating(water_c, air_c) == pytest.approx(share, abs=1e-12)
    assert SMALL.cooling_w(water_c, air_c) == pytest.approx(300.0 * share, abs=1e-9)


def test_capacity_never_turns_into_heating() -> None:
    assert SMALL.derating(5.0, 80.0) == 0.0
    weak = ChillerTraits(300.0, per_air_k=0.2)
    assert weak.cooling_w(26.0, 40.0) == 0.0


def test_its_own_protection_stops_it() -> None:
    assert SMALL.cooling_w(26.0, 44.999) > 200.0
    assert SMALL.cooling_w(26.0, 45.0) == 0.0
    assert ChillerTraits(300.0, trips_at_air_c=35.0).cooling_w(26.0, 36.0) == 0.0


# --- A closed cabinet ---


def unbalanced_w(air_c: float, load_w: float, water_c: float, room_c: float, conductance_w_k: float) -> float:
    """Return what the cabinet gains more than it loses."""
    evaporating_k = water_c - 12.0 + 273.15
    performance = 0.30 * evaporating_k / (air_c + 15.0 + 273.15 - evaporating_k)
    return load_w * (1.0 + 1.0 / performance) - conductance_w_k * (air_c - room_c)


loads_w = st.floats(20.0, 400.0)
rooms_c = st.floats(20.0, 35.0)
gains = st.floats(0.05, 0.95)


@given(loads_w, st.floats(22.0, 28.0), rooms_c, gains)
def test_a_cabinet_settles_where_a_root_finder_says(
    load_w: float, water_c: float, room_c: float, gain: float
) -> None:
    conductance_w_k = runaway_conductance_w_k(load_w, water_c, SMALL) / gain
    found_c = cabinet_air_c(load_w, water_c, room_c, conductance_w_k, SMALL)
    assert found_c is not None
    arguments = (load_w, water_c, room_c, conductance_w_k)
    assert found_c == pytest.approx(
        brentq(unbalanced_w, room_c, 50_000.0, args=arguments, xtol=1e-9), abs=1e-6
    )


@given(loads_w, st.floats(22.0, 28.0), rooms_c, st.floats(0.1, 0.8))
def test_a_cabinet_settles_where_it_is_left_to(
    load_w: float, water_c: float, room_c: float, gain: float
) -> None:
    """Turn by turn: the heat of the last turn warms the air of the next."""
    conductance_w_k = runaway_conductance_w_k(load_w, water_c, SMALL) / gain
    air_c = room_c
    for _ in range(150):
        air_c = room_c + load_w * (1.0 + 1.0 / SMALL.performance(water_c, air_c)) / conductance_w_k
    assert cabinet_air_c(load_w, water_c, room_c, conductance_w_k, SMALL) == pytest.approx(air_c, abs=1e-6)


@given(loads_w, st.floats(22.0, 28.0), rooms_c, st.floats(0.05, 3.0))
def test_it_runs_away_exactly_where_the_criterion_says(
    load_w: float, water_c: float, room_c: float, gain: float
) -> None:
    """G = Q / (eta Te): no air temperature, however hot, carries the heat off below it."""
    assume(abs(gain - 1.0) > 1e-6)
    edge_w_k = load_w / (0.30 * (water_c - 12.0 + 273.15))
    assert runaway_conductance_w_k(load_w, water_c, SMALL) == pytest.approx(edge_w_k, rel=1e-12)
    conductance_w_k = edge_w_k / gain
    settles = cabinet_air_c(load_w, water_c, room_c, conductance_w_k, SMALL) is not None
    assert settles == (unbalanced_w(1e12, load_w, water_c, room_c, conductance_w_k) < 0.0)


def test_at_the_edge_itself_it_runs_away() -> None:
    edge_w_k = runaway_conductance_w_k(150.0, 26.0, SMALL)
    assert cabinet_air_c(150.0, 26.0, 28.0, edge_w_k, SMALL) is None
    hot_c = cabinet_air_c(150.0, 26.0, 28.0, 1.001 * edge_w_k, SMALL)
    assert hot_c is not None
    assert hot_c > 1_000.0


def test_a_wooden_cabinet_cannot_keep_a_small_chiller() -> None:
    """Five to eight watts a kelvin: 150 W of load put its air far beyond any machine's protection."""
    for conductance_w_k in (5.0, 8.0):
        settled_c = cabinet_air_c(150.0, 26.0, 28.0, conductance_w_k, SMALL)
        assert settled_c is not None
        assert settled_c > SMALL.trips_at_air_c
