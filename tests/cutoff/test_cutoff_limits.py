"""The limits file: what it means, everything that is wrong with it at once, and never a traceback."""

import json
import re
from importlib.resources import files
from pathlib import Path, PurePosixPath

import jsonschema  # type: ignore[import-untyped]  # ships no types
import pytest
import yaml
from hypothesis import example, given
from hypothesis import strategies as st

from reefguard.cutoff.findings import findings, findings_in_words, problems_in_words
from reefguard.cutoff.limits import RelayWiring, Setup, read
from reefguard.cutoff.limits_file import read_limits_file
from reefguard.cutoff.quantities import HEADER_GPIO
from reefguard.cutoff.strict_yaml import MOST_CHARACTERS, Place, Problem
from reefguard.cutoff.trip import Limits

SHORTEST = """\
probe: 28-000000000201
relay:
  pin: GPIO23
  polarity: active high
limit: 24.5 °C
"""

FULL = """\
# every key, none at its default
one_wire_directory: /srv/w1
state_directory: /srv/state
runtime_directory: "/srv/run"
probe: 3b-0123456789ab
probe_offset: -0.9 °F
relay: {pin: header 29, polarity: active low}
limit: 77 °F
recovery: 1.8 °F
trip_after: 1 min
probe_timeout: 90 s
good_for: 0.5 h
rest: 10 min
releases_per_day: 0
frozen_after: 12 h
sampling: 5 s
"""


def setup(text: str) -> Setup:
    outcome = read(text)
    assert isinstance(outcome, Setup), outcome
    return outcome


def problems(text: str) -> list[Problem]:
    outcome = read(text)
    assert isinstance(outcome, list), outcome
    return outcome


def with_line(line: str) -> str:
    """Return the shortest valid file with a key set to something else, or one added."""
    lines = {
        "probe": "probe: 28-000000000201",
        "relay": "relay: {pin: GPIO23, polarity: active high}",
        "limit": "limit: 24.5 °C",
    }
    lines.pop(line.partition(":")[0], None)
    return "\n".join([line, *lines.values()]) + "\n"


def test_defaults() -> None:
    assert setup(SHORTEST) == Setup(
        one_wire_directory=PurePosixPath("/sys/bus/w1/devices"),
        state_directory=PurePosixPath("/var/lib/reefguard-cutoff"),
        runtime_directory=PurePosixPath("/run/reefguard-cutoff"),
        probe="28-000000000201",
        probe_offset_c=0.0,
        relay=RelayWiring(pin=23, active_high=True),
        limits=Limits(
            limit_c=24.5,
            recovery_c=0.5,
            trip_after_s=10.0,
            probe_timeout_s=60.0,
            good_for_s=60.0,
            rest_s=300.0,
            releases_per_day=3,
            frozen_after_s=86_400.0,
        ),
        sampling_s=2.0,
        fahrenheit=False,
    )


def test_every_key() -> None:
    assert setup(FULL) == Setup(
        one_wire_directory=PurePosixPath("/srv/w1"),
        state_directory=PurePosixPath("/srv/state"),
        runtime_directory=PurePosixPath("/srv/run"),
        probe="3b-0123456789ab",
        probe_offset_c=-0.5,
        relay=RelayWiring(pin=5, active_high=False),
        limits=Limits(
            limit_c=25.0,
            recovery_c=1.0,
            trip_after_s=60.0,
            probe_timeout_s=90.0,
            good_for_s=1800.0,
            rest_s=600.0,
            releases_per_day=0,
            frozen_after_s=43_200.0,
        ),
        sampling_s=5.0,
        fahrenheit=True,
    )


@pytest.mark.parametrize(
    "line",
    [
        "limit: 15 °C",
        "limit: 30 °C",
        "limit: 59 °F",
        "limit: 24.5 C",
        "limit: 24.5°C",
        "limit: '76 F'",
        "recovery: 0.25 °C",
        "recovery: 5 °C",
        "probe_offset: 1 °C",
        "probe_offset: -1 °C",
        "trip_after: 4 s",
        "trip_after: 2 min",
        "probe_timeout: 15 s",
        "probe_timeout: 10 min",
        "good_for: 10 s",
        "good_for: 1 h",
        "rest: 3 min",
        "rest: 60 min",
        "releases_per_day: 24",
        "frozen_after: 48 h",
        "sampling: 1 s",
        "probe: 22-000000000201",
        "probe: 42-000000000201",
    ],
)
def test_the_ends_of_each_range_are_allowed(line: str) -> None:
    setup(with_line(line))


WRONG = {
    "a bare temperature": ("limit: 76", "without its unit", "write 76 °C or 76 °F"),
    "°F meant, °C written": (
        "limit: 76 °C",
        "outside 15 °C to 30 °C (59 °F to 86 °F)",
        "did you mean 76 °F?",
    ),
    "°C meant, °F written": ("limit: 24.5 °F", "outside", "did you mean 24.5 °C?"),
    "°F meant, at the lower end": ("limit: 59 °C", "outside", "did you mean 59 °F?"),
    "°F meant, at the upper end": ("limit: 86 °C", "outside", "did you mean 86 °F?"),
    "too warm": ("limit: 30.0625 °C", "outside", "too cold"),
    "too cold": ("limit: 14.9 °C", "outside", "too cold"),
    "no temperature": ("limit: cold", "not a temperature", "24.5 °C or 76 °F"),
    "a comma": ("limit: 24,5 °C", "not a temperature", "24.5 °C"),
    "a leading zero": ("limit: 024 °C", "not a temperature", "24.5 °C"),
    "not finite": ("limit: .nan", "not a temperature", "24.5 °C"),
    "an exponent": ("limit: 2e1 °C", "not a temperature", "24.5 °C"),
    "a bare difference": ("recovery: 0.5", "without its unit", "0.5 °C or 0.5 °F"),
    "too small a recovery": ("recovery: 0.2 °C", "0.2 °C, outside 0.25 °C to 5 °C", "0.5 °C to 1 °C"),
    "too large a recovery": ("recovery: 9.1 °F", "outside", "0.5 °C"),
    "too large an offset": ("probe_offset: -1.1 °C", "outside -1 °C to 1 °C", "replace the probe"),
    "a bare time": ("trip_after: 10", "a time without its unit", "10 s"),
    "no time": ("rest: 12:30", "not a time", "5 min"),
    "too soon a restart": ("rest: 179 s", "outside 3 min to 60 min", "write 3 min to 60 min"),
    "too long a rest": ("rest: 61 min", "against pressure", "write"),
    "too short a trip": ("trip_after: 3.9 s", "outside 4 s to 2 min", "write"),
    "too long a trip": ("trip_after: 121 s", "outside", "write"),
    "too short a time-out": ("probe_timeout: 14 s", "outside", "write"),
    "too long a time-out": ("probe_timeout: 11 min", "outside", "write"),
    "too short a proof": ("good_for: 9 s", "outside", "write"),
    "too long a proof": ("good_for: 2 h", "outside", "write"),
    "too short a frost": ("frozen_after: 11 h", "outside 12 h to 48 h", "write"),
    "too long a frost": ("frozen_after: 49 h", "outside", "write"),
    "too fast a sampling": ("sampling: 0.9 s", "outside 1 s to 5 s", "write"),
    "too slow a sampling": ("sampling: 5.1 s", "outside", "write"),
    "no whole number": ("releases_per_day: 3.5", "not a whole number", "0 to 24"),
    "an octal number": ("releases_per_day: 017", "not a whole number", "0 to 24"),
    "too many releases": ("releases_per_day: 25", "outside 0 to 24", "0 to 24"),
    "yes": ("releases_per_day: yes", "not a whole number", "0 to 24"),
    "a relative path": ("state_directory: state", "not an absolute path", "/var/lib"),
    "the wrong family": ("probe: 10-000000000201", "family 10 (DS18S20)", "DS18B20"),
    "no thermometer": ("probe: 01-000000000201", "family 01", "DS18B20"),
    "capitals": ("probe: 28-0000000002AB", "small letters", "write 28-0000000002ab"),
    "no probe": ("probe: tank", "not a probe's name", "ls /sys/bus/w1/devices"),
    "no pin": ("relay: {pin: wheel, polarity: active low}", "not a pin", "GPIO23 or header 16"),
    "a bare pin": (
        "relay: {pin: 16, polarity: active low}",
        "bare pin number",
        "GPIO16 (the chip's number) or header 16",
    ),
    "GPIO28": ("relay: {pin: GPIO28, polarity: active low}", "GPIO0 to GPIO27", "wired"),
    "header 1": ("relay: {pin: header 1, polarity: active low}", "power, ground", "header 16"),
    "no polarity": ("relay: {pin: GPIO16, polarity: low}", "not a polarity", "active low"),
    "a closed contact": (
        "relay: {pin: GPIO16, polarity: active low, contact: normally closed}",
        "a cut wire or a lost supply stops the chiller",
        "normally open",
    ),
    "a typing error": ("limt: 24 °C", "no such key", "did you mean `limit`?"),
    "an unknown key": ("zzz: 1", "no such key", "the keys here are one_wire_directory"),
    "an unknown key in relay": (
        "relay: {pin: GPIO16, polarity: active low, x: 1}",
        "no such key",
        "pin, polarity",
    ),
    "a merge": ("<<: {limit: 24 °C}", "no such key", "the keys"),
    "nothing written": ("recovery:", "nothing is written here", "delete the key"),
    "an empty text": ('recovery: ""', "nothing is written here", "delete the key"),
    "a section for a value": ("limit: {a: b}", "a section where a single value belongs", "write the value"),
    "a value for a section": ("relay: GPIO23", "this is a section", "pin and polarity"),
    "a list for a section": ("relay: [GPIO23]", "a list", "single value"),
    "a list": ("limit: [24.5 °C]", "a list", "single value"),
    "a tag": ("limit: !!str 24.5 °C", "a tag changes", "delete it"),
    "an anchor": ("limit: &a 24.5 °C", "an anchor", "delete it"),
    "an alias": ("limit: *a", "an alias hides", "write it out"),
    "a key that is a list": ("? [a, b]\n: c", "a key must be a single word", "key: value"),
}


@pytest.mark.parametrize(("line", "why", "mend"), WRONG.values(), ids=WRONG.keys())
def test_each_mistake_says_where_why_and_how_to_mend(line: str, why: str, mend: str) -> None:
    said = problems(with_line(line))
    assert any(why in problem.why and mend in problem.mend for problem in said), said
    assert all(problem.place.line == 1 for problem in said if problem.why != "this key is missing")


def test_all_mistakes_at_once_in_order_of_line() -> None:
    text = "limit: 76\nrelay:\n  pin: 23\n  contact: normally closed\nrest: 1 s\n"
    assert [(problem.place, problem.key) for problem in problems(text)] == [
        (Place(1, 1), "probe"),
        (Place(1, 8), "limit"),
        (Place(3, 3), "relay.polarity"),
        (Place(3, 8), "relay.pin"),
        (Place(4, 3), "relay.contact"),
        (Place(5, 7), "rest"),
    ]


def test_a_key_written_twice_names_both_lines() -> None:
    (problem,) = problems(SHORTEST + "limit: 25 °C\n")
    assert (problem.place, problem.why) == (Place(6, 1), "written twice: first in line 5")


NOT_YAML = {
    "an open bracket": "limit: [",
    "a tab": "relay:\n\tpin: GPIO23\n",
    "an open quote": 'probe: "28',
    "an escape too far": 'limit: "\\UFFFFFFFF"',
    "a version too long": "%YAML 1." + "9" * 5000 + "\n---\na: 1\n",
    "a control character": "limit: 24\n\x07: 1\n",
    "a lone surrogate": "limit: \ud800",
    "a document marker inside": "limit: 24.5 °C\n%\n",
    "an undefined handle": "limit: !x!y 1",
}


@pytest.mark.parametrize("text", NOT_YAML.values(), ids=NOT_YAML.keys())
def test_what_is_no_yaml_is_a_problem_and_keys_after_it_are_not_called_missing(text: str) -> None:
    said = problems(text)
    assert any("YAML" in problem.why for problem in said)
    assert not any("missing" in problem.why for problem in said)


def test_a_forbidden_character_is_placed() -> None:
    (problem,) = [problem for problem in problems("limit: 24.5 °C\n  \x07") if "forbids" in problem.why]
    assert problem.place == Place(2, 3)
    assert problem.read == "'\\x07'"


@pytest.mark.parametrize("text", ["", "\n", "# nothing\n", "---\n", "---\n...\n", "~"])
def test_an_empty_file_misses_what_it_must_have(text: str) -> None:
    missing = {problem.key for problem in problems(text) if "missing" in problem.why}
    assert missing == {"probe", "relay", "limit"}


@pytest.mark.parametrize(("text", "read_there"), [("reef", "reef"), ("- a\n- b\n", "")])
def test_a_file_without_keys(text: str, read_there: str) -> None:
    said = [problem for problem in problems(text) if problem.why == "no key stands before this"]
    assert [problem.read for problem in said] == [read_there]


def test_a_second_document() -> None:
    (problem,) = problems(SHORTEST + "---\nlimit: 25 °C\n")
    assert (problem.place.line, problem.read) == (6, "---")


def test_nesting_without_end() -> None:
    said = problems("a: " + "{b: " * 500 + "1" + "}" * 500)
    assert any(problem.why == "nested too deep" for problem in said)


def test_a_file_without_end() -> None:
    (problem,) = problems("#" * (MOST_CHARACTERS + 1))
    assert "no limits file" in problem.why


def test_the_report_is_laid_out_for_a_person() -> None:
    words = problems_in_words(
        "/etc/reefguard/cutoff.yaml", problems(with_line("limit: 76")), "cooling is off"
    )
    assert words == (
        "/etc/reefguard/cutoff.yaml: 1 problem; cooling is off.\n\n"
        "  line 1, column 8, limit: 76\n"
        "    a temperature without its unit\n"
        "    mend: write 76 °C or 76 °F, whichever is meant\n"
    )


def test_the_report_keeps_what_was_read_on_one_line_and_short() -> None:
    long = Problem(Place(1, 1), "limit", "\x1b[31m\n" + "x" * 200, "why", "mend")
    line = problems_in_words("f", [long, long], "left").splitlines()[2]
    assert line.startswith("  line 1, column 1, limit: \\x1b[31m\\nxxx")
    assert line.endswith("xxx...")
    assert len(line) == len("  line 1, column 1, limit: ") + 80


FINDINGS = {
    "a limit in the usual band": ("limit: 26.6 °C", "limit", "held off when it is needed"),
    "a limit near harm": ("limit: 19.9 °C", "limit", "would come too late"),
    "a recovery within the error": ("recovery: 0.4 °C", "recovery", "±0.5 °C error"),
    "a large offset": ("probe_offset: -0.6 °C", "probe_offset", "-0.60 °C"),
    "GPIO0": ("relay: {pin: GPIO0, polarity: active low}", "relay.pin", "ID chip"),
    "GPIO3": ("relay: {pin: GPIO3, polarity: active low}", "relay.pin", "I2C"),
    "GPIO4": ("relay: {pin: GPIO4, polarity: active low}", "relay.pin", "1-wire"),
    "GPIO14": ("relay: {pin: GPIO14, polarity: active high}", "relay.pin", "serial console"),
    "GPIO1": ("relay: {pin: GPIO1, polarity: active low}", "relay.pin", "ID chip"),
    "GPIO2": ("relay: {pin: GPIO2, polarity: active low}", "relay.pin", "I2C"),
    "GPIO15": ("relay: {pin: GPIO15, polarity: active high}", "relay.pin", "serial console"),
    "active low, pulled down": (
        "relay: {pin: GPIO9, polarity: active low}",
        "relay.pin",
        "GPIO9 is pulled down, and a low level energises the relay",
    ),
    "active high, pulled up": (
        "relay: {pin: GPIO8, polarity: active high}",
        "relay.pin",
        "GPIO8 is pulled up, and a high level energises the relay",
    ),
}


@pytest.mark.parametrize(("line", "key", "what"), FINDINGS.values(), ids=FINDINGS.keys())
def test_findings(line: str, key: str, what: str) -> None:
    (finding,) = findings(setup(with_line(line)))
    assert finding.key == key
    assert what in finding.what
    assert "mend: " in findings_in_words("f", [finding])


@pytest.mark.parametrize(
    ("line", "pins"),
    [
        ("relay: {pin: GPIO9, polarity: active low}", "GPIO5 or GPIO6"),
        ("relay: {pin: GPIO8, polarity: active high}", "GPIO9 to GPIO27"),
    ],
)
def test_a_pin_pulled_the_wrong_way_names_pins_that_are_not(line: str, pins: str) -> None:
    (finding,) = findings(setup(with_line(line)))
    assert finding.mend.startswith(f"use {pins} for this relay")


@pytest.mark.parametrize(
    "line",
    [
        "limit: 26.5 °C",
        "limit: 20 °C",
        "recovery: 0.5 °C",
        "probe_offset: 0.5 °C",
        "relay: {pin: GPIO8, polarity: active low}",
        "relay: {pin: GPIO9, polarity: active high}",
    ],
)
def test_no_finding_at_the_edge(line: str) -> None:
    assert findings(setup(with_line(line))) == []


@pytest.mark.parametrize(("length", "shown"), [(80, "x" * 80), (81, "x" * 77 + "...")])
def test_what_was_read_is_shown_up_to_80_characters(length: int, shown: str) -> None:
    problem = Problem(Place(1, 1), "", "x" * length, "why", "mend")
    assert f"column 1: {shown}\n" in problems_in_words("f", [problem], "left")


def test_no_findings_in_words() -> None:
    assert findings_in_words("/etc/f", []) == "/etc/f: in order.\n"


# Raspberry Pi documentation, "GPIO and the 40-pin header": the two rows of the drawing, from memory.
def test_the_header_has_28_lines_each_once() -> None:
    assert sorted(HEADER_GPIO.values()) == list(range(28))
    assert not set(HEADER_GPIO) & {1, 2, 4, 6, 9, 14, 17, 20, 25, 30, 34, 39}


# gpiozero keeps a drawing of the header of its own.
def test_the_header_is_the_one_that_gpiozero_knows() -> None:
    from gpiozero.pins.pi import PiBoardInfo  # noqa: PLC0415  only this test needs it

    board = PiBoardInfo.from_revision(0xC03111)
    names = {pin.col + 2 * pin.row - 2: pin.name for pin in board.headers["J8"].pins.values()}
    theirs = {position: name for position, name in names.items() if name.startswith("GPIO")}
    assert theirs == {position: f"GPIO{number}" for position, number in HEADER_GPIO.items()}


def test_a_file_on_disk(tmp_path: Path) -> None:
    file = tmp_path / "cutoff.yaml"
    file.write_text(SHORTEST, encoding="utf-8")
    assert read_limits_file(file) == setup(SHORTEST)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    outcome = read_limits_file(tmp_path / "none.yaml")
    assert isinstance(outcome, list)
    assert "No such file" in outcome[0].why
    outcome = read_limits_file(tmp_path)
    assert isinstance(outcome, list)
    assert "Is a directory" in outcome[0].why


def test_a_file_in_another_encoding(tmp_path: Path) -> None:
    file = tmp_path / "cutoff.yaml"
    file.write_bytes(SHORTEST.encode("latin-1"))
    outcome = read_limits_file(file)
    assert isinstance(outcome, list)
    assert outcome[0].why == "line 5 is not UTF-8 text"


def judge(text: str) -> None:
    outcome = read(text)
    if isinstance(outcome, list):
        assert outcome
        assert all(problem.why and problem.mend for problem in outcome)
        assert all(problem.place.line >= 1 and problem.place.column >= 1 for problem in outcome)
        assert problems_in_words("f", outcome, "left").replace("\n", "").isprintable()
    else:
        findings_in_words("f", findings(outcome))


@given(st.text())
@example("\ufeff")
@example("a: \x85")
def test_any_text(text: str) -> None:
    judge(text)


@given(st.text(alphabet="aeilmt:{}[]&*!|>%@`'\"#,-? \n\t\\0159°CFU.~<", max_size=80))
def test_any_text_of_yamls_own_characters(text: str) -> None:
    judge(text)


@given(
    base=st.sampled_from([SHORTEST, FULL]),
    position=st.integers(0, 500),
    cut=st.integers(0, 12),
    put=st.text(max_size=6),
)
def test_any_damage_to_a_valid_file(base: str, position: int, cut: int, put: str) -> None:
    judge(base[:position] + put + base[position + cut :])


@given(st.binary(max_size=300))
def test_any_bytes(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    file = tmp_path_factory.getbasetemp() / "any.yaml"
    file.write_bytes(content)
    outcome = read_limits_file(file)
    assert isinstance(outcome, list)
    assert outcome


SCHEMA = json.loads((files("reefguard.cutoff") / "cutoff.schema.json").read_text(encoding="utf-8"))


def schema_takes(text: str) -> bool:
    return bool(jsonschema.Draft7Validator(SCHEMA).is_valid(yaml.safe_load(text)))


def test_the_schema_is_a_schema_and_takes_what_the_reader_takes() -> None:
    jsonschema.Draft7Validator.check_schema(SCHEMA)
    assert schema_takes(SHORTEST)
    assert schema_takes(FULL)


@pytest.mark.parametrize(
    "mistake",
    [
        "a bare temperature",
        "no temperature",
        "a comma",
        "a bare difference",
        "a bare time",
        "no whole number",
        "too many releases",
        "a relative path",
        "the wrong family",
        "capitals",
        "a bare pin",
        "GPIO28",
        "header 1",
        "no polarity",
        "a closed contact",
        "a typing error",
        "a value for a section",
        "a list",
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(mistake: str) -> None:
    assert not schema_takes(with_line(WRONG[mistake][0]))


def test_the_schema_knows_every_key_and_default() -> None:
    defaults = {key: value["default"] for key, value in SCHEMA["properties"].items() if "default" in value}
    written = SHORTEST + "".join(f"{key}: {value}\n" for key, value in defaults.items())
    assert setup(written) == setup(SHORTEST)
    keys = {match[1] for match in re.finditer(r"^(\w+):", FULL, re.MULTILINE)}
    assert set(SCHEMA["properties"]) == keys


@given(st.integers(0, 99), st.sampled_from(["GPIO", "header "]))
def test_schema_and_reader_know_the_same_pins(number: int, kind: str) -> None:
    text = with_line(f"relay: {{pin: {kind}{number}, polarity: active low}}")
    assert schema_takes(text) == isinstance(read(text), Setup)
