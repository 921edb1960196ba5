"""YAML is read strictly: nothing is guessed, and whatever is refused is refused in words."""

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from settings_files import WHOLE, changed, only_problem, problems

from reefguard.settings.problems import Place
from reefguard.settings.yaml_nodes import DEEPEST, LONGEST_FILE, Listing, Refused, Scalar, Table, compose
from reefguard.settings.yaml_words import explain

# What PyYAML 6.0 makes of each (run here, beside what we make of it).
TRAPS = [
    ("on: 12:30", {True: 750}, {"on": "12:30"}),
    ("off: 22:30:15", {False: 81015}, {"off": "22:30:15"}),
    ("at: 08:30", {"at": "08:30"}, {"at": "08:30"}),
    ("a: no", {"a": False}, {"a": "no"}),
    ("a: yes", {"a": True}, {"a": "yes"}),
    ("pin: 017", {"pin": 15}, {"pin": "017"}),
    ("a: 1_000", {"a": 1000}, {"a": "1_000"}),
    ("a: 1.10", {"a": 1.1}, {"a": "1.10"}),
    ("a: 1.0e+3", {"a": 1000.0}, {"a": "1.0e+3"}),
    ("a: .inf", {"a": float("inf")}, {"a": ".inf"}),
    ("a: ~", {"a": None}, {"a": "~"}),
    ("1: x", {1: "x"}, {"1": "x"}),
]


def plain(text: str) -> dict[str, str]:
    table, told = compose(text)
    assert table is not None
    assert not told
    return {entry.key: entry.value.text for entry in table.entries if isinstance(entry.value, Scalar)}


@pytest.mark.parametrize(("text", "guessed", "kept"), TRAPS)
def test_nothing_is_guessed(text: str, guessed: object, kept: dict[str, str]) -> None:
    assert yaml.safe_load(text) == guessed  # the trap is real
    assert plain(text) == kept


def test_a_date_and_nan_stay_what_was_written() -> None:
    assert plain("a: 2026-11-25\nb: .nan") == {"a": "2026-11-25", "b": ".nan"}


@pytest.mark.parametrize(
    ("old", "new", "key", "why"),
    [
        ("on: 10:00", "on: 750", "lights.on", "not a time of day"),
        ("off: 20:00", "off: 22:30:15", "lights.off", "not a time of day"),
        (
            "out_of_service: false\n  cutoff:",
            "out_of_service: no\n  cutoff:",
            "chiller.out_of_service",
            "neither",
        ),
        ("{pin: GPIO17,", "{pin: 017,", "fans.units.fan1.pin", "a bare number"),
        ("low: 24.0 °C", "low: 2_4 °C", "safe_band.low", "not a temperature"),
        ("low: 24.0 °C", "low: 2.4e1 °C", "safe_band.low", "not a temperature"),
        ("low: 24.0 °C", "low: 2.4e+1 °C", "safe_band.low", "not a temperature"),
        ("low: 24.0 °C", "low: .nan", "safe_band.low", "not a temperature"),
        ("low: 24.0 °C", "low: .inf °C", "safe_band.low", "not a temperature"),
        ("frequency: 100 Hz", "frequency: 0x64 Hz", "fans.units.fan2.speed.frequency", "not a frequency"),
        ("minimum_off: 5 min", "minimum_off: 5:00", "chiller.minimum_off", "not a length of time"),
        ("minimum_off: 5 min", "minimum_off: 1e2 s", "chiller.minimum_off", "not a length of time"),
        ("minimum_off: 5 min", "minimum_off: 05 min", "chiller.minimum_off", "not a length of time"),
    ],
)
def test_no_trap_of_yaml_reaches_a_value(old: str, new: str, key: str, why: str) -> None:
    problem = only_problem(changed(old, new))
    assert problem.key == key
    assert why in problem.why


def test_nodes_know_where_they_stand() -> None:
    table, _ = compose("a: 1\nb:\n  - x\n  - 'y'\n")
    assert isinstance(table, Table)
    first, second = table.entries
    assert (first.key, first.place, first.value) == (
        "a",
        Place(1, 1),
        Scalar("1", plain=True, place=Place(1, 4)),
    )
    x, y = Scalar("x", plain=True, place=Place(3, 5)), Scalar("y", plain=False, place=Place(4, 5))
    assert second.value == Listing((x, y), Place(3, 3))


@pytest.mark.parametrize(
    ("text", "place", "key", "why"),
    [
        ("a: 1\nb: 2\na: 3\n", Place(3, 1), "a", "it stands on line 1 already"),
        ("s:\n  a: 1\n  a: 2\n", Place(3, 3), "s.a", "it stands on line 2 already"),
        ("a: !!int 3\n", Place(1, 4), "a", "a tag"),
        ("a: !x {b: 3}\n", Place(1, 4), "a", "a tag"),
        ("a: &n 3\n", Place(1, 4), "a", "an anchor"),
        ("a: [*n]\n", Place(1, 5), "a", "an alias"),
        ("a: 1\n<<: 2\n", Place(2, 1), "", "a merge key"),
        ("a: 1\n? [x]\n: 2\n", Place(2, 3), "", "a key must be one plain word"),
        ("s: {[x]: 2}\n", Place(1, 5), "s", "a key must be one plain word"),
        ("a: 1\n---\nb: 2\n", Place(2, 1), "", "a second document"),
        ("%YAML 1.1\n---\na: 1\n", Place(1, 1), "", "a YAML directive"),
        ("%TAG ! x\n---\na: 1\n", Place(1, 1), "", "a YAML directive"),
    ],
)
def test_what_repeats_or_hides_is_refused(text: str, place: Place, key: str, why: str) -> None:
    table, (problem,) = compose(text)
    assert table is not None
    assert (problem.place, problem.key) == (place, key)
    assert why in problem.why
    assert problem.mend


def test_an_alias_leaves_a_node_that_says_no_more() -> None:
    table, _ = compose("a: *n\n")
    assert table is not None
    assert table.entries[0].value == Refused(Place(1, 4))


def test_a_quoted_merge_sign_is_a_key_like_any_other() -> None:
    assert plain("'<<': x") == {"<<": "x"}


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing\n", "---\n", "---\n...\n", "\ufeff"])
def test_an_empty_file_is_called_empty(text: str) -> None:
    assert only_problem(text).why == "the file is empty"


@pytest.mark.parametrize(
    ("text", "read"), [("North reef\n", "North reef"), ("- a\n- b\n", "a list"), ("[]", "a list")]
)
def test_a_file_without_keys_is_told_so(text: str, read: str) -> None:
    problem = only_problem(text)
    assert problem.read == read
    assert problem.why == "a settings file is made of keys with values"


def test_an_alias_for_a_file_is_one_problem() -> None:
    assert "an alias" in only_problem("*all\n").why


# Text, line, part of the explanation: what a keeper is likely to get wrong.
SLIPS = [
    ("tank: a\n\tlow: 1", 2, "a tab"),
    ("tank:\ta", 1, "a tab"),
    ("tank: @home", 1, "may not begin with this character"),
    ("tank: a: b", 1, "a colon stands where none may"),
    ("tank: a\n  low: 24 °C", 2, "a colon stands where none may"),
    ("tank:a\nlow: b", 2, "a colon stands where none may"),
    ("tank: a\nlow", 2, "a line without a colon"),
    ('tank: "North reef\n', 1, "a quote is opened"),
    ("tank: [a, b\nlow: 1", 1, "a bracket is opened"),
    ("tank: {a: 1", 1, "a bracket is opened"),
    ("a:\n    b: 1\n  c: 2", 3, "the indentation fits neither"),
    ("- a\nb: c", 2, "the indentation fits neither"),
    ('tank: "\\q"', 1, "a backslash"),
    ("a: 1\n...\nfoo", 3, "something stands after the end"),
    ("x: }", 1, "not YAML: expected the node content"),
    ("a: *\n", 1, "not YAML"),
    ("a: !%ff 1", 1, "not YAML"),
]


@pytest.mark.parametrize(("text", "line", "why"), SLIPS)
def test_a_slip_of_syntax_is_one_problem_in_plain_words(text: str, line: int, why: str) -> None:
    problem = only_problem(text)
    assert problem.place.line == line
    assert why in problem.why
    assert problem.read


def test_a_slip_is_shown_as_the_line_that_was_read() -> None:
    assert only_problem("a: 1\ntank: a: b").read == "tank: a: b"


def test_a_slip_at_the_very_end_says_so() -> None:
    problem = only_problem("tank: {\n")
    assert "a bracket is opened and never closed" in problem.why
    assert problem.read == "the end of the file"


def test_a_complaint_without_a_mark_still_has_a_place() -> None:
    problem = explain(yaml.MarkedYAMLError(), "a: b")
    assert problem.place == Place(1, 1)


@pytest.mark.parametrize(
    "text",
    ['"\\UFFFFFFFF": 1', '"\\U00110000": 1', "%YAML 1." + "9" * 5000 + "\n---\na: 1"],
    ids=["beyond C's integers", "beyond Unicode", "a version beyond Python's integers"],
)
def test_what_pyyaml_lets_out_is_a_problem_all_the_same(text: str) -> None:
    assert "cannot be read as YAML" in only_problem(text).why


@pytest.mark.parametrize(
    ("text", "place", "name"),
    [
        ("tank: a\nlow: \x00", Place(2, 6), "U+0000"),
        ("\x1b[31m", Place(1, 1), "U+001B"),
        ("tank: a\r\nlow:\x85x", Place(2, 5), "U+0085"),
        ("a: \u2028", Place(1, 4), "U+2028"),
        ("a: \ud800", Place(1, 4), "U+D800"),
    ],
)
def test_what_is_no_text_is_refused_with_its_place(text: str, place: Place, name: str) -> None:
    problem = only_problem(text)
    assert problem.place == place
    assert name in problem.why
    assert problem.read.isprintable()


def test_an_escaped_control_character_does_not_get_into_a_name() -> None:
    assert only_problem(changed("North reef", '"a\\0b"')).key == "tank"


def test_a_file_far_too_long_is_not_even_read() -> None:
    longest = WHOLE + "#" * (LONGEST_FILE - len(WHOLE))
    assert compose(longest)[1] == ()
    assert "a settings file has a few thousand" in only_problem(longest + "#").why


@pytest.mark.parametrize("deep", ["[", "{a: ", "- ", "? "])
def test_bottomless_nesting_is_a_problem_and_no_crash(deep: str) -> None:
    assert "levels deep" in only_problem(deep * 5000).why


def test_the_deepest_level_is_the_deepest() -> None:
    closed = "a: " + "[" * (DEEPEST - 1) + "x" + "]" * (DEEPEST - 1)
    assert compose(closed)[1] == ()
    (problem,) = compose(closed.replace("x", "[x]"))[1]
    assert "levels deep" in problem.why


def test_all_structural_problems_come_at_once() -> None:
    text = changed("tank: North reef", "tank: &t North reef\ntank: !!str x") + "extra: *t\n"
    assert [problem.place.line for problem in problems(text)] == [
        1,
        2,
        2,
        WHOLE.count("\n") + 2,
        WHOLE.count("\n") + 2,
    ]


@settings(deadline=None)
@given(st.text(alphabet=st.sampled_from(list("ab:-?!&*|>{}[],#'\"%@`~<=\\ \n\t\r0")), max_size=60))
def test_no_yaml_at_all_makes_the_composer_raise(text: str) -> None:
    table, told = compose(text)
    assert table is not None or told
    assert all(problem.place.line >= 1 and problem.place.column >= 1 for problem in told)
