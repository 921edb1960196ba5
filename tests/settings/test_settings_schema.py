"""The schema for editors says what the reader says."""

import json
import re
from pathlib import Path

import jsonschema  # type: ignore[import-untyped]  # ships no types
import pytest
from settings_files import LEAD_AND_LAG, SHORTEST, WHOLE, with_keys
from settings_values import BAD, GOOD

import reefguard.settings
from reefguard.settings.declaration import Field, Named, Section
from reefguard.settings.fields import every_key
from reefguard.settings.schema import schema, schema_text
from reefguard.settings.yaml_nodes import Listing, Node, Refused, Scalar, Table, compose

EDITOR = jsonschema.Draft7Validator(schema())
_WORDS = {"true": True, "false": False, "null": None, "~": None, "": None}


def as_an_editor_sees(node: Node) -> object:
    """Return the node by the core schema of YAML 1.2, which editors go by."""
    match node:
        case Table():
            return {entry.key: as_an_editor_sees(entry.value) for entry in node.entries}
        case Listing():
            return [as_an_editor_sees(item) for item in node.items]
        case Scalar(plain=True, text=text) if text in _WORDS:
            return _WORDS[text]
        case Scalar(plain=True, text=text) if re.fullmatch(r"[-+]?[0-9]+(\.[0-9]*)?", text):
            return float(text)
        case Scalar():
            return node.text
        case Refused():
            raise AssertionError(node)


def pleases_the_editor(text: str) -> bool:
    table, _ = compose(text)
    assert table is not None
    return bool(EDITOR.is_valid(as_an_editor_sees(table)))


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft7Validator.check_schema(schema())


def test_the_file_that_ships_is_the_one_the_declaration_makes() -> None:
    shipped = Path(reefguard.settings.__file__).with_name("reefguard.schema.json")
    assert shipped.read_text(encoding="utf-8") == schema_text()
    assert json.loads(schema_text()) == schema()


@pytest.mark.parametrize("text", [WHOLE, SHORTEST, LEAD_AND_LAG])
def test_good_files_please_the_editor(text: str) -> None:
    assert pleases_the_editor(text)


@pytest.mark.parametrize(("key", "value"), [(key, value) for key, value, *_ in GOOD])
def test_what_the_reader_takes_pleases_the_editor(key: str, value: str) -> None:
    assert pleases_the_editor(with_keys({key: value}))


# What a pattern cannot say: how much is too much, where a path leads, what is blank.
_BEYOND = re.compile("shorter than|longer than|above|below|no path to keep")
_BEYOND_TOO = {("lights.clock", "UTC+14:01"), ("tank", '"  "'), ("tank", '"two\\nlines"')}
_REFUSED = [
    (key, value) for key, value, why in BAD if not _BEYOND.match(why) and (key, value) not in _BEYOND_TOO
]


@pytest.mark.parametrize(("key", "value"), _REFUSED)
def test_what_the_reader_refuses_displeases_the_editor(key: str, value: str) -> None:
    assert not pleases_the_editor(with_keys({key: value}))


@pytest.mark.parametrize(
    "text",
    [
        with_keys({"xyzzy": "1"}),
        with_keys({"tank": None}),
        with_keys({"safe_band": None}),
        with_keys({"fans": None, "chiller": None}),
        with_keys({"chiller.cut_in": None}),
        with_keys({"chiller.setpoint": "26 °C", "chiller.differential": "1 °C"}),
        with_keys({"water_probes": {}}),
        with_keys({"water_probes.1st": {"id": "28-000000000104"}}),
        with_keys({"fans.units.chiller": {"pin": "GPIO12"}}),
    ],
)
def test_what_is_wrong_with_the_whole_displeases_the_editor(text: str) -> None:
    assert not pleases_the_editor(text)


def described_keys(described: object, path: str = "") -> set[str]:
    assert isinstance(described, dict)
    keys = set()
    for key, inner in described.get("properties", {}).items():
        here = f"{path}.{key}" if path else key
        keys |= {here} | described_keys(inner, here)
    if isinstance(named := described.get("additionalProperties"), dict):
        keys |= described_keys(named, f"{path}.*")
    return keys


def test_reader_and_schema_know_the_same_keys() -> None:
    assert described_keys(schema()) == {key for key, _ in every_key()}


def test_every_key_is_described_in_a_sentence() -> None:
    for key, part in every_key():
        assert isinstance(part, Field | Section | Named)
        assert re.fullmatch(r"[A-Z].*\.", part.says), key


def test_every_example_and_default_may_stand_where_it_is() -> None:
    for key, part in every_key():
        if isinstance(part, Field):
            described = dict(part.kind.schema)
            if described != {"type": "boolean"}:
                jsonschema.validate(part.kind.example, described)
                jsonschema.validate(part.default or part.kind.example, described)
            else:
                assert part.default in {"true", "false"}, key
