"""Whatever the plan file: an answer, never an exception; and what is written is what was said."""

import json

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from plan_values import BAD, GOOD
from settings_files import Tree, tree_of, written

from reefguard.settings.declaration import Field
from reefguard.settings.fields import every_key
from reefguard.settings.outcome import Rejected
from reefguard.settings.plan_fields import PLAN_FILE
from reefguard.settings.plan_model import DesignDayPlan, TankPlan
from reefguard.settings.plan_reading import EXAMPLE, AcceptedPlan, broken_so_far, read_plan
from reefguard.settings.plan_writing import plan_text
from reefguard.settings.problems import report
from reefguard.settings.reading import read

patiently = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
FIELDS = {key: part for key, part in every_key(PLAN_FILE) if isinstance(part, Field)}
KEYS = sorted({part.key for _, part in every_key(PLAN_FILE)} | {"tnak", "<<", "x.y", "", "heating"})
VALUES = sorted(
    {value for _, value, *_ in GOOD}
    | {value for _, value, _ in BAD}
    | {"&a 1", "*a", "[]", "{}", "sump", "26.5 °C"}
)
leaves = st.sampled_from(VALUES)
trees = st.recursive(
    st.dictionaries(st.sampled_from(KEYS), leaves, max_size=4),
    lambda inner: st.dictionaries(st.sampled_from(KEYS), leaves | inner, max_size=8),
    max_leaves=20,
)


def judged(outcome: AcceptedPlan | Rejected) -> None:
    """Hold an outcome to what every outcome must be."""
    match outcome:
        case AcceptedPlan(plan):
            makes_sense(plan)
        case Rejected(problems):
            assert problems
            assert all(problem.place.line >= 1 and problem.why and problem.mend for problem in problems)
            assert all(line.isprintable() for line in report(problems, "file").split("\n"))


def makes_sense(plan: TankPlan) -> None:
    vessels = [plan.display] + ([] if plan.sump is None else [plan.sump])
    held = sum(1000.0 * one.length_m * one.width_m * one.depth_m for one in vessels)
    assert 0.79 * plan.litres <= held <= 2.01 * plan.litres
    assert 15.0 <= plan.safe_band.low_c <= plan.hold_c <= plan.safe_band.high_c <= 35.0
    assert all(0.0 <= one.lid < 1.0 for one in vessels)
    assert 0.0 < plan.fans.air_m_s <= 3.0
    assert plan.lights_on_s != plan.lights_off_s
    if isinstance(plan.weather, DesignDayPlan):
        assert plan.weather.coolest_c <= plan.weather.hottest_c
        assert 0.0 <= plan.weather.relative_humidity <= 1.0


@patiently
@given(st.binary(max_size=300))
def test_any_bytes_are_answered(content: bytes) -> None:
    judged(read_plan(content))


@patiently
@given(st.text(max_size=300))
def test_any_text_is_answered(text: str) -> None:
    judged(read_plan(text.encode(errors="surrogatepass")))
    assert isinstance(broken_so_far(text), tuple)


@patiently
@given(trees)
def test_any_keys_are_answered(tree: Tree) -> None:
    text = written(tree)
    judged(read_plan(text.encode()))
    assert isinstance(broken_so_far(text), tuple)
    read(f"tank: x\nplan:\n{written(tree, '  ')}")


@st.composite
def mutants(draw: st.DrawFn) -> Tree:
    """Return the example with some values changed, taken out or put in."""
    tree = tree_of(EXAMPLE)
    for key in draw(st.sets(st.sampled_from(sorted(FIELDS)), min_size=1, max_size=5)):
        section, _, last = key.rpartition(".")
        inner = tree.setdefault(section, {}) if section else tree
        assert isinstance(inner, dict)
        if draw(st.booleans()):
            inner[last] = draw(leaves)
        else:
            inner.pop(last, None)
    return tree


@settings(patiently, max_examples=300)
@given(mutants())
def test_any_change_to_the_example_is_answered(tree: Tree) -> None:
    judged(read_plan(written(tree).encode()))


def _quantities(key: str) -> st.SearchStrategy[str]:
    """Return what may stand at a key: the tables' values, and for a text any text of one line."""
    at_key = [value.strip("'") for one, value, *_ in GOOD if one == key]
    strategy = st.sampled_from([*at_key, FIELDS[key].kind.example])
    if key != "tank":
        return strategy
    lines = st.text(st.characters(codec="utf-8"), min_size=1, max_size=60)
    return strategy | lines.filter(lambda text: text.isprintable() and text.strip() != "")


@st.composite
def answers(draw: st.DrawFn) -> dict[str, str]:
    """Return answers for a whole plan, each as a keeper may give it."""
    drawn = {key: draw(_quantities(key)) for key in FIELDS if key != "weather.file"}
    optional = [key for key in drawn if not FIELDS[key].required]
    for key in draw(st.sets(st.sampled_from(optional))):
        del drawn[key]
    return drawn


@settings(patiently, max_examples=300)
@given(answers())
def test_what_is_written_is_read_as_the_same_plan(given_answers: dict[str, str]) -> None:
    """Against the same answers with each in quotes, a key a line: quotes cannot change what is said."""
    tree: Tree = {}
    for key, text in given_answers.items():
        section, _, last = key.rpartition(".")
        inner = tree.setdefault(section, {}) if section else tree
        assert isinstance(inner, dict)
        inner[last] = json.dumps(text, ensure_ascii=False)
    quoted, short = read_plan(written(tree).encode()), read_plan(plan_text(given_answers).encode())
    if isinstance(quoted, AcceptedPlan):
        assert isinstance(short, AcceptedPlan), short
        assert short.plan == quoted.plan
        assert short.plan.tank == given_answers["tank"]
    else:
        assert isinstance(short, Rejected)
        assert {problem.key for problem in short.problems} == {problem.key for problem in quoted.problems}


def test_a_file_reads_like_this() -> None:
    said = {"tank": "Ann's reef #2", "water.volume": "90 gal", "water.salinity": "35", "pumps": "60 W"}
    assert plan_text(said) == (
        "# Made by `reefguard plan --ask`; every line can be changed.\n"
        'tank: "Ann\'s reef #2"\n'
        "water: {volume: 90 gal, salinity: 35}\n"
        "pumps: 60 W\n"
    )
