"""A section of an account: a title, some sentences, and a table where there is one."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Table:
    """Words in rows; the first column names the row.

    Attributes:
        head: of the columns.
        rows: each as long as the head.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Section:
    """What is said under one title."""

    title: str
    paragraphs: tuple[str, ...]
    table: Table | None = None
