"""The look of every drawing: a few calm colours, for a light and for a dark room.

Each colour has a partner that does not rest on colour: lines have dashes,
areas have hatches, faults and alarms have shapes.  `STYLE` goes once into a
page; drawings name its classes and no colour.

`CONTRASTS` lists every pair of colours that meet, with the least ratio that
WCAG 2.2 asks for at level AA: 4.5 for text (criterion 1.4.3), 3 for what a
drawing needs to be understood (1.4.11).
"""

from typing import NamedTuple


class Colour(NamedTuple):
    """A colour in both rooms, each as `#rrggbb`."""

    light: str
    dark: str


TEXT_PX = 12.0
"""The size of all text in drawings."""

PAPER = "paper"
INK = "ink"
QUIET = "quiet"
BAND = "band"
SPREAD = "spread"
FAULT = "fault"
ALARM = "alarm"
SERIES = tuple(f"series-{number}" for number in range(1, 7))

COLOURS = {
    PAPER: Colour("#fbfaf6", "#15191b"),
    INK: Colour("#20282c", "#e7e6e0"),
    QUIET: Colour("#556067", "#a7b0b3"),
    "grid": Colour("#dedcd3", "#2f373a"),  # an aid to the eye only: the numbers stand on the axis
    BAND: Colour("#e4eee6", "#20302a"),
    SPREAD: Colour("#c3d7d6", "#2e4a4b"),
    FAULT: Colour("#8a4a00", "#e3a75a"),
    ALARM: Colour("#a3262f", "#f2938f"),
    SERIES[0]: Colour("#0d5c63", "#78c6cc"),
    SERIES[1]: Colour("#96510a", "#e0ab62"),
    SERIES[2]: Colour("#73356a", "#d6a0cc"),
    SERIES[3]: Colour("#34539b", "#a3b8ee"),
    SERIES[4]: Colour("#47651c", "#b2cb7a"),
    SERIES[5]: Colour("#8f3a3a", "#eda394"),
}

_TEXT_AA, _GRAPHICS_AA = 4.5, 3.0

CONTRASTS = (
    *((text, ground, _TEXT_AA) for text in (INK, QUIET, FAULT, ALARM) for ground in (PAPER, BAND)),
    *((line, ground, _GRAPHICS_AA) for line in (*SERIES, INK, QUIET) for ground in (PAPER, BAND, SPREAD)),
    *((mark, PAPER, _GRAPHICS_AA) for mark in (FAULT, ALARM)),
)
"""Foreground, background, least ratio."""

_DASHES = ("none", "7 3", "2 2.5", "11 3 2 3", "4 4", "14 3 2 3 2 3")
_HATCHES = (
    "",
    "M0 8L8 0M-2 2L2-2M6 10L10 6",
    "M0 0L8 8M-2 6L2 10M6-2L10 2",
    "M2 0V8",
    "M0 4H8",
    "M0 8L8 0M0 0L8 8",
)


def line_classes(index: int) -> str:
    """Name the colour and the dashes of a line; no two of the first 36 look alike.

    >>> line_classes(0), line_classes(6)
    ('ink-1 dash-1', 'ink-1 dash-2')
    """
    return f"ink-{index % 6 + 1} dash-{(index + index // 6) % 6 + 1}"


def hatch(index: int, name: str) -> str:
    """Define the pattern `name` that fills an area; no two of the first 36 look alike."""
    lines = _HATCHES[(index + index // 6) % 6]
    drawn = f'<path class="hatch" d="{lines}"/>' if lines else ""
    return (
        f'<pattern id="{name}" width="8" height="8" patternUnits="userSpaceOnUse">'
        f'<rect class="area-{index % 6 + 1}" width="8" height="8"/>{drawn}</pattern>'
    )


def fault_hatch(name: str) -> str:
    """Define the pattern `name` that fills the time of a fault."""
    return (
        f'<pattern id="{name}" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<path class="fault-line" d="M0 6L6 0M-1 1L1-1M5 7L7 5"/></pattern>'
    )


def _variables(room: str) -> str:
    return "".join(f"--{name}:{getattr(colour, room)};" for name, colour in COLOURS.items())


STYLE = f"""\
:root{{{_variables("light")}color-scheme:light dark}}
@media screen and (prefers-color-scheme:dark){{:root{{{_variables("dark")}}}}}
.drawing{{background:var(--paper);font:{TEXT_PX:g}px/1.2 system-ui,sans-serif;display:block;flex:none}}
.drawing text{{fill:var(--ink)}}
.drawing .quiet{{fill:var(--quiet)}}
.drawing .middle{{text-anchor:middle}}
.drawing .end{{text-anchor:end}}
.drawing .strong{{font-weight:600}}
.drawing .over{{paint-order:stroke;stroke:var(--paper);stroke-width:3px;stroke-linejoin:round}}
.drawing .grid{{fill:none;stroke:var(--grid);stroke-width:1px}}
.drawing .axis{{fill:none;stroke:var(--quiet);stroke-width:1px}}
.drawing .leader{{fill:none;stroke:var(--quiet);stroke-width:.75px}}
.drawing .band{{fill:var(--band)}}
.drawing .spread{{fill:var(--spread)}}
.drawing .reference{{fill:none;stroke:var(--quiet);stroke-width:1.2px;stroke-dasharray:3 3}}
.drawing .marker{{fill:none;stroke:var(--ink);stroke-width:1px;stroke-dasharray:1 2}}
.drawing .point{{fill:var(--paper);stroke:var(--ink);stroke-width:1.5px}}
.drawing .series{{fill:none;stroke-width:1.6px;stroke-linejoin:round}}
.drawing .lone{{stroke-width:3px;stroke-linecap:round;stroke-dasharray:none}}
.drawing .output{{fill:var(--quiet)}}
.drawing .fault{{stroke:var(--fault);stroke-width:1.2px}}
.drawing .fault-line{{fill:none;stroke:var(--fault);stroke-width:1.6px}}
.drawing .fault.moment{{fill:var(--paper)}}
.drawing .fault-name{{fill:var(--fault)}}
.drawing .alarm-name{{fill:var(--alarm)}}
.drawing .alarm{{fill:var(--alarm);stroke:var(--alarm);stroke-width:1.2px}}
.drawing .hatch{{fill:none;stroke:var(--paper);stroke-width:1.4px}}
""" + "".join(
    f".drawing .ink-{n}{{stroke:var(--{SERIES[n - 1]})}}\n"
    f".drawing .area-{n}{{fill:var(--{SERIES[n - 1]})}}\n"
    f".drawing .dash-{n}{{stroke-dasharray:{_DASHES[n - 1]}}}\n"
    for n in range(1, 7)
)
"""The style sheet of all drawings."""
