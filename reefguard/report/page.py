"""A page that stands alone: one HTML file, no script, nothing loaded from elsewhere.

All text is escaped.  Wide tables and drawings scroll in boxes of their own, so
the page itself never moves sideways, down to 320 CSS pixels (WCAG 2.2,
criterion 1.4.10 "Reflow").

    text = page(
        "A hot day",
        (
            Section(
                "What happens",
                (
                    Paragraph("The water peaks at 27.1 °C."),
                    Table("The warmest hours", ("hour", "water"), (("17:00", "27.1 °C"),)),
                    Figure("Water and cooling from midnight to midnight.", time_chart(chart)),
                ),
            ),
        ),
        lead="The fans alone hold the tank.",
        foot="Worked out, not measured.",
    )
"""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from reefguard.report.page_style import PAGE_STYLE
from reefguard.report.svg import Drawing, element, escaped

_NUMBER = re.compile(r"((over|under) )?[-+\u2212]?\d[\d.,  ]*( ?(%|[^\W\d_]{1,3}|°[CF]|W/m²))?")

_CODE = re.compile(r"`([^`]+)`")

_ALLOWED = "default-src 'none';style-src 'unsafe-inline'"
"""The page's own style, and nothing else (W3C, Content Security Policy Level 3)."""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph of text."""

    text: str


@dataclass(frozen=True, slots=True)
class Listing:
    """Things of equal rank, each in a line or two."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table; the first column names the row.

    A column in which every filled cell is a number, with or without a unit, is
    set to the right.

    Attributes:
        caption: what it shows.
        head: of the columns.
        rows: each as long as the head.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def __post_init__(self) -> None:
        """Refuse ragged rows.

        Raises:
            ValueError: a row is longer or shorter than the head.
        """
        for row in self.rows:
            if len(row) != len(self.head):
                raise ValueError(
                    f"table {self.caption!r}: the row {row!r} does not fit the head {self.head!r}"
                )


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing with words below it."""

    caption: str
    drawing: Drawing


Block: TypeAlias = Paragraph | Listing | Table | Figure


@dataclass(frozen=True, slots=True)
class Section:
    """What stands under one heading."""

    heading: str
    blocks: tuple[Block, ...]


def page(title: str, sections: Sequence[Section], *, lead: str = "", foot: str = "") -> str:
    """Write a page.

    Args:
        title: its name, and its first heading.
        sections: from top to bottom.
        lead: what matters most, before all sections.
        foot: where it comes from, and what it cannot tell.

    Returns:
        A whole HTML document.

    Raises:
        ValueError: two drawings have the same name.
    """
    _refuse_twins(sections)
    body = element("h1", escaped(title))
    body += element("p", _inline(lead), class_="lead") if lead else ""
    body += "\n".join(_section(section) for section in sections)
    main = element("main", body)
    footer = element("footer", element("p", _inline(foot))) if foot else ""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width,initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_ALLOWED}">\n'
        f"<title>{escaped(title)}</title>\n<style>\n{PAGE_STYLE}</style>\n</head>\n"
        f"<body>\n{main}\n{footer}\n</body>\n</html>\n"
    )


def _inline(text: str) -> str:
    """Escape a text; what stands between backticks, as commands do in a terminal's text, is code.

    >>> _inline("run `reefguard report`, <now>")
    'run <code>reefguard report</code>, &lt;now&gt;'
    """
    return _CODE.sub(r"<code>\1</code>", escaped(text))


def _refuse_twins(sections: Sequence[Section]) -> None:
    names = Counter(figure.drawing.name for figure in _figures(sections))
    twins = sorted(name for name, times in names.items() if times > 1)
    if twins:
        raise ValueError(f"drawings on one page need names of their own; used twice: {', '.join(twins)}")


def _figures(sections: Sequence[Section]) -> Iterator[Figure]:
    for section in sections:
        for block in section.blocks:
            if isinstance(block, Figure):
                yield block


def _section(section: Section) -> str:
    return element(
        "section", element("h2", escaped(section.heading)) + "\n".join(map(_block, section.blocks))
    )


def _block(block: Block) -> str:
    match block:
        case Paragraph(text):
            return f"<p>{_inline(text)}</p>"
        case Listing(items):
            return f"<ul>{''.join(f'<li>{_inline(item)}</li>' for item in items)}</ul>"
        case Table():
            return _scrolling(_table(block), block.caption)
        case Figure(caption, drawing):
            shown = _scrolling(drawing.svg, caption)
            return f"<figure>{shown}<figcaption>{_inline(caption)}</figcaption></figure>"


def _scrolling(inside: str, name: str) -> str:
    """Wrap in a box that scrolls, and that a keyboard can reach to scroll it."""
    return element("div", inside, class_="scroll", role="region", tabindex="0", aria_label=name)


def _table(table: Table) -> str:
    classes = tuple(
        ' class="number"' if _is_of_numbers([row[index] for row in table.rows]) else ""
        for index in range(len(table.head))
    )
    head = "".join(
        f'<th scope="col"{class_}>{escaped(cell)}</th>'
        for cell, class_ in zip(table.head, classes, strict=True)
    )
    rows = "".join(f"<tr>{_row(row, classes)}</tr>\n" for row in table.rows)
    caption = f"<caption>{escaped(table.caption)}</caption>"
    return f"<table>{caption}<thead><tr>{head}</tr></thead><tbody>\n{rows}</tbody></table>"


def _row(row: tuple[str, ...], classes: tuple[str, ...]) -> str:
    return "".join(
        f'<th scope="row"{class_}>{escaped(cell)}</th>' if index == 0 else f"<td{class_}>{_inline(cell)}</td>"
        for index, (cell, class_) in enumerate(zip(row, classes, strict=True))
    )


def _is_of_numbers(cells: Sequence[str]) -> bool:
    """Whether a column holds numbers; cells that are empty or a dash say nothing about it.

    >>> _is_of_numbers(["440 W", "-", "1,250 W"]), _is_of_numbers(["fan 1", "2"])
    (True, False)
    """
    filled = [cell for cell in cells if cell not in ("", "-", "\N{EN DASH}")]
    return bool(filled) and all(_NUMBER.fullmatch(cell) for cell in filled)
