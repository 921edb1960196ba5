"""YAML, strictly: text in, marked nodes and problems out.

Every value stays the text that was written; what it means is for the key's
reader to say.  So nothing of YAML 1.1's guessing is left: `on` is a word and
not true, `12:30` a time and not 750, `017` no octal number.  Tags, anchors,
aliases, merge keys, directives, several documents and keys written twice are
problems.  The nodes are built from PyYAML's parsing events, which carry the
line and column of everything.
"""

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import yaml

from reefguard.settings.problems import TOP, Place, Problem
from reefguard.settings.yaml_words import explain

if TYPE_CHECKING:
    from collections.abc import Iterator

LONGEST_FILE = 32_768  # characters; a settings file has two or three thousand
DEEPEST = 12  # levels; a settings file has five

# What YAML 1.1 forbids in a stream, and the rarer line breaks, which editors do not count as lines.
_NO_TEXT = re.compile("[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True)
class Scalar:
    """One value as written; `plain` when it stood without quotes."""

    text: str
    plain: bool
    place: Place


@dataclass(frozen=True, slots=True)
class Listing:
    """Values in a row."""

    items: tuple["Node", ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Entry:
    """One key with its value; `place` is the key's."""

    key: str
    place: Place
    value: "Node"


@dataclass(frozen=True, slots=True)
class Table:
    """Keys with values, each key once."""

    entries: tuple[Entry, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class Refused:
    """Something that may not stand in a settings file; the problem is told already."""

    place: Place


Node: TypeAlias = Scalar | Listing | Table | Refused


def compose(text: str) -> tuple[Table | None, tuple[Problem, ...]]:
    """Return the file's keys, or `None` when there are none to be had, and all problems met.

    Never raises, whatever the text.
    """
    hindrance = _unreadable(text)
    if hindrance is not None:
        return None, (hindrance,)
    composer = _Composer(text)
    try:
        table = composer.document()
    except yaml.MarkedYAMLError as error:
        return None, (explain(error, text),)
    except (yaml.YAMLError, ValueError, OverflowError) as error:
        # PyYAML lets these through for an escape or a version beyond all numbers.
        why = f"the file cannot be read as YAML: {error}"
        return None, (Problem(TOP, "", "", why, "look for a `\\` in quotes or a line that begins with `%`"),)
    except _TooDeepError as error:
        why = f"more than {DEEPEST} levels deep; a settings file needs no more than five"
        return None, (Problem(error.place, "", "", why, "close the brackets, or indent less"),)
    return table, tuple(composer.problems)


def _unreadable(text: str) -> Problem | None:
    """Return why `text` is no candidate for a settings file at all, or `None`."""
    if len(text) > LONGEST_FILE:
        why = f"the file has {len(text)} characters; a settings file has a few thousand"
        return Problem(TOP, "", "", why, "check that this is the right file")
    bad = _NO_TEXT.search(text)
    if bad is None:
        return None
    before = text[: bad.start()].replace("\r\n", "\n").replace("\r", "\n")
    place = Place(before.count("\n") + 1, bad.start() - text.rfind("\n", 0, bad.start()))
    why = f"the character U+{ord(bad.group()):04X} is no part of a text"
    return Problem(
        place, "", bad.group(), why, "take it out; write the file with a plain text editor, as UTF-8"
    )


class _TooDeepError(Exception):
    """Nested beyond any sense; what follows is not read."""

    def __init__(self, place: Place) -> None:
        super().__init__(place)
        self.place = place


def _place(event: yaml.Event) -> Place:
    mark = event.start_mark
    return TOP if mark is None else Place(mark.line + 1, mark.column + 1)


class _Composer:
    """Builds nodes from parsing events and gathers what is wrong on the way."""

    def __init__(self, text: str) -> None:
        self._events: Iterator[yaml.Event] = yaml.parse(text, Loader=yaml.SafeLoader)
        self.problems: list[Problem] = []

    def document(self) -> Table | None:
        """Return the one document of the stream as a table, or `None` with a problem told."""
        next(self._events)  # the stream begins
        start = next(self._events)
        if not isinstance(start, yaml.DocumentStartEvent):
            self._tell(TOP, "", "", "the file is empty", "begin with `tank:` and the name of the tank")
            return None
        if start.version or start.tags:
            self._tell(
                TOP, "", "%", "a YAML directive may not stand here", "take out the lines that begin with `%`"
            )
        node = self._node(next(self._events), key="", depth=0)
        next(self._events)  # the document ends
        after = next(self._events)
        if isinstance(after, yaml.DocumentStartEvent):
            why = "a second document begins here; a settings file is one"
            self._tell(
                _place(after), "", "---", why, "take out the line `---`, and what does not belong here"
            )
        return self._only_table(node)

    def _only_table(self, node: Node) -> Table | None:
        match node:
            case Table():
                return node
            case Scalar(text=""):
                self._tell(TOP, "", "", "the file is empty", "begin with `tank:` and the name of the tank")
            case Refused():
                pass
            case _:
                read = node.text if isinstance(node, Scalar) else "a list"
                why = "a settings file is made of keys with values"
                self._tell(node.place, "", read, why, "write `key: value`, one a line")
        return None

    def _node(self, event: yaml.Event, key: str, depth: int) -> Node:
        place = _place(event)
        if depth > DEEPEST:
            raise _TooDeepError(place)
        if isinstance(event, yaml.AliasEvent):
            why = "an alias repeats what stands elsewhere, out of sight"
            self._tell(place, key, f"*{event.anchor}", why, "write the value itself")
            return Refused(place)
        self._refuse_anchor_and_tag(event, key)
        if isinstance(event, yaml.MappingStartEvent):
            return self._table(place, key, depth)
        if isinstance(event, yaml.SequenceStartEvent):
            return self._listing(place, key, depth)
        assert isinstance(event, yaml.ScalarEvent)  # noqa: S101  the grammar leaves nothing else
        return Scalar(event.value, event.style is None, place)

    def _refuse_anchor_and_tag(self, event: yaml.Event, key: str) -> None:
        anchor, tag = getattr(event, "anchor", None), getattr(event, "tag", None)
        if anchor is not None:
            why = "an anchor has no use without aliases, which may not stand here"
            self._tell(_place(event), key, f"&{anchor}", why, "take it out and write the value alone")
        if tag is not None:
            why = "a tag changes what a value means, and none may stand here"
            self._tell(_place(event), key, f"!{tag}", why, "take it out and write the value alone")

    def _listing(self, place: Place, key: str, depth: int) -> Listing:
        items = []
        while not isinstance(event := next(self._events), yaml.SequenceEndEvent):
            items.append(self._node(event, key, depth + 1))
        return Listing(tuple(items), place)

    def _table(self, place: Place, key: str, depth: int) -> Table:
        entries: dict[str, Entry] = {}
        while not isinstance(event := next(self._events), yaml.MappingEndEvent):
            name = self._node(event, key, depth + 1)
            path = f"{key}.{name.text}" if key and isinstance(name, Scalar) else getattr(name, "text", key)
            value = self._node(next(self._events), path, depth + 1)
            if not isinstance(name, Scalar):
                self._tell(
                    name.place, key, "", "a key must be one plain word", "write `key: value`, one a line"
                )
            elif name.text == "<<" and name.plain:
                why = "a merge key repeats what stands elsewhere, out of sight"
                self._tell(name.place, key, "<<", why, "write the keys themselves")
            elif name.text in entries:
                first = entries[name.text].place
                why = f"written twice: it stands on line {first.line} already"
                self._tell(name.place, path, "", why, "keep one of the two and take out the other")
            else:
                entries[name.text] = Entry(name.text, name.place, value)
        return Table(tuple(entries.values()), place)

    def _tell(self, place: Place, key: str, read: str, why: str, mend: str) -> None:
        self.problems.append(Problem(place, key, read, why, mend))
