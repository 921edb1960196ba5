"""A file becomes settings, or every mistake in it is told with its place."""

from dataclasses import MISSING, fields

import pytest
from settings_files import (
    SHORTEST,
    WHOLE,
    Tree,
    accepted,
    changed,
    only_problem,
    problems,
    tree_of,
    with_keys,
    written,
)
from settings_values import BAD, GOOD

from reefguard.settings.build import _cut, settings_from
from reefguard.settings.declaration import Field
from reefguard.settings.fields import every_key
from reefguard.settings.model import (
    Chiller,
    Contact,
    CutPoints,
    Electrical,
    Fan,
    FanSpeed,
    FanStage,
    Lights,
    RatedFor,
    RoomAirSource,
    SafeBand,
    SensedInput,
    Settings,
    Staging,
    Trust,
    WaterProbe,
    Wiring,
)
from reefguard.settings.outcome import Rejected
from reefguard.settings.problems import Place
from reefguard.settings.reading import read, read_bytes, top_level_keys
from reefguard.settings.sheet import Sheet


def test_the_whole_file_says_exactly_this() -> None:
    assert accepted(WHOLE).settings == Settings(
        tank="North reef",
        safe_band=SafeBand(24.0, 27.8),
        water_probes=(WaterProbe("display", "28-000000000101"), WaterProbe("sump", "28-000000000102", 0.1)),
        lights=Lights(
            on_s=36_000,
            off_s=72_000,
            after_run_s=3600.0,
            utc_offset_s=None,
            sense=SensedInput(16),
            fans_run_when_time_unknown=True,
        ),
        fans=FanStage(
            cut=CutPoints(26.6, 26.2),
            fans=(
                Fan("fan1", Wiring(17)),
                Fan("fan2", Wiring(27), speed=FanSpeed(100.0, 0.3, 27.0)),
            ),
        ),
        chiller=Chiller(
            wiring=Wiring(22),
            cut=CutPoints(27.2, 26.6),
            running_input=SensedInput(5),
            flow_input=SensedInput(6, active_high=False),
            electrical=Electrical(1.6, 9.0, 10.0, RatedFor.RESISTIVE),
        ),
        room_air=RoomAirSource(
            "28-000000000103", "/sys/bus/iio/devices/iio:device0/in_humidityrelative_input"
        ),
        heater_off_above_c=25.0,
    )


def test_what_is_left_out_has_the_models_defaults() -> None:
    """So the defaults written in the declaration are the model's own."""
    assert accepted(SHORTEST).settings == Settings(
        tank="Small reef",
        safe_band=SafeBand(24.0, 28.0),
        water_probes=(WaterProbe("tank", "28-00000000020a"),),
        lights=Lights(on_s=34_200, off_s=76_500),
        chiller=Chiller(wiring=Wiring(22), cut=CutPoints(26.6, 26.2)),
    )


def test_fans_and_currents_left_out_have_the_models_defaults() -> None:
    fans: Tree = {"cut_in": "26.6 °C", "cut_out": "26.2 °C", "units": {"a": {"pin": "GPIO17"}}}
    text = with_keys({"fans": fans, "chiller.electrical": {}}, SHORTEST)
    settings = accepted(text).settings
    assert settings.fans == FanStage(cut=CutPoints(26.6, 26.2), fans=(Fan("a", Wiring(17)),))
    assert settings.chiller is not None
    assert settings.chiller.electrical == Electrical()


def test_a_default_in_the_declaration_reads_as_a_value_of_its_key() -> None:
    defaults = [(key, part) for key, part in every_key() if isinstance(part, Field) and part.default]
    assert len(defaults) > 30
    assert not [key for key, part in defaults if part.required]


def _at(settings: object, path: str) -> object:
    for step in path.split("."):
        settings = settings[int(step)] if isinstance(settings, tuple) else getattr(settings, step)
    return settings


@pytest.mark.parametrize(("key", "value", "path", "becomes"), GOOD)
def test_each_key_reaches_its_place_and_no_other(key: str, value: str, path: str, becomes: object) -> None:
    settings = accepted(with_keys({key: value})).settings
    assert _at(settings, path) == becomes
    before = accepted(WHOLE).settings
    differing = [
        one.name for one in fields(Settings) if getattr(settings, one.name) != getattr(before, one.name)
    ]
    assert differing in ([path.split(".", maxsplit=1)[0]], [])


def test_the_lead_and_lag_keys_reach_their_place() -> None:
    keys = {"fans.staging": "lead and lag", "fans.lag_step": "0.2 °C", "fans.rotate_after": "6 h"}
    fans = accepted(with_keys(keys)).settings.fans
    assert fans is not None
    assert (fans.staging, fans.lag_step_c, fans.rotate_after_s) == (Staging.LEAD_LAG, 0.2, 21_600.0)


def test_setpoint_and_differential_are_the_two_cut_points() -> None:
    keys = {
        "fans.cut_in": None,
        "fans.cut_out": None,
        "fans.setpoint": "26.2 °C",
        "fans.differential": "0.72 °F",
    }
    fans = accepted(with_keys(keys)).settings.fans
    assert fans is not None
    assert fans.cut == CutPoints(cut_in_c=26.6, cut_out_c=26.2)


@pytest.mark.parametrize(("key", "value", "why"), BAD)
def test_what_must_not_stand_at_a_key_is_told_there(key: str, value: str, why: str) -> None:
    text = with_keys({key: value})
    problem = only_problem(text)
    assert problem.key == key
    assert why in problem.why
    assert problem.mend
    assert key.rpartition(".")[2] in text.splitlines()[problem.place.line - 1]


@pytest.mark.parametrize(
    ("key", "value", "why"),
    [
        ("fans.lag_step", "0 °C", "below 0.1 °C"),
        ("fans.lag_step", "3 °C", "above 2 °C"),
        ("fans.rotate_after", "30 min", "shorter than 1 h"),
        ("fans.rotate_after", "721 h", "longer than 720 h"),
    ],
)
def test_the_lead_and_lag_keys_have_bounds(key: str, value: str, why: str) -> None:
    assert why in only_problem(with_keys({"fans.staging": "lead and lag", key: value})).why


@pytest.mark.parametrize(
    ("key", "value", "why"),
    [
        ("chiller.setpoint", "26", "a bare number"),
        ("chiller.differential", "0.4", "a bare number"),
        ("chiller.differential", "-0.4 °C", "a heater's logic"),
        ("chiller.differential", "6 °C", "the water would swing too far"),
    ],
)
def test_setpoint_and_differential_have_bounds(key: str, value: str, why: str) -> None:
    problem = only_problem(with_keys({key: value}, SHORTEST))
    assert problem.key == key
    assert why in problem.why


def test_every_key_is_tried_with_a_good_and_a_bad_value() -> None:
    def general(key: str) -> str:
        steps = key.split(".")
        if steps[0] == "water_probes":
            steps[1] = "*"
        if steps[:2] == ["fans", "units"]:
            steps[2] = "*"
        return ".".join(steps)

    elsewhere = {"setpoint", "differential", "lag_step", "rotate_after"}
    declared = {
        key
        for key, part in every_key()
        if isinstance(part, Field) and part.key not in elsewhere and not key.startswith(("plan.", "link."))
    }
    assert {general(key) for key, *_ in GOOD} == declared
    assert {general(key) for key, *_ in BAD} == declared


@pytest.mark.parametrize(
    ("value", "mend"),
    [
        ("yes", "write `true`"),
        ("Off", "write `false`"),
        ("maybe", "write `true` or `false`"),
    ],
)
def test_true_and_false_are_offered(value: str, mend: str) -> None:
    assert only_problem(with_keys({"chiller.out_of_service": value})).mend == mend


@pytest.mark.parametrize(
    ("key", "value", "mend"),
    [
        ("fans.staging", "Together", "did you mean `together`?"),
        ("fans.staging", "by turns", "write `together` or `lead and lag`"),
        ("lights.on", "8:30", "write `08:30`"),
        ("lights.on", "noon", "write hours and minutes of 24: `08:30`, `20:00`"),
        ("lights.clock", "UTC+1", "write it like `UTC+01:00`, up to 14 hours, or `local time`"),
        ("chiller.start_to_start", "10", "write `10 s`, or `none`"),
        ("water_probes.sump.id", "28-0000000001FE", "write `28-0000000001fe`"),
        ("one_wire_pins", "GPIO4", "write `[GPIO17]`"),
    ],
)
def test_the_mend_is_what_to_write(key: str, value: str, mend: str) -> None:
    assert only_problem(with_keys({key: value})).mend == mend


def test_the_furthest_time_zone_is_allowed() -> None:
    assert accepted(with_keys({"lights.clock": "UTC+14:00"})).settings.lights.utc_offset_s == 50_400


REQUIRED = [
    "tank",
    "safe_band",
    "safe_band.low",
    "safe_band.high",
    "water_probes",
    "water_probes.sump.id",
    "room_air.id",
    "fans.units",
    "fans.units.fan1.pin",
    "fans.units.fan2.speed.frequency",
    "fans.units.fan2.speed.slowest",
    "fans.units.fan2.speed.full_at",
    "chiller.pin",
    "chiller.running_input.pin",
    "chiller.flow_input.pin",
    "lights",
    "lights.on",
    "lights.off",
    "lights.sense.pin",
]


@pytest.mark.parametrize("key", REQUIRED)
def test_what_must_be_given_is_missed(key: str) -> None:
    problem = only_problem(with_keys({key: None}))
    assert (problem.key, problem.read) == (key, "missing")
    assert problem.mend.startswith("write ")


@pytest.mark.parametrize(
    "key",
    [
        "room_air",
        "room_air.humidity_file",
        "trust",
        "fans",
        "chiller",
        "heater",
        "heater.off_above",
        "chiller.electrical",
        "chiller.electrical.switch_rating",
        "chiller.running_input",
        "chiller.flow_input",
        "lights.sense",
        "fans.units.fan2.speed",
    ],
)
def test_what_a_tank_need_not_have_may_be_left_out(key: str) -> None:
    accepted(with_keys({key: None}))


def test_a_section_that_is_missing_stands_where_its_parent_does() -> None:
    assert only_problem(changed("  on: 10:00\n", "")).place == Place(
        1 + WHOLE[: WHOLE.index("lights:")].count("\n"), 1
    )


@pytest.mark.parametrize(
    ("old", "new", "path", "read", "mend"),
    [
        ("lights:", "lihgts:", "", "lihgts", "did you mean `lights`?"),
        ("  minimum_off:", "  minimum_of:", "chiller", "minimum_of", "did you mean `minimum_off`?"),
        ("fan1: {pin", "fan1: {pinn", "fans.units.fan1", "pinn", "did you mean `pin`?"),
        ("  low: 24", "  Low: 24", "safe_band", "Low", "did you mean `low`?"),
    ],
)
def test_a_slip_in_a_key_is_one_problem_and_what_it_meant_is_guessed(
    old: str, new: str, path: str, read: str, mend: str
) -> None:
    problem = only_problem(changed(old, new))
    assert (problem.key, problem.read, problem.why, problem.mend) == (path, read, "no such key", mend)


def test_what_stands_under_a_mistaken_key_is_checked_all_the_same() -> None:
    told = problems(changed("lights:", "lihgts:").replace("on: 10:00", "on: 10"))
    assert [(problem.key, problem.read) for problem in told] == [("", "lihgts"), ("lights.on", "10")]


def test_a_key_in_the_wrong_section_is_sent_home() -> None:
    problem = only_problem(with_keys({"trust.minimum_off": "5 min"}))
    assert problem.mend == "it belongs elsewhere: `chiller.minimum_off`"


def test_a_key_that_is_nowhere_is_answered_with_those_that_are() -> None:
    problem = only_problem(with_keys({"heater.xyzzy": "1"}))
    assert problem.mend == "take it out; here may stand `off_above`"


@pytest.mark.parametrize("stage", ["fans", "chiller"])
@pytest.mark.parametrize(
    "key", ["on_below", "off_above", "heat_below", "cool_below", "start_under", "stop_over", "heater"]
)
def test_a_heaters_key_is_told_that_this_only_cools(stage: str, key: str) -> None:
    keys = {f"{stage}.cut_in": None, f"{stage}.cut_out": None, f"{stage}.{key}": "25 °C"}
    problem = only_problem(with_keys(keys))
    assert (problem.key, problem.read) == (stage, key)
    assert "a heater's logic" in problem.why


@pytest.mark.parametrize("value", ["30", "[a, b]", "&x 1"])
def test_a_section_without_keys_is_told_what_belongs_there(value: str) -> None:
    told = problems(with_keys({"chiller": value}))
    assert told[0].key == "chiller"
    assert len(told) == 1 + value.startswith("&")


@pytest.mark.parametrize(("value", "count"), [("28-000000000101", 1), ("[a]", 1), ("*x", 1), ("{}", 1)])
def test_probes_without_names_are_told_so(value: str, count: int) -> None:
    told = problems(with_keys({"water_probes": value}))
    assert [problem.key for problem in told] == ["water_probes"] * count


def test_a_probe_without_keys_is_told_so() -> None:
    problem = only_problem(with_keys({"water_probes.sump": "28-000000000102"}))
    assert problem.key == "water_probes.sump"
    assert problem.mend == "write its keys: `id: 28-000000000101`"


@pytest.mark.parametrize("key", ["tank", "one_wire_pins", "safe_band.low"])
def test_an_alias_for_a_value_is_one_problem(key: str) -> None:
    assert "an alias" in only_problem(with_keys({key: "*x"})).why


def test_an_alias_in_a_list_is_one_problem() -> None:
    assert "an alias" in only_problem(with_keys({"one_wire_pins": "[*x]"})).why


@pytest.mark.parametrize("name", ["1fan", "fan one", "fan.1", "x" * 25, "-fan", "lüfter"])
def test_a_name_is_one_short_word(name: str) -> None:
    told = problems(changed("    fan1:", f"    {name}:"))
    assert "a name is one word" in told[0].why


@pytest.mark.parametrize("name", ["f", "fan-left", "Fan_2", "x" * 24])
def test_short_words_are_names(name: str) -> None:
    fans = accepted(changed("    fan1:", f"    {name}:")).settings.fans
    assert fans is not None
    assert fans.fans[0].name == name


def test_no_fan_is_called_chiller() -> None:
    assert "`chiller` is the name of something else" in only_problem(changed("    fan1:", "    chiller:")).why


def test_two_fans_of_one_name_are_told_with_both_lines() -> None:
    problem = only_problem(changed("    fan2:", "    fan1:"))
    assert problem.key == "fans.units.fan1"
    assert f"line {problem.place.line - 1}" in problem.why


def test_all_problems_come_at_once_and_in_the_order_of_the_file() -> None:
    keys = {
        "sampling": "5",
        "safe_band.low": "24",
        "fans.units.fan1.pin": "17",
        "chiller.minimum_off": "1 s",
        "lights.on": "10",
        "heater.x": "1",
    }
    told = problems(with_keys(keys))
    assert len(told) == len(keys)
    assert sorted(problem.place for problem in told) == [problem.place for problem in told]


def test_the_lines_are_those_of_the_file() -> None:
    lines = accepted(WHOLE).lines
    numbered = dict(enumerate(WHOLE.splitlines(), start=1))
    assert numbered[lines["chiller.minimum_off"]] == "  minimum_off: 5 min"
    assert numbered[lines["fans.units.fan1.at_rest"]].startswith("    fan1:")
    assert numbered[lines["chiller"]] == "chiller:"
    assert accepted(SHORTEST).lines["chiller.minimum_off"] == accepted(SHORTEST).lines["chiller"]


def test_the_pins_are_known_by_their_key() -> None:
    pins = accepted(WHOLE).pins
    assert pins[4] == "one_wire_pins"
    assert pins[22] == "chiller.pin"
    assert len(pins) == 7


def test_bytes_are_read_as_utf8() -> None:
    assert read_bytes(WHOLE.encode()) == read(WHOLE)
    assert read_bytes(b"\xef\xbb\xbf" + WHOLE.encode()) == read(WHOLE)


def test_bytes_that_are_no_utf8_are_told_with_their_line() -> None:
    outcome = read_bytes(WHOLE.encode("latin-1"))
    assert isinstance(outcome, Rejected)
    (problem,) = outcome.problems
    assert problem.place.line == 2
    assert "0xb0" in problem.why


def test_windows_line_ends_change_nothing() -> None:
    assert read(WHOLE.replace("\n", "\r\n")) == read(WHOLE)


def test_one_kind_of_file_is_told_from_another_by_its_keys() -> None:
    assert top_level_keys("limit: 1\nrelay: {}\n") == {"limit", "relay"}
    assert top_level_keys("- a") == frozenset()


def test_a_sheet_with_something_missing_makes_no_settings() -> None:
    with pytest.raises(LookupError):
        settings_from(Sheet())
    with pytest.raises(LookupError, match="fans"):
        _cut(Sheet(), "fans")


@pytest.mark.parametrize("active_high", [True, False])
@pytest.mark.parametrize("load_on", [True, False])
def test_a_level_at_the_pin_has_the_load_on_or_off(active_high: bool, load_on: bool) -> None:
    """Energising closes a normally-open contact and opens a normally-closed one."""
    level_of_energised = active_high
    assert Wiring(2, active_high).electrical_level(load_on=load_on) is (load_on == level_of_energised)
    closed = Wiring(2, active_high, Contact.NORMALLY_CLOSED)
    assert closed.electrical_level(load_on=load_on) is (load_on != level_of_energised)


def test_the_models_defaults_are_all_declared() -> None:
    """Each default of the model is one a keeper can change, so each has its key."""
    for model in (Settings, Trust, Lights, Chiller):
        for one in fields(model):
            if one.default is not MISSING:
                changed_once = [path for _, _, path, _ in GOOD if one.name in path.split(".")]
                # What a plan and the link hold has tests of its own.
                assert changed_once or one.name in {"wiring", "electrical", "plan", "link"}, one.name


def test_the_writer_of_these_tests_changes_nothing() -> None:
    assert read(written(tree_of())).settings == accepted(WHOLE).settings  # type: ignore[union-attr]  # accepted, or red
