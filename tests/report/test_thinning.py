"""Thinning loses no peak and no gap."""

import math

from hypothesis import given
from hypothesis import strategies as st

from reefguard.report.scales import TimeAxis
from reefguard.report.thinning import columns, runs

AXIS = TimeAxis(0.0, 1_000.0)

samples = st.lists(
    st.tuples(st.floats(-200.0, 1_200.0), st.one_of(st.none(), st.floats(-50.0, 50.0))), max_size=300
)


def good(points: list[tuple[float, float | None]]) -> list[tuple[float, float]]:
    """Return the samples that lie on the axis."""
    return [(at_s, value) for at_s, value in points if value is not None and 0.0 <= at_s <= 1_000.0]


@given(samples)
def test_the_highest_and_the_lowest_value_of_every_column_survive(
    points: list[tuple[float, float | None]],
) -> None:
    kept = {point for run in runs(points, AXIS, 10.0) for point in run}
    by_column: dict[int, list[float]] = {}
    for at_s, value in good(points):
        by_column.setdefault(math.floor(at_s / 10.0), []).append(value)
    for column, values in by_column.items():
        shown = [value for at_s, value in kept if math.floor(at_s / 10.0) == column]
        assert max(values) <= max(shown)
        assert min(values) >= min(shown)


@given(samples)
def test_what_is_kept_was_there_or_lies_on_an_edge(points: list[tuple[float, float | None]]) -> None:
    for run in runs(points, AXIS, 10.0):
        assert run == sorted(run, key=lambda point: point[0])
        for point in run:
            assert point in points or point[0] in (0.0, 1_000.0)


@given(samples)
def test_no_more_is_kept_than_the_paper_can_show(points: list[tuple[float, float | None]]) -> None:
    found = runs(points, AXIS, 50.0)
    assert sum(len(run) for run in found) <= 2 * (1_000 // 50 + 1) + 2 * len(found)
    # Two runs lie at least a column apart.
    assert len(found) <= 1_000 // 50 + 1


def test_a_gap_wider_than_a_column_parts_the_line() -> None:
    points = [(100.0, 1.0), (150.0, 1.0), (160.0, None), (200.0, 2.0), (250.0, 2.0)]
    assert runs(points, AXIS, 10.0) == [[(100.0, 1.0), (150.0, 1.0)], [(200.0, 2.0), (250.0, 2.0)]]


def test_a_gap_as_wide_as_a_column_parts_the_line_and_a_narrower_one_does_not() -> None:
    assert len(runs([(100.0, 1.0), (105.0, None), (110.0, 1.0)], AXIS, 10.0)) == 2
    assert len(runs([(100.0, 1.0), (105.0, None), (109.0, 1.0)], AXIS, 10.0)) == 1


def test_time_without_a_sample_and_without_a_gap_is_drawn_through() -> None:
    assert len(runs([(100.0, 1.0), (900.0, 2.0)], AXIS, 10.0)) == 1


def test_a_line_is_cut_where_it_crosses_the_edges() -> None:
    assert runs([(-100.0, 0.0), (1_100.0, 12.0)], AXIS, 10.0) == [[(0.0, 1.0), (1_000.0, 11.0)]]
    assert runs([(-100.0, 0.0), (-50.0, None), (100.0, 2.0)], AXIS, 10.0) == [[(100.0, 2.0)]]


def test_what_cannot_be_drawn_is_a_gap() -> None:
    for value in (math.nan, math.inf, -math.inf, 1e300):
        assert runs([(100.0, 1.0), (150.0, value), (200.0, 1.0)], AXIS, 10.0) == [
            [(100.0, 1.0)],
            [(200.0, 1.0)],
        ]
    assert runs([(math.nan, 1.0)], AXIS, 10.0) == []


stretches = st.lists(
    st.tuples(st.floats(0.0, 40.0), st.floats(0.0, 40.0), st.floats(0.0, 1.0)).map(
        lambda three: (min(three[:2]), max(three[:2]), three[2])
    ),
    max_size=30,
)


@given(stretches)
def test_columns_cover_every_stretch_and_nothing_else(found: list[tuple[float, float, float]]) -> None:
    levels = columns(found, 40)
    for column, level in enumerate(levels):
        covered = sum(
            level * max(0.0, min(right, column + 1) - max(left, column)) for left, right, level in found
        )
        assert math.isclose(level, min(1.0, covered), abs_tol=1e-9)
