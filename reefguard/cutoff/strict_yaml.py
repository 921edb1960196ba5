"""Read YAML into a tree of marked texts, refusing whatever a person could not have meant.

Values stay the text that was written: what is a number, a temperature or a
pin is decided by the key that asks for it, so `on`, `12:30` and `017` never
turn into something else.  Only mappings and single values are known here;
lists, tags, anchors, aliases, merge keys, duplicate keys and a second
document are problems.  Pure: text in, tree and problems out.
"""

from dataclasses import dataclass, field
from typing import TypeAlias

import yaml

MOST_CHARACTERS = 100_000
DEEPEST = 8


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where in the file, counted from 1 as editors do."""

    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with the file.

    Attributes:
        place: where it stands.
        key: the key's path, `relay.pin`, or "" where there is none.
        read: what was read there, or "".
        why: why it is wrong.
        mend: what to write or do instead.
    """

    place: Place
    key: str
    read: str
    why: str
    mend: str


@dataclass(frozen=True, slots=True)
class Text:
    """A single value, as written."""

    place: Place
    text: str


@dataclass(frozen=True, slots=True)
class Section:
    """Keys, in order, each with the place of the key and its value."""

    place: Place
    entries: dict[str, tuple[Place, "Node"]] = field(default_factory=dict)


Node: TypeAlias = Text | Section | None
"""`None` stands for something already complained about."""


def read_tree(text: str) -> tuple[Section, list[Problem], bool]:
    """Return the top section, the problems met, and whether the text was read to its end."""
    if len(text) > MOST_CHARACTERS:
        why = f"longer than {MOST_CHARACTERS} characters: this is no limits file"
        return Section(Place(1, 1)), [Problem(Place(1, 1), "", "", why, "name the right file")], False
    tree = _Tree(text)
    try:
        top = tree.document()
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        place = Place(mark.line + 1, mark.column + 1) if mark else Place(1, 1)
        tree.complain(place, "", "", f"not YAML: {error.problem or error.context}", _INDENT)
    except yaml.reader.ReaderError as error:
        place = _place_of(text, error.position)
        tree.complain(
            place,
            "",
            ascii(text[error.position : error.position + 1]),
            "a character that YAML forbids",
            "delete it",
        )
    except (ValueError, OverflowError) as error:
        # PyYAML lets these out of an escape such as "\UFFFFFFFF".
        tree.complain(tree.last, "", "", f"not YAML: {error}", "write plain text, without escapes")
    else:
        return top, tree.problems, True
    return tree.top, tree.problems, False


_INDENT = "one `key: value` per line, the keys of `relay:` indented by two spaces"


def _place_of(text: str, position: int) -> Place:
    before = text[:position]
    return Place(before.count("\n") + 1, position - (before.rfind("\n") + 1) + 1)


def _is_nothing(event: yaml.NodeEvent) -> bool:
    """Whether this is the value of an empty document."""
    return isinstance(event, yaml.ScalarEvent) and event.value == "" and event.style is None


class _Tree:
    """Builds the tree from the parser's events, and remembers what is wrong."""

    def __init__(self, text: str) -> None:
        self._events = yaml.parse(text, Loader=yaml.SafeLoader)
        self.problems: list[Problem] = []
        self.top = Section(Place(1, 1))
        self.last = Place(1, 1)

    def complain(self, place: Place, key: str, read: str, why: str, mend: str) -> None:
        """Note one problem and read on."""
        self.problems.append(Problem(place, key, read, why, mend))

    def document(self) -> Section:
        """Read all of the text; the tree grows in `top`, so that what came before a fault is kept."""
        documents = 0
        while not isinstance(event := self._next(), yaml.StreamEndEvent):
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    self.complain(self.last, "", "---", "a second document", "keep one document per file")
                    break
            elif isinstance(event, yaml.MappingStartEvent):
                self._check(event, "")
                self._fill(self.top, "", 1)
            elif isinstance(event, yaml.NodeEvent) and not _is_nothing(event):
                read = getattr(event, "value", "")
                self.complain(self.last, "", read, "no key stands before this", _INDENT)
                self._skip(event)
        return self.top

    def _next(self) -> yaml.Event:
        event = next(self._events)
        mark = event.start_mark
        self.last = Place(mark.line + 1, mark.column + 1) if mark else self.last
        return event

    def _fill(self, section: Section, path: str, depth: int) -> None:
        while not isinstance(event := self._next(), yaml.MappingEndEvent):
            place = self.last
            if not isinstance(event, yaml.ScalarEvent):
                self.complain(place, path, "", "a key must be a single word", _INDENT)
                self._skip(event)
                self._skip(self._next())
                continue
            key = f"{path}.{event.value}" if path else event.value
            self._check(event, key)
            node = self._node(self._next(), key, depth)
            if event.value in section.entries:
                first = section.entries[event.value][0].line
                why = f"written twice: first in line {first}"
                self.complain(place, key, "", why, "keep one of the two")
            else:
                section.entries[event.value] = place, node

    def _node(self, event: yaml.Event, key: str, depth: int) -> Node:
        self._check(event, key)
        place = self.last
        match event:
            case yaml.ScalarEvent():
                return Text(place, event.value)
            case yaml.MappingStartEvent() if depth < DEEPEST:
                section = Section(place)
                self._fill(section, key, depth + 1)
                return section
            case yaml.MappingStartEvent():
                self.complain(place, key, "", "nested too deep", _INDENT)
            case yaml.SequenceStartEvent():
                self.complain(place, key, "", "a list: no key here takes one", "write a single value")
        self._skip(event)
        return None

    def _check(self, event: yaml.Event, key: str) -> None:
        anchor, tag = getattr(event, "anchor", None), getattr(event, "tag", None)
        if isinstance(event, yaml.AliasEvent):
            self.complain(self.last, key, f"*{anchor}", "an alias hides what is meant", "write it out")
        elif anchor is not None:
            self.complain(self.last, key, f"&{anchor}", "an anchor has no use here", "delete it")
        if tag is not None:
            self.complain(self.last, key, str(tag), "a tag changes what is meant", "delete it")

    def _skip(self, event: yaml.Event) -> None:
        """Read on to the end of a collection whose start has just been read."""
        open_collections = int(isinstance(event, yaml.CollectionStartEvent))
        while open_collections:
            following = self._next()
            open_collections += isinstance(following, yaml.CollectionStartEvent)
            open_collections -= isinstance(following, yaml.CollectionEndEvent)
