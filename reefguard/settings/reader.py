"""From the nodes of a file to the sheet of its values, by a declaration of its keys."""

import difflib
import re

from reefguard.settings.cooling_fields import HEATER_LOGIC
from reefguard.settings.declaration import Field, Named, Part, Presence, Section
from reefguard.settings.fields import FILE, every_key
from reefguard.settings.kinds import NAME
from reefguard.settings.problems import TOP, Place, Problem
from reefguard.settings.quantities import MisreadError
from reefguard.settings.sheet import Sheet, Written
from reefguard.settings.yaml_nodes import Entry, Listing, Node, Refused, Scalar, Table

_HEATER_KEY = re.compile(
    "(?:on|start|cool|run|switch_on)_(?:below|under)"
    "|(?:off|stop|switch_off)_(?:above|over)"
    "|heat(?:er|ing|_(?:above|below|on|off|until))?"
)


def read_values(table: Table, parts: tuple[Part, ...] = FILE) -> tuple[Sheet, tuple[Problem, ...]]:
    """Return all values that can be read, and a problem for each that cannot.

    Args:
        table: the file.
        parts: the declaration of its keys; the guard's settings file by default.
    """
    reading = _Reading(parts)
    reading.parts(parts, table, "", TOP)
    return reading.sheet, tuple(reading.problems)


def _join(path: str, key: str) -> str:
    return f"{path}.{key}" if path else key


class _Reading:
    """One pass over the file."""

    def __init__(self, file: tuple[Part, ...]) -> None:
        self._file = file
        self.sheet = Sheet()
        self.problems: list[Problem] = []

    def parts(self, parts: tuple[Part, ...], table: Table, path: str, place: Place) -> None:
        """Read the keys of one section that begins at `place`."""
        self.sheet.open(path)
        known = {part.key: part for part in parts}
        for entry in table.entries:
            if entry.key in known:
                self._part(known[entry.key], entry, path)
        written = {entry.key for entry in table.entries}
        for entry in table.entries:
            if entry.key not in known:
                meant = self._unknown(entry, path, [key for key in known if key not in written], list(known))
                if meant is not None:
                    written.add(meant)
                    self._part(known[meant], entry, path)
        for part in parts:
            if part.key not in written:
                self._absent(part, path, place)

    def _unknown(self, entry: Entry, path: str, free: list[str], known: list[str]) -> str | None:
        """Tell of a key that is none, and return the free one it was likely meant to be.

        What stands under it is then read as if it were that one: one slip is
        one problem, and what else is wrong there is told as well.
        """
        if "cut_in" in known and _HEATER_KEY.fullmatch(entry.key):
            mend = "write `cut_in`, at or above which cooling starts, and below it `cut_out`"
            self._tell(entry.place, path, entry.key, HEATER_LOGIC, mend)
            for key in ("cut_in", "cut_out"):
                self.sheet.mention(_join(path, key), entry.place)
            return None
        near = difflib.get_close_matches(entry.key[:60].casefold(), free, n=1)
        mend = f"did you mean `{near[0]}`?" if near else _where_it_belongs(entry.key, known, self._file)
        self._tell(entry.place, path, entry.key, "no such key", mend)
        return near[0] if near else None

    def _part(self, part: Part, entry: Entry, path: str) -> None:
        key = _join(path, part.key)
        self.sheet.mention(key, entry.place)
        if isinstance(part, Named):
            self._named(part, entry, key)
        elif isinstance(part, Section):
            table = self._table(entry, key, f"its keys: {_some(part.parts)}")
            if table is not None:
                self.parts(part.parts, table, key, entry.place)
        elif part.many:
            self._list(part, entry.value, key)
        else:
            self._field(part, entry.value, key)

    def _absent(self, part: Part, path: str, place: Place) -> None:
        key = _join(path, part.key)
        match part:
            case Field(default=str(default)):
                self._take(part, (Scalar(default, plain=True, place=place),), key, given=False)
            case Field(required=True):
                mend = f"write `{part.key}: {part.kind.example}`, with your own value"
                self._tell(place, key, "missing", f"it must be given: {_lower(part.says)}", mend)
            case Section(presence=Presence.REQUIRED):
                why = f"it must be given: {_lower(part.says)}"
                self._tell(
                    place, key, "missing", why, f"write `{part.key}:` and under it {_some(part.parts)}"
                )
            case Section(presence=Presence.IMPLIED):
                self.parts(part.parts, Table((), place), key, place)
            case Named(presence=Presence.REQUIRED):
                self._tell(place, key, "missing", f"at least one {part.noun} is needed", _name_one(part))
            case _:
                pass  # an optional thing the tank does not have

    def _field(self, field: Field, node: Node, key: str) -> None:
        match node:
            case Scalar():
                self._take(field, (node,), key)
            case Refused():
                pass
            case _:
                mend = f"write one value: `{field.key}: {field.kind.example}`"
                self._tell(node.place, key, "", "several values where one is wanted", mend)

    def _list(self, field: Field, node: Node, key: str) -> None:
        match node:
            case Listing(items=items) if all(isinstance(item, Scalar | Refused) for item in items):
                self._take(field, tuple(item for item in items if isinstance(item, Scalar)), key)
            case Refused():
                pass
            case _:
                read = node.text if isinstance(node, Scalar) else ""
                self._tell(node.place, key, read, "a list is wanted here", f"write `[{field.kind.example}]`")

    def _take(self, field: Field, scalars: tuple[Scalar, ...], key: str, *, given: bool = True) -> None:
        """Read each scalar and put the value on the sheet, unless one of them was misread."""
        values = []
        for scalar in scalars:
            try:
                values.append(_value(field, scalar))
            except MisreadError as misread:
                self._tell(scalar.place, key, scalar.text, misread.why, misread.mend)
        if len(values) < len(scalars):
            return
        if field.many:
            place = scalars[0].place if scalars else TOP
            text = ", ".join(scalar.text for scalar in scalars)
            self.sheet.put(Written(key, tuple(values), text, place, given))
        else:
            self.sheet.put(Written(key, values[0], scalars[0].text, scalars[0].place, given))

    def _named(self, named: Named, entry: Entry, key: str) -> None:
        table = self._table(entry, key, f"a name for each {named.noun}")
        if table is None:
            return
        if not table.entries:
            self._tell(entry.place, key, "", f"at least one {named.noun} is needed", _name_one(named))
        for one in table.entries:
            self._name(named, one, key)
        self.sheet.put_names(key, tuple(one.key for one in table.entries))

    def _name(self, named: Named, one: Entry, key: str) -> None:
        path = _join(key, one.key)
        if one.key in named.reserved:
            self._tell(
                one.place, path, "", f"`{one.key}` is the name of something else", "choose another name"
            )
        elif not re.fullmatch(NAME, one.key):
            why = "a name is one word: letters, digits, `-` and `_`, a letter first, at most 24"
            self._tell(one.place, path, "", why, "choose another name")
        self.sheet.mention(path, one.place)
        table = self._table(one, path, f"its keys: {_some(named.parts)}")
        if table is not None:
            self.parts(named.parts, table, path, one.place)

    def _table(self, entry: Entry, key: str, wanted: str) -> Table | None:
        node = entry.value
        if isinstance(node, Table):
            return node
        if not isinstance(node, Refused):
            read = node.text if isinstance(node, Scalar) else "a list"
            self._tell(entry.place, key, read, "other keys belong under this one", f"write {wanted}")
        return None

    def _tell(self, place: Place, key: str, read: str, why: str, mend: str) -> None:
        self.problems.append(Problem(place, key, read, why, mend))


def _value(field: Field, scalar: Scalar) -> object:
    if not scalar.text.strip() or (scalar.plain and scalar.text in {"null", "~"}):
        mend = f"write `{field.key}: {field.kind.example}` with your own value, or take the key out"
        raise MisreadError("there is no value", mend)
    return field.kind.read(scalar)


def _where_it_belongs(key: str, known: list[str], file: tuple[Part, ...]) -> str:
    homes = [home for home, part in every_key(file) if part.key == key]
    if homes:
        return "it belongs elsewhere: " + " or ".join(f"`{home}`" for home in homes)
    return "take it out; here may stand " + ", ".join(f"`{name}`" for name in known)


def _some(parts: tuple[Part, ...]) -> str:
    required = [part for part in parts if isinstance(part, Field) and part.required]
    keys = required or [part for part in parts if isinstance(part, Field)]
    return ", ".join(f"`{field.key}: {field.kind.example}`" for field in keys[:4])


def _name_one(named: Named) -> str:
    return f"write a name for it, and under the name {_some(named.parts)}"


def _lower(sentence: str) -> str:
    return sentence[0].lower() + sentence[1:].rstrip(".")
