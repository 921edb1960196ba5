"""Writing SVG: numbers, elements and text that are always well-formed.

A drawing's colours come from the classes of `reefguard.report.look`; it shows
them only inside a page that carries that style.
"""

import html
import math
import re
import textwrap
import unicodedata
from dataclasses import dataclass

from reefguard.report.look import TEXT_PX

LINE_PX = 15.0
"""From one line of text to the next."""

_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What XML 1.0, section 2.2 "Characters", allows in no document, not even escaped."""

_NAME = re.compile(r"[a-z][a-z0-9-]*")


@dataclass(frozen=True, slots=True)
class Plot:
    """Where in a drawing its plot lies, as shares of the drawing's width and height from 0 to 1."""

    left: float
    right: float
    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished drawing, for `reefguard.report.page.Figure`.

    Attributes:
        name: its id, unique on its page.
        svg: the whole `<svg>` element.
        plot: of a chart over time: where its axis runs, for what points at a moment in it.
    """

    name: str
    svg: str
    plot: Plot | None = None


def drawing(name: str, title: str, description: str, size_px: tuple[float, float], inside: str) -> Drawing:
    """Close a drawing.

    Args:
        name: lower-case letters, digits and hyphens, unique on the page.
        title: what it shows; read out by a screen reader, not drawn.
        description: what there is to see in it, for who cannot see it; read out, not drawn.
        size_px: width and height.
        inside: finished markup.

    Raises:
        ValueError: the name cannot be an id.
    """
    if not _NAME.fullmatch(name):
        raise ValueError(f"{name!r} cannot name a drawing: use lower-case letters, digits and hyphens")
    width, height = size_px
    told = element("title", escaped(title), id=f"{name}-title")
    told += element("desc", escaped(description), id=f"{name}-desc")
    svg = element(
        "svg",
        told + inside,
        xmlns="http://www.w3.org/2000/svg",
        class_="drawing",
        id=name,
        role="img",
        aria_labelledby=f"{name}-title",
        aria_describedby=f"{name}-desc",
        width=width,
        height=height,
        viewBox=f"0 0 {number(width)} {number(height)}",
    )
    return Drawing(name, svg)


def escaped(text: str) -> str:
    """Make text safe inside an element and inside a quoted attribute, whatever is in it.

    >>> escaped('<b> & "x"')
    '&lt;b&gt; &amp; &quot;x&quot;'
    """
    return html.escape(_NOT_XML.sub("\N{REPLACEMENT CHARACTER}", text))


def element(tag: str, inside: str | None = None, /, **attributes: str | float) -> str:
    """Write an element.

    Args:
        tag: its name.
        inside: finished markup; text goes through `escaped` first.  Without it the element closes itself,
            which HTML outside a drawing does not understand.
        attributes: an underscore stands for a hyphen, and one at the end for nothing.

    >>> element("rect", x=1.25, class_="bar", stroke_width=2)
    '<rect x="1.2" class="bar" stroke-width="2"/>'
    """
    written = ""
    for name, value in attributes.items():
        shown = escaped(value) if isinstance(value, str) else number(value)
        written += f' {name.rstrip("_").replace("_", "-")}="{shown}"'
    return f"<{tag}{written}/>" if inside is None else f"<{tag}{written}>{inside}</{tag}>"


def number(value: float) -> str:
    """Write a coordinate to a tenth of a pixel.

    >>> number(3.0), number(-0.04), number(12.345)
    ('3', '0', '12.3')
    """
    return tenths(round(value * 10.0))


def tenths(value: int) -> str:
    """Write a whole number of tenths as short as SVG allows.

    >>> [tenths(value) for value in (-3, 0, 7, 30, 125)]
    ['-.3', '0', '.7', '3', '12.5']
    """
    whole, tenth = divmod(abs(value), 10)
    sign = "-" if value < 0 else ""
    if not tenth:
        return f"{sign}{whole}"
    return f"{sign}{whole or ''}.{tenth}"


def label(x: float, y: float, lines: tuple[str, ...], *, anchor: str = "start", class_: str = "") -> str:
    """Write lines of text; `y` is the middle of the first.

    Args:
        x: where it begins, or ends with `anchor` "end", or has its middle with "middle".
        y: the middle of its first line.
        lines: unescaped.
        anchor: as `text-anchor` of SVG.
        class_: more classes.
    """
    spans = "".join(
        element("tspan", escaped(line), x=x, y=y + 0.35 * TEXT_PX + index * LINE_PX)
        for index, line in enumerate(lines)
        if line
    )
    return element("text", spans, class_=f"{anchor} {class_}".rstrip()) if spans else ""


def text_width_px(text: str) -> float:
    """Estimate how wide a line of text becomes, rather too wide than too narrow."""
    wide = sum(1 for character in text if unicodedata.east_asian_width(character) in "WF")
    return TEXT_PX * (0.58 * (len(text) - wide) + 1.05 * wide)


def wrapped(text: str, width_px: float, most_lines: int) -> tuple[str, ...]:
    """Break text into lines that fit; what is left over gives way to three dots.

    >>> wrapped("the warmest probe in the sump", 100.0, 2)
    ('the warmest', 'probe in the …')
    """
    characters = max(4, math.floor(width_px / (0.58 * TEXT_PX)))
    lines = textwrap.wrap(text, characters, max_lines=most_lines, placeholder=" …")
    return tuple(lines) or ("",)
