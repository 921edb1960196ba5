"""Elapsed active time and change-of-state count."""

from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.control.counters import Counter, count


def test_counts_a_run_and_its_two_changes() -> None:
    off = Counter(on=False, since_s=0.0)
    on = count(off, on=True, now_s=100.0)
    assert on == Counter(True, 100.0, 0.0, 1)
    assert on.run_s(160.0) == 60.0
    assert on.elapsed_active_s(160.0) == 60.0
    rested = count(on, on=False, now_s=160.0)
    assert rested == Counter(False, 160.0, 60.0, 2)
    assert rested.run_s(500.0) == 0.0
    assert rested.elapsed_active_s(500.0) == 60.0


def test_no_change_is_no_change() -> None:
    on = Counter(True, 100.0, 7.0, 3)
    assert count(on, on=True, now_s=400.0) is on


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 1_000), st.booleans()), max_size=40))
def test_agrees_with_adding_up_second_by_second(life: list[tuple[int, bool]]) -> None:
    counter, now_s, on, active_s, changes = Counter(False, 0.0), 0, False, 0, 0
    for wait_s, next_on in life:
        now_s += wait_s
        active_s += wait_s if on else 0
        changes += next_on is not on
        on = next_on
        counter = count(counter, on=on, now_s=float(now_s))
        assert counter.elapsed_active_s(float(now_s)) == active_s
        assert counter.changes == changes
