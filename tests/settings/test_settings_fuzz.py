"""Whatever the file: an answer, never an exception; and what is accepted is fit to run a tank."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from settings_files import LEAD_AND_LAG, SHORTEST, WHOLE, Tree, tree_of, written
from settings_values import BAD, GOOD

from reefguard.settings.declaration import Field
from reefguard.settings.fields import every_key
from reefguard.settings.findings import findings
from reefguard.settings.model import Contact, Settings, Staging
from reefguard.settings.outcome import Accepted, Rejected
from reefguard.settings.problems import report, report_findings
from reefguard.settings.reading import read, read_bytes

KEYS = sorted({part.key for _, part in every_key()} | {"fan1", "sump", "on_below", "chiler", "<<", "x.y", ""})
VALUES = sorted(
    {value for _, value, *_ in GOOD + BAD}
    | {part.kind.example for _, part in every_key() if isinstance(part, Field)}
    | {
        "&a 1",
        "*a",
        "!t 1",
        "[]",
        "{}",
        "26.65 °C",
        "79.7 °F",
        "24.2 °C",
        "27.9 °C",
        "GPIO12",
        "GPIO5",
        "4 min",
    }
)
# A slow machine is no failure.
patiently = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
leaves = st.sampled_from(VALUES)
trees = st.recursive(
    st.dictionaries(st.sampled_from(KEYS), leaves, max_size=4),
    lambda inner: st.dictionaries(st.sampled_from(KEYS), leaves | inner, max_size=6),
    max_leaves=20,
)


@st.composite
def mutants(draw: st.DrawFn) -> str:
    """Return a good file in which some keys were changed, moved, taken out or put in."""
    tree = tree_of(draw(st.sampled_from([WHOLE, SHORTEST, LEAD_AND_LAG])))
    for _ in range(draw(st.integers(1, 4))):
        section = tree
        while inner := sorted(key for key, value in section.items() if isinstance(value, dict)):
            step = draw(st.sampled_from([*inner, None]))
            if step is None:
                break
            below = section[step]
            assert isinstance(below, dict)
            section = below
        _mutate(draw, section)
    return written(tree)


def _mutate(draw: st.DrawFn, section: Tree) -> None:
    present = sorted(section)
    kind = draw(st.sampled_from(["set", "set", "set", "take out", "put in", "graft"]))
    if kind == "put in" or not present:
        section[draw(st.sampled_from(KEYS))] = draw(leaves)
    elif kind == "graft":
        section[draw(st.sampled_from(present))] = draw(trees)  # type: ignore[assignment]  # a tree of leaves is a Tree
    elif kind == "take out":
        del section[draw(st.sampled_from(present))]
    else:
        section[draw(st.sampled_from(present))] = draw(leaves)


def judged(outcome: Accepted | Rejected) -> None:
    """Hold an outcome to what every outcome must be."""
    match outcome:
        case Accepted():
            is_fit_to_run(outcome.settings)
            assert report_findings(findings(outcome), "file")
        case Rejected(problems):
            assert problems
            assert all(problem.place.line >= 1 and problem.place.column >= 1 for problem in problems)
            assert all(problem.why and problem.mend for problem in problems)
            assert all(line.isprintable() for line in report(problems, "file").split("\n"))


def is_fit_to_run(tank: Settings) -> None:
    low_c, high_c = tank.safe_band.low_c, tank.safe_band.high_c
    assert 15.0 <= low_c < high_c <= 35.0
    stages = [stage for stage in (tank.fans, tank.chiller) if stage is not None]
    assert stages
    for stage in stages:
        assert stage.cut.cut_in_c > stage.cut.cut_out_c > low_c
    pins = [*tank.one_wire_pins]
    inputs = [tank.lights.sense]
    if tank.fans is not None:
        pins += [fan.wiring.pin for fan in tank.fans.fans]
        assert tank.fans.fans
        assert len({fan.name for fan in tank.fans.fans} | {"chiller"}) == len(tank.fans.fans) + 1
        for fan in tank.fans.fans:
            assert fan.speed is None or fan.speed.full_c > tank.fans.cut.cut_in_c
    if tank.chiller is not None:
        pins.append(tank.chiller.wiring.pin)
        inputs += [tank.chiller.running_input, tank.chiller.flow_input]
        assert tank.chiller.wiring.contact is Contact.NORMALLY_OPEN
        assert 180.0 <= tank.chiller.minimum_off_s <= 3600.0
    pins += [sensed.pin for sensed in inputs if sensed is not None]
    assert len(pins) == len(set(pins))
    assert set(pins) <= set(range(28))
    ids = [probe.rom_id for probe in tank.water_probes]
    ids += [tank.room_air.rom_id] if tank.room_air is not None else []
    assert tank.water_probes
    assert len(ids) == len(set(ids))
    assert all(abs(probe.offset_c) <= 1.0 for probe in tank.water_probes)
    assert 1.0 <= tank.sampling_s <= 10.0
    assert 3 * tank.sampling_s <= tank.trust.stale_after_s <= tank.trust.schedule_after_s
    assert tank.lights.on_s != tank.lights.off_s


@patiently
@given(st.text(max_size=300))
def test_any_text_is_answered(text: str) -> None:
    judged(read(text))


@patiently
@given(st.binary(max_size=300))
def test_any_bytes_are_answered(content: bytes) -> None:
    judged(read_bytes(content))


@patiently
@given(trees)
def test_any_keys_are_answered(tree: Tree) -> None:
    judged(read(written(tree)))


@settings(patiently, max_examples=300)
@given(mutants())
def test_any_change_to_a_good_file_is_answered(text: str) -> None:
    judged(read(text))


@patiently
@given(st.data())
def test_any_slip_of_the_finger_in_a_good_file_is_answered(data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(WHOLE)))
    gone = data.draw(st.integers(0, 3))
    put = data.draw(st.text(st.characters(codec="utf-8"), max_size=3))
    judged(read(WHOLE[:at] + put + WHOLE[at + gone :]))


@patiently
@given(st.sets(st.sampled_from(range(len(GOOD))), max_size=12))
def test_good_values_together_are_fit_or_told(chosen: set[int]) -> None:
    tree = tree_of()
    for index in chosen:
        key, value, *_ = GOOD[index]
        *sections, last = key.split(".")
        at = tree
        for section in sections:
            inner = at[section]
            assert isinstance(inner, dict)
            at = inner
        at[last] = value
    outcome = read(written(tree))
    judged(outcome)
    if isinstance(outcome, Accepted) and outcome.settings.fans is not None:
        assert outcome.settings.fans.staging in Staging
