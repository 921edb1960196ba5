"""What breaks no rule and is probably a mistake: each weighed once, and silent at its edge."""

from collections.abc import Mapping

import pytest
from settings_files import LEAD_AND_LAG, SHORTEST, WHOLE, Tree, accepted, with_keys

from reefguard.settings.cutoff_findings import CutoffPlan, cutoff_findings
from reefguard.settings.findings import WEIGHED, findings
from reefguard.settings.problems import CheckFinding

Changes = Mapping[str, str | Tree | None]


def found(changes: Changes, text: str = WHOLE) -> list[CheckFinding]:
    return list(findings(accepted(with_keys(changes, text))))


def test_a_sound_plan_has_no_findings() -> None:
    assert findings(accepted(WHOLE)) == ()
    assert findings(accepted(LEAD_AND_LAG)) == ()


# Changes, the key, part of what is found, part of why.
TOLD: list[tuple[Changes, str, str, str]] = [
    ({"fans.cut_out": "26.41 °C"}, "fans.cut_in", "only 0.19 °C between start and stop", "19-7487"),
    ({"chiller.cut_in": "26.7 °C"}, "chiller.cut_in", "only 0.1 °C between start and stop", "0.0625 °C"),
    ({"trust.disagreement": "0.9 °C"}, "trust.disagreement", "0.9 °C apart", "19-7487"),
    ({"chiller.cut_out": "26.1 °C"}, "chiller.cut_out", "runs on down to 26.1 °C", "common practice"),
    (
        {"chiller.cut_in": "26.5 °C", "chiller.cut_out": "26.2 °C"},
        "chiller.cut_in",
        "the chiller starts at 26.5 °C, before the fans (26.6 °C)",
        "common practice",
    ),
    (
        {"chiller.cut_in": "27.8 °C"},
        "chiller.cut_in",
        "starts at 27.8 °C; the alarm is at 27.8 °C",
        "safe band",
    ),
    ({"water_probes.sump.offset": "0.51 °C"}, "water_probes.sump.offset", "0.51 °C", "19-7487"),
    ({"water_probes.sump.offset": "-0.51 °C"}, "water_probes.sump.offset", "-0.51 °C", "19-7487"),
    (
        {"heater.off_above": "26.2 °C"},
        "heater.off_above",
        "`fans` cools down to 26.2 °C",
        "against each other",
    ),
    ({"water_probes.sump": None}, "water_probes", "only one probe", "a second"),
    ({"clock": "always right"}, "clock", "taken to be right", "without a battery"),
    ({"trust.schedule_after": "901 s"}, "trust.schedule_after", "for 901 s", "common practice"),
    ({"chiller.cutoff": "elsewhere"}, "chiller.cutoff", "cannot see it", "tripped"),
    ({"chiller.minimum_off": "299 s"}, "chiller.minimum_off", "a rest of only 299 s", "Danfoss FRCC.PC.007"),
    ({"chiller.start_to_start": "none"}, "chiller.start_to_start", "no limit on starts", "12 an hour"),
    # Pulls: BCM2835 ARM Peripherals, table 6-31, GPIO0-8 up, GPIO9-27 down.
    (
        {"chiller.polarity": "active low"},
        "chiller.pin",
        "GPIO22 is pulled down from power-on until the guard has started, which may energise the relay",
        "table 6-31",
    ),
    (
        {"fans.units.fan1.pin": "GPIO6", "chiller.flow_input": None},
        "fans.units.fan1.pin",
        "GPIO6 is pulled up",
        "table 6-31",
    ),
    (
        {
            "fans.units.fan1.polarity": "active low",
            "fans.units.fan1.contact": "normally closed",
            "fans.units.fan1.at_rest": "running",
        },
        "fans.units.fan1.pin",
        "(its load rests)",
        "table 6-31",
    ),
    ({"chiller.pin": "GPIO10"}, "chiller.pin", "GPIO10 belongs to SPI", "Raspberry Pi documentation"),
    (
        {"chiller.pin": "GPIO14"},
        "chiller.pin",
        "GPIO14 belongs to the serial port",
        "Raspberry Pi documentation",
    ),
    ({"chiller.running_input.pin": "GPIO2"}, "chiller.running_input.pin", "a fixed 1.8 kΩ", "Raspberry Pi"),
    ({"chiller.flow_input.pin": "GPIO7"}, "chiller.flow_input.pin", "SPI", "Raspberry Pi documentation"),
    ({"lights.sense.pin": "GPIO0"}, "lights.sense.pin", "ID EEPROM", "Raspberry Pi documentation"),
    (
        {"fans.units.fan1.at_rest": "running"},
        "fans.units.fan1.at_rest",
        "meant to run when the guard is gone, on a normally open contact",
        "the relay drops and the fan stops",
    ),
    (
        {"fans.units.fan1.contact": "normally closed"},
        "fans.units.fan1.at_rest",
        "meant to stop when the guard is gone, on a normally closed contact",
        "the relay drops and the fan runs",
    ),
    (
        {"chiller.electrical.starting_current": "10.1 A"},
        "chiller.electrical.switch_rating",
        "10 A for resistive load; 10.1 A at a start (its starting current)",
        "Omron",
    ),
    (
        # UL 508 reckons a full load of 3.8 A as 6 x 3.8 = 22.8 A locked rotor
        # (Panasonic Industry, "UL 508 horsepower rating", 1/8 hp at 120 V).
        {"chiller.electrical.running_current": "3.8 A", "chiller.electrical.starting_current": None},
        "chiller.electrical.switch_rating",
        "10 A for resistive load; 22.8 A at a start (6 times its running current, as UL 508 reckons)",
        "6 times the running current",
    ),
    (
        # NEC 210.20(A): a 10 A device carries 10 / 1.25 = 8 A continuously.
        {"chiller.electrical.running_current": "8.01 A", "chiller.electrical.rated_for": "motor load"},
        "chiller.electrical.running_current",
        "8.01 A, more than 80 % of the switch's 10 A",
        "NEC 210.20(A)",
    ),
]


@pytest.mark.parametrize(("changes", "key", "what", "why"), TOLD)
def test_each_mistake_is_found_once(changes: Changes, key: str, what: str, why: str) -> None:
    (finding,) = found(changes)
    assert finding.key == key
    assert what in finding.what
    assert why in finding.why
    assert finding.mend
    assert finding.line >= 1


def test_every_weighing_has_found_something_above() -> None:
    plans = [accepted(with_keys(changes)) for changes, *_ in TOLD]
    for weigh in WEIGHED:
        assert any(list(weigh(plan)) for plan in plans), weigh.__name__


def test_the_line_is_that_of_the_key() -> None:
    text = with_keys({"chiller.minimum_off": "4 min"})
    (finding,) = findings(accepted(text))
    assert text.splitlines()[finding.line - 1] == "  minimum_off: 4 min"


def test_a_default_that_is_unwise_is_told_where_its_section_stands() -> None:
    (finding,) = found({"fans.units.fan1.at_rest": None, "fans.units.fan1.contact": "normally closed"})
    assert finding.key == "fans.units.fan1.at_rest"


@pytest.mark.parametrize(
    "changes",
    [
        {"fans.cut_out": "26.4 °C"},
        {"trust.disagreement": "1 °C"},
        {"chiller.cut_out": "26.2 °C"},
        {"chiller.cut_in": "26.8 °C", "fans.cut_in": "26.8 °C"},
        {"chiller.cut_in": "27.7 °C"},
        {"water_probes.sump.offset": "-0.5 °C"},
        {"heater.off_above": "26.1 °C"},
        {"heater": None},
        {"trust.schedule_after": "15 min"},
        {"room_air": None},
        {"lights.sense": None},
        {"chiller.polarity": "active low", "chiller.pin": "GPIO6", "chiller.flow_input": None},
        {"fans.units.fan1.contact": "normally closed", "fans.units.fan1.at_rest": "running"},
        {"chiller.electrical.starting_current": "10 A"},
        {"chiller.electrical.starting_current": "60 A", "chiller.electrical.rated_for": "motor load"},
        {"chiller.electrical.starting_current": "60 A", "chiller.electrical.switch_rating": None},
        {"chiller.electrical.running_current": "8 A", "chiller.electrical.rated_for": "motor load"},
        {"chiller.electrical.running_current": None},
        {"chiller.electrical.running_current": None, "chiller.electrical.starting_current": None},
        {"chiller.electrical": None},
        {"chiller.running_input": None},
        {"fans": None},
        {"chiller": None},
    ],
)
def test_what_is_just_wise_is_not_told(changes: Changes) -> None:
    assert found(changes) == []


def test_a_heater_against_a_lone_chiller_is_found() -> None:
    (finding,) = found({"fans": None, "heater.off_above": "26.7 °C"})
    assert "`chiller` cools down to 26.6 °C" in finding.what


def test_the_last_of_fans_that_follow_each_other_starts_before_the_alarm() -> None:
    assert found({"fans.lag_step": "1.1 °C"}, LEAD_AND_LAG) == []
    (finding,) = found({"fans.lag_step": "1.2 °C"}, LEAD_AND_LAG)
    assert finding.key == "fans.lag_step"
    assert finding.what == "the last fan starts at 27.8 °C; the alarm is at 27.8 °C"


@pytest.mark.parametrize("cut_in", ["27.8 °C", "28 °C"])
def test_fans_that_all_start_too_late_are_told_once(cut_in: str) -> None:
    changes = {
        "fans.cut_in": cut_in,
        "fans.units.fan2.speed": None,
        "chiller": None,
    }
    (finding,) = found(changes, LEAD_AND_LAG)
    assert finding.key == "fans.cut_in"


def test_a_setpoint_and_a_differential_are_named_as_written() -> None:
    told = found({"chiller.setpoint": "27.9 °C", "chiller.differential": "0.1 °C"}, SHORTEST)
    assert {finding.key for finding in told} == {"chiller.differential", "water_probes"}
    assert len([finding for finding in told if finding.key == "chiller.differential"]) == 2


def test_findings_come_in_the_order_of_the_file() -> None:
    lines = [finding.line for finding in found({"chiller.start_to_start": "none", "clock": "always right"})]
    assert lines == sorted(lines)
    assert len(lines) == 2


SOUND_CUTOFF = CutoffPlan(limit_c=25.0, recovered_c=25.5, relay_pin=23, probe="28-0000000001ff")


def cutoff_found(changes: Changes, cutoff: CutoffPlan = SOUND_CUTOFF) -> list[CheckFinding]:
    return list(cutoff_findings(accepted(with_keys(changes)), cutoff))


@pytest.mark.parametrize(
    "cutoff",
    [
        SOUND_CUTOFF,
        CutoffPlan(24.0, 24.5, 23, "28-0000000001ff"),
        CutoffPlan(26.0, 26.5, 23, "28-0000000001ff"),
    ],
)
def test_a_cutoff_below_the_working_band_and_in_the_safe_one_is_sound(cutoff: CutoffPlan) -> None:
    assert cutoff_found({}, cutoff) == []


def test_a_cutoff_inside_the_working_band_is_found() -> None:
    (finding,) = cutoff_found({}, CutoffPlan(26.1, 26.6, 23, "28-0000000001ff"))
    assert finding.key == "chiller.cut_out"
    assert finding.what == "the chiller stops at 26.6 °C; the cutoff trips at 26.1 °C and lets go at 26.6 °C"


def test_a_cutoff_below_the_safe_band_is_found() -> None:
    (finding,) = cutoff_found({}, CutoffPlan(23.9, 24.4, 23, "28-0000000001ff"))
    assert finding.key == "safe_band.low"


def test_a_probe_that_both_read_is_found() -> None:
    (finding,) = cutoff_found({}, CutoffPlan(25.0, 25.5, 23, "28-000000000102"))
    assert finding.key == "water_probes.sump.id"


@pytest.mark.parametrize(
    ("pin", "key"), [(22, "chiller.pin"), (16, "lights.sense.pin"), (4, "one_wire_pins")]
)
def test_a_pin_that_both_want_is_found(pin: int, key: str) -> None:
    cutoff = CutoffPlan(25.0, 25.5, pin, "28-0000000001ff")
    (finding,) = cutoff_found({}, cutoff)
    assert finding.key == key
    assert cutoff_found({"chiller.cutoff": "elsewhere"}, cutoff) == []


def test_without_a_chiller_there_is_nothing_to_cut_off() -> None:
    assert cutoff_found({"chiller": None}, CutoffPlan(20.0, 30.0, 17, "28-0000000001ff")) == []
