"""Every two colours that meet can be told apart, in a light and in a dark room.

The ratio is worked out here from the definitions of "relative luminance" and "contrast ratio" in WCAG 2.2.
"""

import re

import pytest

from reefguard.report.look import COLOURS, CONTRASTS, SERIES, STYLE, hatch, line_classes
from reefguard.report.page_style import PAGE_STYLE


def relative_luminance(colour: str) -> float:
    """Return WCAG 2.2's relative luminance of `#rrggbb`."""
    shares = [int(colour[index : index + 2], 16) / 255.0 for index in (1, 3, 5)]
    red, green, blue = (
        share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return WCAG 2.2's contrast ratio."""
    darker, lighter = sorted((relative_luminance(one), relative_luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_ratio_is_that_of_the_standard() -> None:
    # WCAG 2.2, "contrast ratio", note 1: ratios range from 1 to 21.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    # #767676 is known as the lightest grey that passes on white: common practice, from memory.
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("room", ["light", "dark"])
@pytest.mark.parametrize(("front", "ground", "least"), CONTRASTS)
def test_colours_that_meet_can_be_told_apart(front: str, ground: str, least: float, room: str) -> None:
    found = contrast(getattr(COLOURS[front], room), getattr(COLOURS[ground], room))
    assert found >= least, f"{front} on {ground} in the {room} room has only {found:.2f}:1"


def test_every_colour_of_the_style_is_a_variable_and_all_are_checked() -> None:
    rules = re.sub(r":root\{[^}]*\}", "", PAGE_STYLE)
    assert not re.search(r"#[0-9a-f]{3,8}\b|rgb\(|hsl\(", rules)
    used = set(re.findall(r"var\(--([a-z0-9-]+)\)", rules))
    assert used == set(COLOURS)
    checked = {name for front, ground, _ in CONTRASTS for name in (front, ground)}
    assert used - checked == {"grid"}


def test_the_style_gives_both_rooms_every_colour() -> None:
    for name, colour in COLOURS.items():
        assert f"--{name}:{colour.light};" in STYLE
        assert f"--{name}:{colour.dark};" in STYLE


def test_text_is_at_least_11_px() -> None:
    sizes = re.findall(r"font(?:-size)?:\s*([\d.]+)(px|rem|pt)", PAGE_STYLE)
    assert len(sizes) >= 5
    for size, unit in sizes:
        assert float(size) * {"px": 1.0, "rem": 16.0, "pt": 96.0 / 72.0}[unit] >= 11.0


def test_no_two_lines_and_no_two_areas_look_alike() -> None:
    assert len({line_classes(index) for index in range(36)}) == 36
    assert len({hatch(index, "same") for index in range(36)}) == 36


def test_the_first_six_lines_and_areas_differ_even_without_colour() -> None:
    assert len({line_classes(index).split()[1] for index in range(6)}) == 6
    assert len({hatch(index, "same").replace(f"area-{index + 1}", "") for index in range(6)}) == 6
    dashes = re.findall(r"\.dash-\d\{stroke-dasharray:([^}]*)\}", STYLE)
    assert len(set(dashes)) == len(SERIES)
