"""PyYAML's complaints in the words of someone who does not know YAML's grammar."""

import yaml

from reefguard.settings.problems import TOP, Place, Problem

# (part of what PyYAML says, why it is wrong, how to mend it); the first that fits is told.
_WORDS = (
    (
        "found character '\\t'",
        "a tab stands where only spaces may",
        "put spaces instead of the tab; set the editor to write spaces",
    ),
    (
        "that cannot start any token",
        "a value may not begin with this character",
        "put the value in quotes",
    ),
    (
        "mapping values are not allowed here",
        "a colon stands where none may: a second one in the line, or the line is indented too far",
        "indent it like its neighbours; look at the line above too: each key needs `: ` with a space",
    ),
    (
        "could not find expected ':'",
        "a line without a colon: it is no key with a value",
        "write `key: value`, with a space after the colon",
    ),
    (
        "found unexpected end of stream",
        "a quote is opened and never closed",
        "close it at the end of the value",
    ),
    (
        "expected ',' or",
        "a bracket is opened and not closed, or a comma is missing",
        "write `[a, b]` or `{key: value, key: value}`",
    ),
    (
        "found '<stream end>'",
        "the file ends where a value should follow: a bracket is opened and never closed",
        "write `[a, b]` or `{key: value, key: value}`",
    ),
    (
        "expected <block end>",
        "the indentation fits neither the lines above nor a new section",
        "indent all keys of one section by the same number of spaces",
    ),
    (
        "found unknown escape character",
        "a backslash in double quotes that means nothing",
        "write the value without quotes, or in single ones",
    ),
    (
        "expected '<document start>'",
        "something stands after the end of the document",
        "take out the line `...`, and what does not belong here",
    ),
)

# Of these, a person looks for where it was opened, not for where PyYAML gave up.
_OPENED = ("found unexpected end of stream", "expected ',' or")


def explain(error: yaml.MarkedYAMLError, text: str) -> Problem:
    """Return the problem that stopped PyYAML: where, the line that was read, why, and the mend."""
    said = error.problem or ""
    mark = error.context_mark if any(part in said for part in _OPENED) else error.problem_mark
    place = TOP if mark is None else Place(mark.line + 1, mark.column + 1)
    lines = text.splitlines()
    read = lines[place.line - 1].strip() if place.line <= len(lines) else "the end of the file"
    for part, why, mend in _WORDS:
        if part in said:
            return Problem(place, "", read, why, mend)
    return Problem(place, "", read, f"not YAML: {said}", "compare the line with those around it")
