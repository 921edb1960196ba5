"""The past on the page: gaps stay gaps, alarms stand where they stood, a year is not larger than a page."""

import re
from datetime import UTC
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from page_rig import LIMITS, NOW_S, ZONE, event, made_up_past, no_past

from reefguard.link.page.charts import charts, points
from reefguard.link.page.past_spells import spells
from reefguard.link.page.past_view import Asked, PastView, past_view
from reefguard.link.page.spans import REACHES, reach_of
from reefguard.link.page.values import pointed, runs, value_table
from reefguard.records.history import Interval, Past, Series, Span
from reefguard.report.strips import Spell
from reefguard.settings.model import Unit

DAY, WEEK, NINETY, SEASON, YEAR = REACHES
PARTS = ("display", "sump", "room air", "safe band", "fans cut in", "fan1", "chiller", "water high")
DISPLAY = Series("display", "water")


def past(*spans: Span, intervals: tuple[Interval, ...] = (), lasts_s: float = 86_400.0) -> Past:
    return Past(0.0, lasts_s, 60.0, {DISPLAY: spans}, intervals)


def shown(reach: Any = DAY, read: Any = made_up_past, alarms: Any = ()) -> PastView:
    return past_view(Asked(reach, NOW_S, LIMITS, Unit.CELSIUS, ZONE), read, alarms)


def span(from_s: float, mean: float = 25.0) -> Span:
    return Span(from_s, 60.0, mean, mean - 0.1, mean + 0.1, 1.0)


def test_a_minute_that_is_missing_is_a_gap() -> None:
    found = list(points((span(0.0), span(60.0), span(180.0)), Unit.CELSIUS))
    assert found == [(30.0, 25.0), (90.0, 25.0), (120.0, None), (210.0, 25.0)]


def test_gaps_part_the_line_in_the_drawing() -> None:
    spans = tuple(span(60.0 * minute) for minute in range(1_440) if not 600 <= minute < 700)
    svg = charts(past(*spans), (), DAY, LIMITS, said="", unit=Unit.CELSIUS, zone=UTC).wide.svg
    lines = [
        one.get("d") or ""
        for one in ET.fromstring(svg).iter()  # noqa: S314  our own
        if one.get("class") == "series ink-1 dash-1"
    ]
    line = max(lines, key=len)  # the other is its sample, in the legend
    assert line.count("M") == 2


def test_each_reach_has_a_drawing_for_either_screen_with_all_its_parts() -> None:
    alarms = (event(1, "raised", "water high", NOW_S - 7_200.0),)
    for reach in REACHES:
        found = shown(reach, alarms=alarms)
        assert found.charts is not None
        for drawing in (found.charts.wide, found.charts.narrow):
            text = "".join(ET.fromstring(drawing.svg).itertext())  # noqa: S314  our own
            for words in (
                "display",
                "sump",
                "room air",
                "safe band",
                "fans cut in",
                "fan1",
                "chiller",
                "water high",
            ):
                assert words in text, (reach.key, words)
            assert drawing.plot is not None
            assert 0.0 < drawing.plot.left < drawing.plot.right < 1.0


@pytest.mark.parametrize(("reach", "most"), [(DAY, 30_000), (WEEK, 30_000), (NINETY, 30_000), (YEAR, 50_000)])
def test_drawings_are_small(reach: Any, most: int) -> None:
    found = shown(reach)
    assert found.charts is not None
    assert len(found.charts.wide.svg) + len(found.charts.narrow.svg) < most


def test_more_probes_make_the_drawing_of_a_day_little_larger() -> None:
    def read(from_s: float, until_s: float, most: int) -> Past:
        found = made_up_past(from_s, until_s, most)
        more = {Series(f"probe {number}", "water"): found.series[DISPLAY] for number in range(4)}
        return found._replace(series=found.series | more)

    few, many = (shown(DAY, one).charts for one in (made_up_past, read))
    assert few is not None
    assert many is not None
    assert len(many.wide.svg) < 1.25 * len(few.wide.svg)
    assert len(many.wide.svg) + len(many.narrow.svg) < 36_000


def test_alarms_stand_where_they_stood() -> None:
    events = (
        event(1, "raised", "water high", -500.0),
        event(2, "returned", "water high", 100.0),
        event(3, "raised", "no water", 200.0),
        event(4, "raised", "no water", 250.0),
        event(5, "acknowledged", "no water", 260.0),
        event(6, "suppressed", "no water", 300.0),
        event(7, "raised", "storage failing", 900.0),
        event(8, "raised", "too old", -900.0),
        event(9, "returned", "too old", -800.0),
        event(10, "returned", "never raised", 500.0),
    )
    assert spells(events, 0.0, 1_000.0) == (
        Spell(0.0, 100.0, "water high"),
        Spell(200.0, 300.0, "no water"),
        Spell(900.0, 1_000.0, "storage failing"),
    )


def test_events_at_no_time_and_of_other_kinds_are_passed_over() -> None:
    seq, one = event(1, "raised", "water high", 10.0)
    odd = [
        type(event(1, "x", "x", 0.0))(seq, one._replace(at_wall=wall)) for wall in ("", "2031-07-14", "soon")
    ]
    other = type(odd[0])(seq, one._replace(kind="output"))
    assert spells([*odd, other], 0.0, 100.0) == ()


def test_run_hours_and_starts() -> None:
    found = runs(
        past(
            intervals=(
                Interval("chiller", 0.0, 900.0, running=False, start=False),
                Interval("chiller", 3_600.0, 6_300.0, running=False, start=True),
                Interval("fan1", 0.0, 43_200.0, running=False, start=True),
            )
        )
    )
    assert [(one.output, one.hours, one.share, one.starts) for one in found] == [
        ("fan1", "12.0 h", "50%", "0"),  # it began before the stretch did
        ("chiller", "1.0 h", "4%", "1"),
    ]


def test_the_table_says_lowest_and_highest_and_how_long_what_ran() -> None:
    found = value_table(
        past(
            span(0.0, 25.0),
            span(1_800.0, 26.0),
            span(7_200.0, 27.0),
            intervals=(Interval("fan1", 1_800.0, 5_400.0, running=False, start=True),),
        ),
        DAY,
        Unit.CELSIUS,
        UTC,
    )
    assert found.head == ("from", "display in °C", "fan1 on for")
    assert found.rows == (
        ("Thu 1 Jan 02:00", "26.9 to 27.1", "\N{EN DASH}"),
        ("Thu 1 Jan 01:00", "\N{EN DASH}", "30 min"),
        ("Thu 1 Jan 00:00", "24.9 to 26.1", "30 min"),
    )


def test_fahrenheit_everywhere() -> None:
    view = past_view(Asked(DAY, NOW_S, LIMITS, Unit.FAHRENHEIT, ZONE), made_up_past, ())
    assert view.charts is not None
    assert view.table is not None
    assert view.pointed is not None
    assert "°F" in view.described
    assert all("°F" in cell for cell in view.table.head[1:4])
    assert {unit for _, unit, _ in view.pointed.series} == {"°F"}
    assert "82.0" in re.sub(r"\s", "", view.described) or "8" in view.described


def decoded(written: str) -> list[float | None]:
    """Read the differences as the page's script does."""
    found: list[float | None] = []
    total = 0
    for one in written.split(","):
        total += int(one or 0)
        found.append(total / 100.0 if one else None)
    return found


@settings(deadline=None)
@given(st.lists(st.none() | st.floats(10.0, 40.0), min_size=1, max_size=40))
def test_what_is_pointed_at_is_what_was_measured(values: list[float | None]) -> None:
    spans = tuple(
        Span(300.0 * place, 300.0, value, value, value, 1.0)
        for place, value in enumerate(values)
        if value is not None
    )
    ((name, _, written),) = pointed(past(*spans), DAY, Unit.CELSIUS, UTC).series
    read = decoded(written)
    assert name == "display"
    assert len(read) == 288
    for place, value in enumerate(values):
        kept = read[place]
        if value is None:
            assert kept is None
        else:
            assert kept is not None
            assert kept == pytest.approx(value, abs=0.0051)


def test_an_empty_history_is_no_error_and_no_history_is_told() -> None:
    empty = shown(read=lambda from_s, until_s, most: Past(from_s, until_s, 60.0, {}, ()))
    assert empty.charts is not None
    assert "No reading of the water" in empty.described
    assert empty.table is not None
    assert empty.table.rows == ()
    none = shown(read=no_past)
    assert none.charts is None
    assert "history.db is not there" in none.trouble


@settings(deadline=None, max_examples=40)
@given(
    st.sampled_from(REACHES),
    st.lists(
        st.tuples(st.integers(-10, 400), st.floats(-50, 150), st.sampled_from([60, 300, 3_600])), max_size=30
    ),
    st.lists(st.tuples(st.integers(0, 400), st.integers(0, 9_000), st.text(max_size=10)), max_size=12),
    st.text(max_size=12),
)
def test_whatever_the_history_holds_it_can_be_drawn(reach: Any, rows: Any, ran: Any, name: str) -> None:
    def read(from_s: float, until_s: float, most: int) -> Past:
        spans = tuple(
            Span(from_s + place * 600.0, lasts, mean, mean, mean, 0.5) for place, mean, lasts in rows
        )
        intervals = tuple(
            Interval(output, from_s + place * 60.0, from_s + place * 60.0 + lasts, running=False, start=True)
            for place, lasts, output in ran
        )
        kept = {Series(name, "water"): tuple(sorted(spans)), Series("room", "room"): ()}
        return Past(from_s, until_s, 60.0, kept, intervals)

    found = shown(reach, read=read)
    assert found.charts is not None
    for drawing in (found.charts.wide, found.charts.narrow):
        ET.fromstring(drawing.svg)  # noqa: S314  our own


def test_reaches_by_their_key() -> None:
    assert reach_of(None) is DAY
    assert reach_of("90d") is NINETY
    assert reach_of("season") is SEASON
    assert reach_of("forever") is None
