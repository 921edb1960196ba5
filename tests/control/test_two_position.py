"""One differential, one definition."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.control.two_position import calls
from reefguard.settings.model import CutPoints

CUT = CutPoints(cut_in_c=27.2, cut_out_c=26.6)


@pytest.mark.parametrize(
    ("water_c", "before", "after"),
    [
        (27.2, False, True),  # exactly at the cut-in
        (27.1999, False, False),  # a hair below it
        (27.1999, True, True),
        (26.9, False, False),
        (26.9, True, True),
        (26.6001, True, True),  # a hair above the cut-out
        (26.6, True, False),  # exactly at the cut-out
        (26.6, False, False),
        (35.0, False, True),
        (15.0, True, False),
    ],
)
def test_turns_at_the_cut_points_and_keeps_between_them(water_c: float, before: bool, after: bool) -> None:
    assert calls(water_c, CUT, before=before) is after


@settings(deadline=None)
@given(st.lists(st.floats(20.0, 32.0)), st.booleans())
def test_never_turns_between_the_cut_points(waters_c: list[float], at_first: bool) -> None:
    before = at_first
    for water_c in waters_c:
        after = calls(water_c, CUT, before=before)
        if after and not before:
            assert water_c >= CUT.cut_in_c
        if before and not after:
            assert water_c <= CUT.cut_out_c
        before = after


@settings(deadline=None)
@given(st.booleans())
def test_a_number_that_is_none_starts_nothing(before: bool) -> None:
    assert calls(float("nan"), CUT, before=before) is before
