"""Take the keys of a section one by one, and note what is unknown, missing or wrong.  Pure."""

import difflib
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from reefguard.cutoff.quantities import Wrong
from reefguard.cutoff.strict_yaml import Place, Problem, Section, Text

_Value = TypeVar("_Value")


class Keys:
    """The keys of one section, with every problem noted in a list that all sections share."""

    def __init__(
        self,
        section: Section,
        path: str,
        known: Sequence[str],
        problems: list[Problem],
        *,
        complete: bool,
        refused: Mapping[str, tuple[str, str]] | None = None,
    ) -> None:
        """Note every key that is not known.

        Args:
            section: as read.
            path: of the section, "" for the top.
            known: the keys it may have.
            problems: where to note what is wrong.
            complete: whether the file was read to its end; if not, no key is called missing.
            refused: keys that deserve their own why and mend.
        """
        self._section = section
        self._path = path
        self._problems = problems
        self._complete = complete
        for key, (place, _) in section.entries.items():
            if refused and key in refused:
                self._note(place, key, key, *refused[key])
            elif key not in known:
                close = difflib.get_close_matches(key, known, n=1)
                mend = f"did you mean `{close[0]}`?" if close else f"the keys here are {', '.join(known)}"
                self._note(place, key, "", "no such key", mend)

    def take(self, key: str, reader: Callable[[str], _Value], default: _Value) -> _Value:
        """Return the key's value, or its default where the key is not written."""
        if key not in self._section.entries:
            return default
        return self._read(key, reader, default)

    def need(self, key: str, reader: Callable[[str], _Value], *, instead: _Value) -> _Value:
        """Return the value of a key that must be written; after a problem, what stands in for it."""
        if key not in self._section.entries:
            self._miss(key)
            return instead
        return self._read(key, reader, instead)

    def section(self, key: str, known: Sequence[str], refused: Mapping[str, tuple[str, str]]) -> "Keys":
        """Return the keys of a section that must be written."""
        place, node = self._section.entries.get(key, (self._section.place, None))
        if isinstance(node, Section):
            complete = self._complete
            return Keys(node, self._join(key), known, self._problems, complete=complete, refused=refused)
        if key not in self._section.entries:
            self._miss(key, f", with {' and '.join(known)} indented below it")
        elif isinstance(node, Text):
            why = "this is a section: its keys follow on lines of their own"
            self._note(place, key, node.text, why, f"indent {' and '.join(known)} by two spaces below it")
        return Keys(Section(place), self._join(key), known, self._problems, complete=False)

    def written(self, key: str) -> str:
        """Return the key's text as it stands in the file, or ""."""
        _, node = self._section.entries.get(key, (None, None))
        return node.text if isinstance(node, Text) else ""

    def _read(self, key: str, reader: Callable[[str], _Value], otherwise: _Value) -> _Value:
        place, node = self._section.entries[key]
        if isinstance(node, Section):
            self._note(node.place, key, "", "a section where a single value belongs", "write the value")
        if not isinstance(node, Text):
            return otherwise
        if not node.text:
            self._note(place, key, "", "nothing is written here", "write a value, or delete the key")
            return otherwise
        try:
            return reader(node.text)
        except Wrong as wrong:
            self._note(node.place, key, node.text, wrong.why, wrong.mend)
            return otherwise

    def _miss(self, key: str, how: str = "") -> None:
        if self._complete:
            self._note(self._section.place, key, "", "this key is missing", f"add `{key}`{how}")

    def _note(self, place: Place, key: str, read: str, why: str, mend: str) -> None:
        self._problems.append(Problem(place, self._join(key), read, why, mend))

    def _join(self, key: str) -> str:
        return f"{self._path}.{key}" if self._path else key
