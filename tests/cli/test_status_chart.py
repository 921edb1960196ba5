"""The chart of `status --watch`: where the water was, what ran, and nothing where nothing is known."""

from datetime import UTC
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_rig import made_up_past, no_past

from reefguard.cli import status
from reefguard.cli.status_chart import chart
from reefguard.records.history import Interval, Past, Series, Span
from reefguard.rehearsal.bench_clock import BenchClock
from reefguard.settings.model import Unit


def drawn(past: Past, columns: int = 80, **changes: Any) -> list[str]:
    how: dict[str, Any] = {"band_c": (24.0, 27.8), "unit": Unit.CELSIUS, "zone": UTC, "columns": columns}
    return list(chart(past, **(how | changes)))


def steady(mean: float, *, until: int = 360, name: str = "display") -> dict[Series, tuple[Span, ...]]:
    spans = tuple(Span(60.0 * minute, 60.0, mean, mean, mean, 1.0) for minute in range(until))
    return {Series(name, "water"): spans}


def test_steady_water_is_a_straight_row_within_the_band() -> None:
    lines = drawn(Past(0.0, 21_600.0, 60.0, steady(26.1), ()))
    assert lines[0] == "  last      6 h; * warmest, o coldest, - safe band"
    assert lines[1].startswith("    27.8 °C ---")
    assert lines[8].startswith("    24.0 °C ---")
    assert sum("*" in line for line in lines[1:9]) == 1
    # Eight rows from 24.0 to 27.8 lie 0.54 apart: 26.1 is nearest to the fourth, 26.2.
    assert lines[4].startswith("    26.2 °C ***")
    assert lines[-1].split() == ["00:00", "06:00"]
    assert lines[-1].endswith("06:00")


def test_where_there_is_no_reading_there_is_no_mark() -> None:
    lines = drawn(Past(0.0, 21_600.0, 60.0, steady(26.1, until=180), ()))
    (row,) = [line for line in lines[1:9] if "*" in line]
    marks = row[12:]
    assert len(marks) == len(marks.rstrip()) == 33
    assert set(marks) == {"*"}


def test_what_ran_is_marked() -> None:
    ran = (
        Interval("fan1", 0.0, 10_800.0, running=False, start=True),
        Interval("chiller", 21_000.0, 21_100.0, running=False, start=True),
    )
    lines = drawn(Past(0.0, 21_600.0, 60.0, steady(26.1), ran), columns=62)
    assert lines[9] == "  fan1      " + 24 * "#" + 24 * "."
    assert lines[10] == "  chiller   " + 46 * "." + "+."


def test_an_empty_history_says_so() -> None:
    assert "no reading of the water" in drawn(Past(0.0, 21_600.0, 60.0, {}, ()))[1]


@given(
    st.lists(st.tuples(st.integers(-5, 400), st.floats(-50.0, 150.0)), max_size=30),
    st.integers(0, 300),
    st.sampled_from([None, (24.0, 27.8), (25.0, 25.0)]),
)
def test_whatever_the_history_holds_no_line_is_wider_than_it_may_be(
    rows: list[tuple[int, float]], columns: int, band: tuple[float, float] | None
) -> None:
    spans = tuple(Span(60.0 * at, 60.0, mean, mean, mean, 1.0) for at, mean in sorted(rows))
    past = Past(0.0, 21_600.0, 60.0, {Series("display", "water"): spans}, ())
    lines = drawn(past, columns, band_c=band)
    assert all(len(line) <= max(60, columns) for line in lines)


class _Reader:
    def __init__(self, past: Any) -> None:
        self.past = past


@pytest.mark.parametrize(
    ("past", "said"),
    [
        (made_up_past, "* warmest"),
        (no_past, "no chart: /var/lib/reefguard/history.db is not there"),
        (lambda *_: 1 / 0, "no chart: the history cannot be read (ZeroDivisionError)"),
    ],
)
def test_watching_shows_the_present_whatever_the_past(
    past: Any, said: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    looks = 0

    def enough(_: float) -> None:
        nonlocal looks
        looks += 1
        if looks == 2:
            raise KeyboardInterrupt

    monkeypatch.setattr("reefguard.cli.status.time.sleep", enough)
    with pytest.raises(SystemExit) as ended:
        status._watch(tmp_path / "status.json", BenchClock(tmp_path, 1.0), _Reader(past))  # type: ignore[arg-type]  # of its shape
    assert ended.value.code == 3
    shown = capsys.readouterr().out
    assert shown.count("UNKNOWN - ") == 2
    assert said in shown
