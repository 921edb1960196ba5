"""An account as text for a terminal, within 80 columns."""

import textwrap

from reefguard.planning.account import Account
from reefguard.planning.section import Section, Table
from reefguard.planning.shown import BOND, bound

COLUMNS = 80
_INDENT = "  "


def text_of(account: Account) -> str:
    """Return the account as lines, each ended.

    Args:
        account: of a plan.
    """
    lines = [*_wrapped(account.title, ""), ""]
    for sentence in account.verdict:
        lines += _wrapped(sentence, _INDENT)
    for section in account.sections:
        lines += ["", section.title.upper(), *_body(section)]
    return "\n".join(lines) + "\n"


def _body(section: Section) -> list[str]:
    lines: list[str] = []
    for paragraph in section.paragraphs:
        lines += _wrapped(paragraph, _INDENT)
    if section.table is not None:
        lines += ["", *_columns(section.table)] if lines else _columns(section.table)
    return lines


def _wrapped(text: str, indent: str) -> list[str]:
    lines = textwrap.wrap(bound(text), COLUMNS, initial_indent=indent, subsequent_indent=indent)
    return [line.replace(BOND, " ") for line in lines]


def _columns(table: Table) -> list[str]:
    rows = (table.head, *table.rows)
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.head))]
    return [_row(row, widths) for row in rows]


def _row(row: tuple[str, ...], widths: list[int]) -> str:
    first, *others = row
    # Words that stand for a whole row ("cannot judge") start where its numbers would.
    cells = [first.ljust(widths[0])]
    cells += [cell.rjust(width) for cell, width in zip(others, widths[1:], strict=True)]
    return (_INDENT + "  ".join(cells)).rstrip()
