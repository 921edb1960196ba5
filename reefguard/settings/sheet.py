"""The file's values by key, each with its place: what the rules look at.

A key that could not be read is not on the sheet, so a rule that needs it has
nothing to say, and the person is told of the first mistake only.
"""

from dataclasses import dataclass
from typing import Generic, TypeVar

from reefguard.settings.problems import Place, Problem

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)


@dataclass(frozen=True, slots=True)
class Written(Generic[T_co]):
    """One value.

    Attributes:
        key: the path of its key.
        value: in SI and Celsius.
        text: as written; for a default, as it would be written.
        place: where it stands; for a default, where its section stands.
        given: whether a person wrote it.
    """

    key: str
    value: T_co
    text: str
    place: Place
    given: bool = True

    def problem(self, why: str, mend: str) -> Problem:
        """Return what is wrong with this value."""
        return Problem(self.place, self.key, self.text, why, mend)


class Sheet:
    """Values by the path of their key."""

    def __init__(self) -> None:
        self._values: dict[str, Written[object]] = {}
        self._mentioned: dict[str, Place] = {}
        self._open: set[str] = set()
        self._names: dict[str, tuple[str, ...]] = {}

    def put(self, written: Written[object]) -> None:
        """Take in a value."""
        self._values[written.key] = written

    def mention(self, key: str, place: Place) -> None:
        """Take in that a key is in the file, whatever its value turns out to be."""
        self._mentioned[key] = place

    def open(self, key: str) -> None:
        """Take in that a section could be opened: it holds keys."""
        self._open.add(key)

    def put_names(self, key: str, names: tuple[str, ...]) -> None:
        """Take in the names the keeper gave under a key."""
        self._names[key] = names

    def mentions(self, key: str) -> bool:
        """Return whether the key is in the file, readable or not."""
        return key in self._mentioned

    def is_open(self, key: str) -> bool:
        """Return whether the section is in the file and holds keys."""
        return key in self._open

    def place(self, key: str) -> Place:
        """Return where a key that is in the file stands."""
        return self._mentioned[key]

    def names(self, key: str) -> tuple[str, ...]:
        """Return the names the keeper gave under a key, in the order of the file."""
        return self._names.get(key, ())

    def of(self, key: str, kind: type[T]) -> Written[T] | None:
        """Return the value, or `None` when it is not there or not of that kind."""
        written = self._values.get(key)
        if written is None or not isinstance(written.value, kind):
            return None
        return Written(written.key, written.value, written.text, written.place, written.given)

    def maybe(self, key: str, kind: type[T]) -> T | None:
        """Return the bare value, or `None`."""
        written = self.of(key, kind)
        return None if written is None else written.value

    def must(self, key: str, kind: type[T]) -> T:
        """Return the bare value of a key that has one.

        Raises:
            LookupError: it has none; a file without problems cannot lead here.
        """
        written = self.of(key, kind)
        if written is None:
            raise LookupError(key)
        return written.value

    def ending(self, *endings: str) -> list[Written[object]]:
        """Return all values whose key has one of these as its last part, in the order of the file."""
        found = [written for written in self._values.values() if written.key.rpartition(".")[2] in endings]
        return sorted(found, key=lambda written: written.place)

    def pins(self) -> dict[int, str]:
        """Return the key that takes each GPIO."""
        taken = {}
        for written in self.ending("pin", "one_wire_pins"):
            gpios = written.value if isinstance(written.value, tuple) else (written.value,)
            taken.update(dict.fromkeys(gpios, written.key))
        return taken

    def lines(self) -> dict[str, int]:
        """Return the line of every key: its own, or for a default that of its section."""
        places = {key: written.place for key, written in self._values.items()} | self._mentioned
        return {key: place.line for key, place in places.items()}
