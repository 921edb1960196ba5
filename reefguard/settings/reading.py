"""Read a settings file: strict YAML in, settings or everything that is wrong out."""

from reefguard.settings.build import settings_from
from reefguard.settings.link_rules import broken_link_rules
from reefguard.settings.outcome import Accepted, Rejected
from reefguard.settings.plan_rules import broken_plan_rules
from reefguard.settings.problems import Problem
from reefguard.settings.reader import read_values
from reefguard.settings.rules import broken_rules
from reefguard.settings.text import text_of
from reefguard.settings.yaml_nodes import compose


def read(text: str) -> Accepted | Rejected:
    """Return the settings that `text` gives, or all that is wrong with it.

    Never raises, whatever the text.
    """
    table, structure = compose(text)
    if table is None:
        return Rejected(structure)
    sheet, misread = read_values(table)
    broken = (*broken_rules(sheet), *broken_plan_rules(sheet, "plan."), *broken_link_rules(sheet))
    problems = (*structure, *misread, *broken)
    if problems:
        return Rejected(tuple(sorted(problems, key=lambda problem: problem.place)))
    return Accepted(settings_from(sheet), sheet.lines(), sheet.pins())


def read_bytes(content: bytes) -> Accepted | Rejected:
    """Return the settings that a file's content gives, or all that is wrong with it.

    Never raises, whatever the content.
    """
    text = text_of(content)
    return Rejected((text,)) if isinstance(text, Problem) else read(text)


def top_level_keys(text: str) -> frozenset[str]:
    """Return the outermost keys of the file, to tell one kind of file from another."""
    table, _ = compose(text)
    return frozenset() if table is None else frozenset(entry.key for entry in table.entries)
