"""Rows under a chart's lines: when an output ran, when something was wrong.

An output is a bar as high as its level.  A fault is a hatched frame, an alarm
a full bar; what happened at once, without an end of its own, is a diamond for
a fault and a triangle for an alarm.  So no row rests on colour.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from reefguard.report.lanes import BETWEEN_PX, lanes
from reefguard.report.scales import Across
from reefguard.report.svg import LINE_PX, element, label, number, text_width_px, wrapped
from reefguard.report.thinning import columns

NAME_WIDTH_PX = 110.0
_OUTPUT_PX, _SPELL_PX, _LANE_PX, _BELOW_PX = 18.0, 9.0, 27.0, 6.0
_MOST_LANES = 6
_PX_PER_BAR = 4.0
"""Where bars lie closer together on average, each column of pixels shows its mean level instead."""


@dataclass(frozen=True, slots=True)
class Run:
    """An output was on: from, until, and at which level from 0 to 1."""

    start_s: float
    end_s: float
    level: float = 1.0


@dataclass(frozen=True, slots=True)
class OutputStrip:
    """When an output ran; where it cycled faster than the paper can show, how much of the time.

    Attributes:
        name: stands at its left.
        runs: in any order.
    """

    name: str
    runs: Sequence[Run]


class Trouble(Enum):
    """What a spell is; decides its shape."""

    FAULT = "fault"
    ALARM = "alarm"


@dataclass(frozen=True, slots=True)
class Spell:
    """Something was wrong: from, until (the same for what happened at once), and what; may be unnamed."""

    start_s: float
    end_s: float
    name: str


@dataclass(frozen=True, slots=True)
class TroubleStrip:
    """When something was wrong.

    Attributes:
        name: stands at its left.
        trouble: what kind.
        spells: in any order.  Those that overlap lie below each other, the first six deep with
            their names; what lies deeper is drawn below those without its name.
    """

    name: str
    trouble: Trouble
    spells: Sequence[Spell]


def height_px(strip: OutputStrip | TroubleStrip, across: Across) -> float:
    """Return how high a strip is, with the space below it."""
    names = LINE_PX * len(wrapped(strip.name, NAME_WIDTH_PX, 3))
    if isinstance(strip, OutputStrip):
        return max(names, _OUTPUT_PX) + _BELOW_PX
    placed = [_MOST_LANES if lane is None else lane for lane in _placed(strip, across)]
    return max(names, _LANE_PX * (1 + max(placed, default=0))) + _BELOW_PX


def draw_strip(strip: OutputStrip | TroubleStrip, across: Across, top: float, hatch: str) -> str:
    """Draw a strip.

    Args:
        strip: what to draw.
        across: the time axis.
        top: where it begins.
        hatch: the name of the pattern that fills a fault.
    """
    lines = wrapped(strip.name, NAME_WIDTH_PX, 3)
    drawn = label(across.left - 6.0, top + _OUTPUT_PX / 2.0, lines, anchor="end")
    if isinstance(strip, OutputStrip):
        floor = top + _OUTPUT_PX
        base = f"M{number(across.left)} {number(floor)}h{number(across.width)}"
        return drawn + element("path", class_="axis", d=base) + _output(strip, across, floor)
    return drawn + _spells(strip, across, top, hatch)


def _output(strip: OutputStrip, across: Across, floor: float) -> str:
    shown = [
        (
            across.x(run.start_s) - across.left,
            across.x(run.end_s) - across.left,
            min(1.0, max(0.0, run.level)),
        )
        for run in strip.runs
        if run.end_s > run.start_s and run.level > 0.0 and across.shows(run.start_s, run.end_s)
    ]
    if len(shown) * _PX_PER_BAR > across.width:
        shown = _steps(columns(shown, round(across.width)))
    bars = "".join(
        _bar(across.left + left, floor, max(1.0, right - left), max(2.0, level * _OUTPUT_PX))
        for left, right, level in shown
    )
    return element("path", class_="output", d=bars) if bars else ""


def _bar(left: float, floor: float, width: float, height: float) -> str:
    return f"M{number(left)} {number(floor)}v{number(-height)}h{number(width)}v{number(height)}z"


def _steps(levels: Sequence[float]) -> list[tuple[float, float, float]]:
    """Join columns that would be equally high on the paper."""
    joined: list[tuple[float, float, float]] = []
    for column, level in enumerate(levels):
        shown = math.ceil(level * _OUTPUT_PX) / _OUTPUT_PX
        right = column + 1.0
        if joined and joined[-1][1] == column and joined[-1][2] == shown:
            joined[-1] = (joined[-1][0], right, shown)
        elif shown:
            joined.append((float(column), right, shown))
    return joined


def _visible(strip: TroubleStrip, across: Across) -> list[Spell]:
    return [spell for spell in strip.spells if across.shows(spell.start_s, spell.end_s)]


def _text_left(spell: Spell, across: Across) -> float:
    """Return where a spell's name begins: under its beginning, or as far left as it must to fit."""
    fits = across.right - text_width_px(spell.name)
    return max(across.left, min(across.x(spell.start_s), fits))


def _placed(strip: TroubleStrip, across: Across) -> list[int | None]:
    extents = []
    for spell in _visible(strip, across):
        if not spell.name:
            # No word to keep clear of: only what was wrong at the same time needs another lane.
            extents.append((across.x(spell.start_s), across.x(spell.end_s) - BETWEEN_PX))
            continue
        left = _text_left(spell, across)
        text_right = left + text_width_px(spell.name)
        extents.append(
            (min(left, across.x(spell.start_s)), max(text_right, across.x(spell.end_s) + _SPELL_PX))
        )
    return lanes(extents, _MOST_LANES)


def _spells(strip: TroubleStrip, across: Across, top: float, hatch: str) -> str:
    """Draw the spells in their lanes, and what found no lane without names, each column of pixels once."""
    drawn = ""
    crowded: list[tuple[float, float, float]] = []
    for spell, lane in zip(_visible(strip, across), _placed(strip, across), strict=True):
        left, right = across.x(spell.start_s), across.x(spell.end_s)
        if lane is None:
            crowded.append((left - across.left, max(right, left + 1.0) - across.left, 1.0))
            continue
        floor = top + lane * _LANE_PX + _SPELL_PX + 2.0
        drawn += _shape(strip.trouble, left, right, floor, hatch, at_once=spell.end_s <= spell.start_s)
        drawn += label(
            _text_left(spell, across), floor + 8.0, (spell.name,), class_=f"over {strip.trouble.value}-name"
        )
    floor = top + _MOST_LANES * _LANE_PX + _SPELL_PX + 2.0
    marked = [float(level > 0.0) for level in columns(crowded, round(across.width))]
    for left, right, _ in _steps(marked):
        drawn += _shape(strip.trouble, across.left + left, across.left + right, floor, hatch, at_once=False)
    return drawn


def _shape(trouble: Trouble, left: float, right: float, floor: float, hatch: str, *, at_once: bool) -> str:
    size, fault = _SPELL_PX, trouble is Trouble.FAULT
    if not at_once:
        place = {"x": left, "y": floor - size, "width": max(2.0, right - left), "height": size}
        if fault:
            return element("rect", class_=trouble.value, fill=f"url(#{hatch})", **place)
        return element("rect", class_=trouble.value, **place)
    half = number(size / 2.0)
    if fault:
        corners = f"M{number(left)} {number(floor - size)}l{half} {half}-{half} {half}-{half}-{half}z"
    else:
        corners = f"M{number(left)} {number(floor - size)}l{half} {number(size)}h{number(-size)}z"
    return element("path", class_=f"{trouble.value} moment", d=corners)
