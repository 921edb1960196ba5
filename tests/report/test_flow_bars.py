"""Bars of heat are as long as the flows, and each says its name and its value."""

import math
import re
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.report.flow_bars import Flow, FlowBars, FlowRow, flow_bars
from reefguard.report.svg import text_width_px

SVG = "{http://www.w3.org/2000/svg}"

flows = st.lists(st.builds(Flow, st.text(max_size=60), st.floats(0.0, 1e6)), max_size=8).map(tuple)
rows = st.lists(st.builds(FlowRow, st.text(max_size=40), flows, flows), max_size=5).map(tuple)


def drawn(*found: FlowRow) -> ET.Element:
    """Draw rows, and read the drawing back."""
    svg = flow_bars(FlowBars("heat", "Heat", "It flows.", found)).svg
    assert not re.search(r'="[^"]*\b(nan|inf)\b', svg)
    return ET.fromstring(svg)  # noqa: S314  our own text


def bars(root: ET.Element) -> list[tuple[float, float, str]]:
    """Return left edge, width and fill of each piece, swatches left out."""
    return [
        (float(rect.get("x", "")), float(rect.get("width", "")), rect.get("fill", ""))
        for rect in root.findall(f"{SVG}rect")
        if rect.get("height") == "20"
    ]


def words(root: ET.Element) -> list[str]:
    return [" ".join(span.text or "" for span in text) for text in root.iter(f"{SVG}text")]


@settings(deadline=None)
@given(rows)
def test_any_flows_are_drawn_within_the_paper(found: tuple[FlowRow, ...]) -> None:
    root = drawn(*found)
    width = float(root.get("width", ""))
    for left, wide, _ in bars(root):
        assert left >= -0.1
        assert left + wide <= width + 0.1
    shown = [flow for row in found for flow in (*row.gains, *row.losses) if flow.power_w > 0.0]
    assert len(bars(root)) == len(shown)
    said = words(root)
    for flow in shown:
        assert any(word.endswith(f" {flow.power_w:.0f} W") for word in said)


def test_gains_lie_right_and_losses_left_of_the_middle_in_proportion() -> None:
    root = drawn(FlowRow("a", (Flow("lights", 200.0), Flow("pumps", 100.0)), (Flow("evaporation", 100.0),)))
    loss, lights, pumps = sorted(bars(root))
    middle = lights[0]
    assert loss[0] + loss[1] == pytest.approx(middle, abs=1.2)
    assert lights[1] + 1.0 == pytest.approx(2.0 * (pumps[1] + 1.0), abs=0.3)
    assert pumps[1] == pytest.approx(loss[1], abs=0.2)
    assert {"lights 200 W", "pumps 100 W", "evaporation 100 W"} <= set(words(root))
    assert "300 W in, 100 W out: +200 W" in words(root)


def test_a_flow_looks_the_same_in_every_row_and_unlike_the_others() -> None:
    lights, pumps = Flow("lights", 100.0), Flow("pumps", 100.0)
    root = drawn(FlowRow("a", (lights, pumps)), FlowRow("b", (pumps, lights)))
    fills = [fill for _, _, fill in bars(root)]
    assert fills[0] == fills[3] != fills[1] == fills[2]
    patterns = [ET.tostring(pattern) for pattern in root.iter(f"{SVG}pattern")]
    assert len({re.sub(rb'id="[^"]*"', b"", pattern) for pattern in patterns}) == 2


def test_what_is_in_balance_has_no_sign() -> None:
    root = drawn(FlowRow("a", (Flow("lights", 75.0),), (Flow("evaporation", 75.3),)))
    assert "75 W in, 75 W out: in balance" in words(root)


def test_a_long_name_at_the_end_of_a_bar_stays_on_the_paper() -> None:
    root = drawn(FlowRow("a", (Flow("lights", 395.0), Flow("room, warmed by the chiller in it", 4.0))))
    (name,) = (span for span in root.iter(f"{SVG}tspan") if (span.text or "").startswith("room"))
    assert float(name.get("x", "")) + text_width_px(name.text or "") <= float(root.get("width", ""))


def test_a_flow_of_nothing_is_left_out() -> None:
    assert not bars(drawn(FlowRow("a", (Flow("heater", 0.0),))))


def test_names_are_escaped() -> None:
    hostile = "<script>x</script>"
    root = drawn(FlowRow(hostile, (Flow(hostile, 5.0),)))
    assert f"{hostile} 5 W" in words(root)
    assert not list(root.iter("script"))
    assert not list(root.iter(f"{SVG}script"))


@pytest.mark.parametrize("power_w", [-1.0, math.nan, math.inf])
def test_what_is_no_flow_is_refused(power_w: float) -> None:
    with pytest.raises(ValueError, match="give 0 or more"):
        FlowRow("a", (Flow("lights", power_w),))
