"""Who of the fans runs, how fast, and when none may."""

from collections.abc import Sequence
from dataclasses import replace

import pytest

from reefguard.control.counters import Counter
from reefguard.control.fans import FansMemory, at_rest, decide
from reefguard.control.photoperiod import LightsState, Told
from reefguard.settings.model import CutPoints, Fan, FanSpeed, FanStage, Lights, Staging, Wiring
from reefguard.vocabulary import Command, Mode, Reason, WaterEstimate, Why

NOW_S = 100_000.0
HOURS = Lights(on_s=36_000, off_s=72_000, after_run_s=3_600.0)
LIT = LightsState(True, Told.HOURS)
UNKNOWN = LightsState(None, Told.NOBODY)
CUT = CutPoints(cut_in_c=26.5, cut_out_c=26.25)
UNTIRED = [0.0, 0.0, 0.0]


def stage(count: int = 2, **changes: object) -> FanStage:
    fans = tuple(Fan(f"fan{place + 1}", Wiring(17 + place)) for place in range(count))
    return replace(FanStage(CUT, fans, lag_step_c=0.5, rotate_after_s=3_600.0), **changes)  # type: ignore[arg-type]  # a test names what it changes


def without(of: FanStage, *out_of_service: int) -> FanStage:
    fans = tuple(replace(fan, out_of_service=place in out_of_service) for place, fan in enumerate(of.fans))
    return replace(of, fans=fans)


LAG = stage(3, staging=Staging.LEAD_LAG)


def decided(
    memory: FansMemory,
    warmest_c: float | None,
    of: FanStage,
    *,
    mode: Mode = Mode.AUTOMATIC,
    lights: LightsState = LIT,
    hours: Lights = HOURS,
    cools_above_c: float | None = None,
    active_s: Sequence[float] = UNTIRED,
) -> tuple[FansMemory, tuple[Command, ...]]:
    water = None if warmest_c is None else WaterEstimate(warmest_c, "display", warmest_c - 5.0, "sump", NOW_S)
    return decide(
        memory,
        estimate=water,
        mode=mode,
        lights=lights,
        hours=hours,
        cools_above_c=cools_above_c,
        counters=[Counter(False, 0.0, before_s) for before_s in active_s],
        now_s=NOW_S,
        stage=of,
    )


def levels(commands: Sequence[Command]) -> list[float]:
    return [command.level for command in commands]


def test_a_stage_that_has_not_run_has_all_off() -> None:
    assert at_rest(3) == FansMemory((0, 1, 2), (False,) * 3, False, (0.0,) * 3)


# Together.


def test_all_start_at_the_exact_cut_in_of_the_warmest_and_none_a_hair_below() -> None:
    memory, commands = decided(at_rest(2), 26.4999, stage())
    assert commands[0] == Command("fan1", 0.0, Why(Reason.NOT_WARM, 26.4999, 26.5, detail="display"))
    memory, commands = decided(at_rest(2), 26.5, stage())
    assert commands == (
        Command("fan1", 1.0, Why(Reason.WARM, 26.5, 26.5, detail="display")),
        Command("fan2", 1.0, Why(Reason.WARM, 26.5, 26.5, detail="display")),
    )
    assert memory == FansMemory((0, 1), (True, True), False, (1.0, 1.0))


def test_all_stop_at_the_exact_cut_out_and_none_a_hair_above() -> None:
    running = FansMemory((0, 1), (True, True), False, (1.0, 1.0))
    _, commands = decided(running, 26.2501, stage())
    assert commands[1] == Command("fan2", 1.0, Why(Reason.STILL_COOLING, 26.2501, 26.25, detail="display"))
    memory, commands = decided(running, 26.25, stage())
    assert commands[1] == Command("fan2", 0.0, Why(Reason.COOL_ENOUGH, 26.25, 26.25, detail="display"))
    assert memory.levels == (0.0, 0.0)


def test_one_taken_out_of_service_is_held_off_and_the_other_runs() -> None:
    memory, commands = decided(at_rest(2), 27.0, without(stage(), 0))
    assert commands[0].blocked == Why(Reason.OUT_OF_SERVICE)
    assert levels(commands) == [0.0, 1.0]
    assert memory.levels == (0.0, 1.0)


def test_one_taken_out_of_service_that_nobody_wants_is_not_blocked() -> None:
    assert decided(at_rest(2), 25.0, without(stage(), 0))[1][0].blocked is None


# Lead and lag.


@pytest.mark.parametrize(
    ("warmest_c", "on"),
    [
        (26.4999, [False, False, False]),
        (26.5, [True, False, False]),
        (26.9999, [True, False, False]),
        (27.0, [True, True, False]),
        (27.5, [True, True, True]),
    ],
)
def test_each_further_fan_waits_for_one_more_step(warmest_c: float, on: list[bool]) -> None:
    memory, commands = decided(at_rest(3), warmest_c, LAG)
    assert [command.on for command in commands] == on
    assert list(memory.calling) == on


@pytest.mark.parametrize(
    ("warmest_c", "on"),
    [
        (27.2501, [True, True, True]),
        (27.25, [True, True, False]),
        (26.75, [True, False, False]),
        (26.2501, [True, False, False]),
        (26.25, [False, False, False]),
    ],
)
def test_each_stops_at_a_cut_out_of_its_own(warmest_c: float, on: list[bool]) -> None:
    running = FansMemory((0, 1, 2), (True, True, True), False, (1.0, 1.0, 1.0))
    _, commands = decided(running, warmest_c, LAG)
    assert [command.on for command in commands] == on


def test_the_reason_names_the_fans_own_cut_point() -> None:
    _, commands = decided(at_rest(3), 26.7, LAG)
    assert commands[1].why == Why(Reason.COOL_ENOUGH, 26.7, 26.75, detail="display")
    assert commands[2].why == Why(Reason.COOL_ENOUGH, 26.7, 27.25, detail="display")


def test_at_a_start_the_one_that_has_run_least_leads() -> None:
    memory, commands = decided(at_rest(3), 26.6, LAG, active_s=[500.0, 300.0, 400.0])
    assert memory.order == (1, 2, 0)
    assert [command.on for command in commands] == [False, True, False]


def test_equal_hours_keep_the_order_of_the_settings() -> None:
    assert decided(at_rest(3), 26.6, LAG)[0].order == (0, 1, 2)


def test_the_lead_gives_way_only_beyond_the_exact_difference_of_hours() -> None:
    leading = FansMemory((0, 1, 2), (True, False, False), False, (1.0, 0.0, 0.0))
    memory, commands = decided(leading, 26.6, LAG, active_s=[3_700.0, 100.0, 200.0])
    assert levels(commands) == [1.0, 0.0, 0.0]
    memory, commands = decided(leading, 26.6, LAG, active_s=[3_700.1, 100.0, 200.0])
    assert levels(commands) == [0.0, 1.0, 0.0]
    assert memory.order == (1, 2, 0)
    assert memory.calling == (True, False, False)


def test_no_place_changes_while_the_least_used_runs_anyway() -> None:
    both = FansMemory((0, 1, 2), (True, True, False), False, (1.0, 1.0, 0.0))
    memory, _ = decided(both, 27.1, LAG, active_s=[90_000.0, 10.0, 20_000.0])
    assert memory.order == (0, 1, 2)


def test_fans_in_service_come_before_those_taken_out() -> None:
    memory, commands = decided(at_rest(3), 26.6, without(LAG, 0), active_s=[0.0, 10.0, 20.0])
    assert memory.order == (1, 2, 0)
    assert levels(commands) == [0.0, 1.0, 0.0]


@pytest.mark.parametrize("taken_out", [0, 1])
def test_a_running_fan_taken_out_hands_its_place_on_at_once(taken_out: int) -> None:
    both = FansMemory((0, 1, 2), (True, True, False), False, (1.0, 1.0, 0.0))
    memory, commands = decided(both, 27.1, without(LAG, taken_out), active_s=[10.0, 20.0, 30.0])
    assert memory.order == (*(place for place in (0, 1, 2) if place != taken_out), taken_out)
    assert levels(commands) == [0.0 if place == taken_out else 1.0 for place in range(3)]
    assert commands[taken_out].blocked is None


def test_one_taken_out_that_is_wanted_all_the_same_says_what_holds_it() -> None:
    _, commands = decided(at_rest(3), 27.6, without(LAG, 1))
    assert levels(commands) == [1.0, 0.0, 1.0]
    assert commands[1].blocked == Why(Reason.OUT_OF_SERVICE)


# Speed.


def turning(slowest: float = 0.4, full_c: float = 27.5) -> FanStage:
    fan = Fan("fan1", Wiring(18), speed=FanSpeed(100.0, slowest, full_c))
    return FanStage(CUT, (fan, Fan("fan2", Wiring(27))))


@pytest.mark.parametrize(
    ("warmest_c", "level"),
    [
        (26.5, 0.4),  # cuts in at its slowest
        (26.75, 0.55),
        (27.0, 0.7),
        (27.5, 1.0),
        (35.0, 1.0),
        (26.3, 0.4),  # down to the cut-out at its slowest
    ],
)
def test_speed_is_proportional_between_cut_in_and_full(warmest_c: float, level: float) -> None:
    running = FansMemory((0, 1), (True, True), False, (1.0, 1.0))
    assert levels(decided(running, warmest_c, turning())[1]) == [pytest.approx(level), 1.0]


def test_speed_is_off_with_the_stage() -> None:
    assert levels(decided(at_rest(2), 26.4, turning())[1]) == [0.0, 0.0]


def test_a_wanted_fan_never_stands_still_however_slow_it_may_turn() -> None:
    assert levels(decided(at_rest(2), 26.5, turning(slowest=0.0))[1]) == [0.05, 1.0]


def test_speed_moves_in_steps() -> None:
    running = FansMemory((0, 1), (True, True), False, (1.0, 1.0))
    found = {decided(running, 26.5 + count / 1_000.0, turning())[1][0].level for count in range(1_001)}
    assert found == {step / 20 for step in range(8, 21)}


@pytest.mark.parametrize("full_c", [26.5, 26.0])
def test_full_speed_at_or_below_the_cut_in_is_full_speed(full_c: float) -> None:
    assert decided(at_rest(2), 26.5, turning(full_c=full_c))[1][0].level == 1.0


def test_a_lagging_fan_with_speed_begins_at_its_own_cut_in() -> None:
    lagging = replace(turning(), staging=Staging.LEAD_LAG, lag_step_c=0.5, fans=turning().fans[::-1])
    _, commands = decided(at_rest(2), 27.0, lagging)
    assert levels(commands) == [1.0, pytest.approx(0.4)]
    _, commands = decided(at_rest(2), 27.25, lagging)
    assert levels(commands) == [1.0, pytest.approx(0.7)]


# A fan that would heat.


def test_fans_rest_below_what_the_air_can_cool_to_and_its_margin() -> None:
    memory, commands = decided(at_rest(2), 26.9999, stage(), cools_above_c=26.0)
    assert commands[0] == Command(
        "fan1",
        0.0,
        Why(Reason.WARM, 26.9999, 26.5, detail="display"),
        Why(Reason.WOULD_HEAT, 26.9999, 26.0, detail="display"),
    )
    assert memory.heat_hold
    assert memory.levels == (0.0, 0.0)
    assert levels(decided(at_rest(2), 27.0, stage(), cools_above_c=26.0)[1]) == [1.0, 1.0]


def test_they_are_let_go_a_differential_further_up() -> None:
    held = FansMemory((0, 1), (True, True), True, (0.0, 0.0))
    memory, commands = decided(held, 27.1875, stage(), cools_above_c=26.0)
    assert levels(commands) == [0.0, 0.0]
    memory, commands = decided(held, 27.2, stage(), cools_above_c=26.0)
    assert levels(commands) == [1.0, 1.0]
    assert not memory.heat_hold


def test_unknown_air_holds_nothing() -> None:
    held = FansMemory((0, 1), (True, True), True, (0.0, 0.0))
    memory, commands = decided(held, 26.6, stage(), cools_above_c=None)
    assert levels(commands) == [1.0, 1.0]
    assert not memory.heat_hold


def test_a_fan_nobody_wants_is_not_held() -> None:
    memory, commands = decided(at_rest(2), 25.0, stage(), cools_above_c=26.0)
    assert [command.blocked for command in commands] == [None, None]
    assert memory.heat_hold


# Without the water.


def test_between_the_last_reading_and_the_schedule_all_stay_as_they_were() -> None:
    running = FansMemory((0, 1), (True, True), False, (0.55, 0.0))
    memory, commands = decided(running, None, stage(), cools_above_c=40.0)
    assert commands == (
        Command("fan1", 0.55, Why(Reason.AWAITING_READING)),
        Command("fan2", 0.0, Why(Reason.AWAITING_READING)),
    )
    assert memory == running


def test_one_taken_out_meanwhile_stops() -> None:
    running = FansMemory((0, 1), (True, True), False, (1.0, 1.0))
    _, commands = decided(running, None, without(stage(), 1))
    assert levels(commands) == [1.0, 0.0]


def dark(for_s: float) -> LightsState:
    return LightsState(False, Told.HOURS, NOW_S - for_s)


@pytest.mark.parametrize(
    ("lights", "level", "why"),
    [
        (LIT, 1.0, Why(Reason.LIGHTS_ON, detail=Told.HOURS.value)),
        (dark(3_599.0), 1.0, Why(Reason.AFTER_RUN, until_s=NOW_S + 1.0)),
        (dark(3_600.0), 0.0, Why(Reason.LIGHTS_OFF, detail=Told.HOURS.value)),
        (dark(86_400.0), 0.0, Why(Reason.LIGHTS_OFF, detail=Told.HOURS.value)),
        (LightsState(False, Told.SENSED), 0.0, Why(Reason.LIGHTS_OFF, detail=Told.SENSED.value)),
        (UNKNOWN, 1.0, Why(Reason.TIME_UNKNOWN_RUN)),
    ],
)
@pytest.mark.parametrize("of", [stage(), LAG, turning()])
def test_in_schedule_all_follow_the_lights_at_full_speed(
    of: FanStage, lights: LightsState, level: float, why: Why
) -> None:
    memory, commands = decided(at_rest(len(of.fans)), None, of, mode=Mode.SCHEDULE, lights=lights)
    assert commands == tuple(Command(fan.name, level, why) for fan in of.fans)
    assert memory.calling == (level > 0.0,) * len(of.fans)


def test_a_setting_may_have_them_rest_when_the_time_is_unknown() -> None:
    resting = replace(HOURS, fans_run_when_time_unknown=False)
    _, commands = decided(at_rest(2), None, stage(), mode=Mode.SCHEDULE, lights=UNKNOWN, hours=resting)
    assert commands[0] == Command("fan1", 0.0, Why(Reason.TIME_UNKNOWN_REST))


def test_one_taken_out_of_service_does_not_follow_the_lights() -> None:
    _, commands = decided(at_rest(2), None, without(stage(), 0), mode=Mode.SCHEDULE)
    assert levels(commands) == [0.0, 1.0]
    assert commands[0].blocked == Why(Reason.OUT_OF_SERVICE)


def test_in_schedule_the_air_holds_nothing_and_the_old_hold_is_forgotten() -> None:
    held = FansMemory((1, 0), (True, True), True, (0.0, 0.0))
    memory, commands = decided(held, None, stage(), mode=Mode.SCHEDULE, cools_above_c=40.0)
    assert levels(commands) == [1.0, 1.0]
    assert memory == FansMemory((1, 0), (True, True), False, (1.0, 1.0))


@pytest.mark.parametrize("of", [stage(), LAG])
def test_what_runs_by_the_lights_runs_on_between_the_cut_points_of_known_water(of: FanStage) -> None:
    memory, _ = decided(at_rest(len(of.fans)), None, of, mode=Mode.SCHEDULE)
    _, commands = decided(memory, 26.4, of)
    assert commands[0].why.reason is Reason.STILL_COOLING
    assert commands[0].on
