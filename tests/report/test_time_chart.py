"""A time chart shows what it was given: well-formed, bounded, and without a number that is none."""

import math
import random
import re
from collections.abc import Sequence
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.report.line_panel import Band, Line, LinePanel, Reference, Spot
from reefguard.report.scales import Across, TimeAxis
from reefguard.report.strips import OutputStrip, Run, Spell, Trouble, TroubleStrip, height_px
from reefguard.report.time_chart import Marker, TimeChart, time_chart

SVG = "{http://www.w3.org/2000/svg}"
DAY_S = 86_400.0
DAY = TimeAxis(0.0, DAY_S)

any_number = st.floats(allow_nan=True, allow_infinity=True)
any_points = st.lists(st.tuples(any_number, st.one_of(st.none(), any_number)), max_size=40)
any_words = st.text(max_size=30)


def chart(*parts: LinePanel | OutputStrip | TroubleStrip, **changes: Any) -> TimeChart:
    """Make a chart of a day."""
    told = {"name": "test", "title": "A test", "description": "Nothing happens.", "axis": DAY}
    return TimeChart(**{**told, "parts": parts, **changes})


def drawn(*parts: LinePanel | OutputStrip | TroubleStrip, **changes: Any) -> ET.Element:
    """Draw a chart of a day, and read it back."""
    return parsed(time_chart(chart(*parts, **changes)).svg)


def parsed(svg: str) -> ET.Element:
    """Read a drawing, and check what holds for all of them."""
    assert not re.search(r"\bnan\b|\binf\b", re.sub(r">[^<]*<", "><", svg), re.IGNORECASE)
    root = ET.fromstring(svg)  # noqa: S314  our own text
    assert root.get("role") == "img"
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    assert {root.get("aria-labelledby"), root.get("aria-describedby")} <= set(ids)
    for element in root.iter():
        assert element.tag.removeprefix(SVG) in {
            *(
                "svg",
                "title",
                "desc",
                "defs",
                "pattern",
                "clipPath",
                "g",
                "path",
                "rect",
                "circle",
                "text",
                "tspan",
            ),
        }
        assert "style" not in element.attrib
        for painted in ("fill", "stroke"):
            assert element.get(painted, "url(#").startswith("url(#")
    return root


def words(root: ET.Element) -> list[str]:
    """Return each text of a drawing, its lines joined."""
    return [" ".join(span.text or "" for span in text) for text in root.iter(f"{SVG}text")]


def of_class(root: ET.Element, name: str) -> list[ET.Element]:
    """Return the elements of a class."""
    return [element for element in root.iter() if name in element.get("class", "").split()]


def corners(path: str) -> list[list[tuple[float, float]]]:
    """Return the runs of a line's path in pixels; its steps are relative."""
    found = []
    for run in path.split("M")[1:]:
        numbers = [float(number) for number in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", run)]
        x, y = numbers[:2]
        points = [(x, y)]
        for step_x, step_y in zip(numbers[2::2], numbers[3::2], strict=True):
            x, y = x + step_x, y + step_y
            points.append((x, y))
        found.append(points)
    return found


def line_of(root: ET.Element) -> list[list[tuple[float, float]]]:
    """Return the runs of the only line."""
    drawn_lines = [path for path in of_class(root, "series") if "l" in path.get("d", "")]
    assert len(drawn_lines) == 1
    return corners(drawn_lines[0].get("d", ""))


def panel(points: Sequence[tuple[float, float | None]], **changes: Any) -> LinePanel:
    """Make a panel with one line."""
    return LinePanel(**{"title": "Water", "unit": "°C", "lines": (Line("probe", points),), **changes})


@settings(deadline=None, max_examples=200)
@given(any_points, any_words, any_number, any_number, st.floats(0.0, 1.0))
def test_anything_can_be_drawn(
    points: list[tuple[float, float | None]], name: str, one: float, other: float, level: float
) -> None:
    parsed(
        time_chart(
            chart(
                LinePanel(
                    name,
                    name,
                    (Line(name, points), Line(name, [])),
                    bands=(Band(one, other, name),),
                    references=(Reference(other, name),),
                    spots=(Spot(one, other, name),),
                ),
                panel(points, value_range=(24.0, 27.0)),
                OutputStrip(name, (Run(one, other, level), Run(0.0, one, other))),
                TroubleStrip(name, Trouble.FAULT, (Spell(one, other, name), Spell(0.0, 0.0, name))),
                TroubleStrip(name, Trouble.ALARM, (Spell(0.0, other, name), Spell(9.0, 9.0, name))),
                markers=(Marker(one, name),),
                title=name,
                description=name,
            )
        ).svg
    )


@given(st.floats(24.0, 27.0))
def test_a_constant_is_a_level_line(value: float) -> None:
    ((first, *others),) = line_of(drawn(panel([(0.0, value), (40_000.0, value), (DAY_S, value)])))
    assert all(math.isclose(y, first[1]) for _, y in others)


def test_one_point_alone_is_a_dot() -> None:
    root = drawn(panel([(43_200.0, 25.0)]))
    (dot,) = of_class(root, "lone")
    assert re.fullmatch(r"M[\d.]+ [\d.]+h0", dot.get("d", ""))


def test_without_values_it_says_so() -> None:
    assert "no values" in words(drawn(panel([])))
    assert "no values" in words(drawn(panel([(0.0, None), (60.0, math.nan)])))
    assert "no values" not in words(drawn(panel([(0.0, 25.0)])))


def test_a_gap_stays_a_gap() -> None:
    points: list[tuple[float, float | None]] = [(60.0 * minute, 25.0) for minute in range(1_441)]
    points[700:760] = [(60.0 * minute, None) for minute in range(700, 760)]
    before, after = line_of(drawn(panel(points)))
    plot = after[-1][0] - before[0][0]
    assert after[0][0] - before[-1][0] == pytest.approx(61.0 / 1_440.0 * plot, abs=0.2)


def test_a_single_high_sample_in_a_season_reaches_its_height() -> None:
    season = [(30.0 * index, 25.0) for index in range(259_200)]
    season[200_001] = (season[200_001][0], 29.0)
    season[100_001] = (season[100_001][0], 21.0)
    root = drawn(panel(season, value_range=(20.0, 30.0)), axis=TimeAxis(0.0, 90.0 * DAY_S))
    (run,) = line_of(root)
    level = run[0][1]
    px_per_degree = (max(y for _, y in run) - level) / 4.0
    assert px_per_degree == pytest.approx(19.0, abs=0.1)
    assert (level - min(y for _, y in run)) / 4.0 == pytest.approx(px_per_degree, abs=0.1)


def test_a_day_of_minutes_is_small() -> None:
    noise = random.Random(7)  # noqa: S311  noise for a picture
    day = [(60.0 * minute, 25.0 + noise.gauss(0.0, 0.5)) for minute in range(1_441)]
    other = [(60.0 * minute, 24.0 + noise.gauss(0.0, 0.5)) for minute in range(1_441)]
    lines = LinePanel("Water", "°C", (Line("one", day), Line("other", other)))
    strip = OutputStrip("chiller", tuple(Run(900.0 * index, 900.0 * index + 400.0) for index in range(96)))
    assert len(time_chart(chart(lines, strip)).svg) < 30_000


def test_ninety_days_at_half_a_minute_are_small() -> None:
    noise = random.Random(7)  # noqa: S311  noise for a picture
    sick = [
        (30.0 * index, None if noise.random() < 0.3 else noise.gauss(25.0, 1.0)) for index in range(259_200)
    ]
    well = [(30.0 * index, noise.gauss(25.0, 1.0)) for index in range(259_200)]
    lines = LinePanel("Water", "°C", (Line("sick", sick), Line("well", well)))
    cycling = OutputStrip("fan", tuple(Run(60.0 * index, 60.0 * index + 30.0) for index in range(129_600)))
    alarms = tuple(Spell(7_000.0 * index, 7_000.0 * index + 3_000.0, "too warm") for index in range(1_100))
    season = chart(
        lines, cycling, TroubleStrip("alarms", Trouble.ALARM, alarms), axis=TimeAxis(0.0, 90.0 * DAY_S)
    )
    assert len(time_chart(season).svg) < 100_000


def bars(root: ET.Element) -> list[tuple[float, float, float]]:
    """Return left edge, right edge and height of an output's bars."""
    (path,) = of_class(root, "output")
    found = re.findall(r"M([\d.]+) [\d.]+v-([\d.]+)h([\d.]+)v[\d.]+z", path.get("d", ""))
    return [(float(left), float(left) + float(width), float(height)) for left, height, width in found]


def plot(root: ET.Element) -> tuple[float, float]:
    """Return the edges of the plot, from the line under a strip."""
    found = re.match(r"M([\d.]+) [\d.]+h([\d.]+)", of_class(root, "axis")[0].get("d", ""))
    assert found is not None
    return float(found[1]), float(found[1]) + float(found[2])


def test_an_output_covers_its_time_at_its_level() -> None:
    root = drawn(OutputStrip("fan", (Run(0.0, 43_200.0, 0.5), Run(64_800.0, 2.0 * DAY_S))))
    left, right = plot(root)
    quarter = (right - left) / 4.0
    half, full = bars(root)
    assert half == pytest.approx((left, left + 2.0 * quarter, 9.0), abs=0.1)
    assert full == pytest.approx((left + 3.0 * quarter, right, 18.0), abs=0.1)


def test_fast_cycling_shows_its_share_of_the_time() -> None:
    root = drawn(OutputStrip("fan", tuple(Run(20.0 * index, 20.0 * index + 10.0) for index in range(4_320))))
    left, right = plot(root)
    shown = bars(root)
    assert shown[0][0] == pytest.approx(left, abs=0.1)
    assert shown[-1][1] == pytest.approx(right, abs=0.1)
    assert all(8.0 <= height <= 11.0 for _, _, height in shown)


@settings(deadline=None)
@given(st.lists(st.floats(0.0, DAY_S - 60.0), min_size=1, max_size=400))
def test_however_short_and_many_no_run_is_lost(starts: list[float]) -> None:
    root = drawn(OutputStrip("fan", tuple(Run(start_s, start_s + 10.0) for start_s in starts)))
    left, right = plot(root)
    shown = bars(root)
    for start_s in starts:
        x = left + (right - left) * (start_s + 5.0) / DAY_S
        assert any(begin - 0.2 <= x <= end + 0.2 for begin, end, _ in shown)
    assert all(end - begin >= 0.99 and height >= 1.0 for begin, end, height in shown)


def test_a_short_run_stays_visible_in_a_row_that_is_drawn_by_columns() -> None:
    crowd = tuple(Run(20.0 * index, 20.0 * index + 10.0) for index in range(1_000))
    root = drawn(OutputStrip("fan", (*crowd, Run(80_000.0, 80_001.0))))
    left, right = plot(root)
    x = left + (right - left) * 80_000.5 / DAY_S
    assert any(begin - 0.1 <= x <= end + 0.1 for begin, end, _ in bars(root))


def test_faults_and_alarms_differ_in_shape() -> None:
    spells = (Spell(10_000.0, 20_000.0, "it lasted"), Spell(50_000.0, 50_000.0, "it was over at once"))
    root = drawn(TroubleStrip("f", Trouble.FAULT, spells), TroubleStrip("a", Trouble.ALARM, spells))
    hatched, diamond = of_class(root, "fault")
    full, triangle = of_class(root, "alarm")
    assert hatched.get("fill") == "url(#test-fault)"
    assert full.get("fill") is None
    assert diamond.get("d", "").count("l") + diamond.get("d", "").count("h") == 1
    assert "h" in triangle.get("d", "")
    assert words(root).count("it lasted") == 2


def test_beyond_six_at_once_troubles_are_drawn_without_their_names() -> None:
    spells = tuple(Spell(1_000.0 * index, DAY_S, f"number {index}") for index in range(9))
    root = drawn(TroubleStrip("faults", Trouble.FAULT, spells))
    assert sum(word.startswith("number") for word in words(root)) == 6
    assert len(of_class(root, "fault")) == 7


def test_names_that_close_as_markers_lie_on_lines_of_their_own() -> None:
    root = drawn(panel([]), markers=(Marker(40_000.0, "fault begins"), Marker(41_000.0, "fault ends")))
    heights = [span.get("y") for span in root.iter(f"{SVG}tspan") if (span.text or "").startswith("fault")]
    assert len(set(heights)) == 2


def test_the_axis_names_hours_of_a_day_and_days_of_a_week() -> None:
    assert {"00:00", "06:00", "12:00", "18:00", "day 2"} <= set(words(drawn(panel([]))))
    week = words(drawn(panel([]), axis=TimeAxis(0.0, 7.0 * DAY_S)))
    assert {"day 1", "day 3", "day 8"} <= set(week)


def test_a_run_that_begins_at_six_has_its_midnight_in_the_right_place() -> None:
    root = drawn(panel([]), axis=TimeAxis(0.0, DAY_S, origin_s=-21_600.0))
    shown = words(root)
    assert "06:00" in shown
    assert "day 2" in shown


def test_an_axis_names_its_ticks_as_its_caller_says() -> None:
    axis = TimeAxis(0.0, 7_200.0, label=lambda since_s, _: f"after {since_s:.0f} s")
    assert {"after 0 s", "after 3600 s", "after 7200 s"} <= set(words(drawn(panel([]), axis=axis)))


@given(st.floats(-1e7, 1e7), st.floats(1.0, 1e8))
def test_ticks_lie_on_the_axis_and_are_few(start_s: float, span_s: float) -> None:
    axis = TimeAxis(start_s, start_s + max(2.0, span_s))
    ticks = axis.ticks(700.0)
    assert len(ticks) <= 700.0 / 72.0 + 1
    assert all(axis.start_s - 1e-6 <= at_s <= axis.end_s + 1e-6 for at_s, _ in ticks)


def test_an_axis_without_time_is_refused() -> None:
    for start_s, end_s in ((5.0, 5.0), (5.0, 0.0), (0.0, math.inf), (math.nan, 1.0)):
        with pytest.raises(ValueError, match="shows nothing"):
            TimeAxis(start_s, end_s)


def test_a_range_without_extent_is_refused() -> None:
    for ends in ((27.0, 24.0), (25.0, 25.0), (math.nan, 25.0)):
        with pytest.raises(ValueError, match="cannot go from"):
            panel([], value_range=ends)


@settings(deadline=None)
@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=20))
def test_a_fitted_axis_holds_all_values(values: list[float]) -> None:
    points = [(1_000.0 * index, value) for index, value in enumerate(values)]
    root = drawn(panel([*points, (DAY_S, values[-1])]))
    (clip,) = root.iter(f"{SVG}clipPath")
    top, height = float(clip[0].get("y", "")), float(clip[0].get("height", ""))
    for run in line_of(root):
        assert all(top <= y <= top + height for _, y in run)


def test_names_are_escaped() -> None:
    hostile = '<script>alert("x")</script>&\x00'
    root = drawn(
        LinePanel(hostile, hostile, (Line(hostile, [(0.0, 25.0)]),), references=(Reference(25.0, hostile),)),
        OutputStrip(hostile, ()),
        TroubleStrip("faults", Trouble.FAULT, (Spell(0.0, 9_000.0, hostile),)),
        title=hostile,
        description=hostile,
        markers=(Marker(9_000.0, hostile),),
    )
    assert root.find(f"{SVG}title").text == hostile.replace("\x00", "\N{REPLACEMENT CHARACTER}")  # type: ignore[union-attr]  # a drawing has a title


def test_a_name_that_cannot_be_an_id_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot name a drawing"):
        time_chart(chart(name='a" onload="x'))


def test_spells_without_names_share_a_row_as_long_as_they_do_not_overlap() -> None:
    across = Across(TimeAxis(0.0, 1_000.0), 0.0, 500.0)

    def height(name: str, *begins: float) -> float:
        spells = tuple(Spell(at_s, at_s + 10.0, name) for at_s in begins)
        return height_px(TroubleStrip("alarms", Trouble.ALARM, spells), across)

    assert height("", 0.0, 12.0, 24.0) == height("", 0.0)
    assert height("", 0.0, 5.0) > height("", 0.0)
    assert height("named", 0.0, 12.0) > height("named", 0.0)
