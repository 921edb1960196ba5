"""The tick as a whole: what goes where, and what of the room's air is believed."""

import math
from dataclasses import replace

import pytest
from builders import Life, bench_settings, both, inputs

from reefguard.control.compressor import Compressor
from reefguard.control.mode import ModeMemory
from reefguard.control.step import Memory, at_start, output_names, step
from reefguard.settings.model import FanStage
from reefguard.thermal.moist_air import salt_wet_bulb_c
from reefguard.vocabulary import Cause, Mode, Reason, RoomAir


def test_a_guard_that_knows_nothing_has_all_off_and_trusts_nothing() -> None:
    memory = at_start(bench_settings(), 77.0)
    assert memory.mode == ModeMemory(Mode.SCHEDULE, None)
    assert memory.chiller is not None
    assert memory.chiller.compressor == Compressor(False, 77.0)
    assert not memory.chiller.calling
    assert [(counter.on, counter.since_s) for counter in memory.counters] == [(False, 77.0)] * 3
    assert not any(probe.trusted for probe in memory.probes)


@pytest.mark.parametrize(
    ("without", "names"),
    [
        ((), ("fan1", "fan2", "chiller")),
        (("chiller",), ("fan1", "fan2")),
        (("fans",), ("chiller",)),
        (("fans", "chiller"), ()),
    ],
)
def test_each_output_has_a_command_and_a_counter_in_one_order(
    without: tuple[str, ...], names: tuple[str, ...]
) -> None:
    settings = bench_settings(**dict.fromkeys(without))
    assert output_names(settings) == names
    life = Life(settings)
    decision = life.last(120.0, 27.5)
    assert tuple(command.output for command in decision.commands) == names
    assert len(life.memory.counters) == len(names)


def test_a_probe_without_a_sample_has_not_been_read() -> None:
    decision = Life().tick({})
    assert [reading.cause for reading in decision.readings] == [Cause.NOT_YET, Cause.NOT_YET]
    assert decision.estimate is None


def test_a_hot_day_from_cold_start_to_rest() -> None:
    life = Life()
    assert life.last(60.0, 27.5).mode is Mode.SCHEDULE
    assert life.command("fan1").why.reason is Reason.LIGHTS_ON
    assert life.tick(27.5625).mode is Mode.AUTOMATIC
    assert life.command("fan1").why.reason is Reason.WARM
    assert life.command("chiller").blocked is not None
    life.last(235.0, 27.5)
    assert life.now_s == 300.0
    assert life.command("chiller").on
    life.last(120.0, 26.9)
    assert life.command("chiller").why.reason is Reason.STILL_COOLING
    life.tick(26.5)
    assert not life.command("chiller").on
    life.last(60.0, 26.1)
    assert not any(command.on for command in life.decision.commands)
    chiller = life.memory.counters[-1]
    assert (chiller.changes, chiller.elapsed_active_s(life.now_s)) == (2, 125.0)


def test_the_same_memory_and_inputs_give_the_same_answer() -> None:
    settings = bench_settings()
    memory = at_start(settings, 0.0)
    seen = inputs(5.0, both(26.0, 5.0))
    assert step(memory, seen, settings) == step(memory, seen, settings)
    assert memory == at_start(settings, 0.0)


def test_settings_for_other_devices_are_refused_and_not_half_followed() -> None:
    settings = bench_settings()
    fewer = replace(settings, water_probes=settings.water_probes[:1])
    with pytest.raises(ValueError, match="shorter"):
        step(at_start(settings, 0.0), inputs(5.0, {}), fewer)


HUMID = RoomAir(air_c=28.0, relative_humidity=0.9, at_s=0.0)


def limit(room: RoomAir | None, now_s: float = 0.0) -> float | None:
    settings = bench_settings()
    return step(at_start(settings, 0.0), inputs(now_s, {}, room=room), settings)[1].cools_above_c


def test_known_air_tells_what_water_a_fan_cools() -> None:
    assert limit(HUMID) == salt_wet_bulb_c(28.0, 0.9)


@pytest.mark.parametrize(
    "room",
    [
        None,
        replace(HUMID, air_c=None),
        replace(HUMID, relative_humidity=None),
        replace(HUMID, air_c=math.nan),
        replace(HUMID, relative_humidity=math.nan),
        replace(HUMID, relative_humidity=1.0001),
        replace(HUMID, relative_humidity=-0.0001),
        replace(HUMID, air_c=4.9999),
        replace(HUMID, air_c=50.0001),
        replace(HUMID, air_c=85.0),
        replace(HUMID, at_s=-60.1),
        replace(HUMID, at_s=math.nan),
    ],
)
def test_air_that_cannot_be_believed_tells_nothing(room: RoomAir | None) -> None:
    assert limit(room) is None


@pytest.mark.parametrize(
    "room",
    [
        replace(HUMID, relative_humidity=0.0),
        replace(HUMID, relative_humidity=1.0),
        replace(HUMID, air_c=5.0),
        replace(HUMID, air_c=50.0),
        replace(HUMID, at_s=-60.0),
    ],
)
def test_air_at_the_edge_of_what_can_be_is_believed(room: RoomAir) -> None:
    assert room.air_c is not None
    assert room.relative_humidity is not None
    assert limit(room) == salt_wet_bulb_c(room.air_c, room.relative_humidity)


def test_the_limit_follows_the_air_and_is_found_anew_only_when_it_changes() -> None:
    settings = bench_settings()
    memory, _ = step(at_start(settings, 0.0), inputs(0.0, {}, room=HUMID), settings)
    found = memory.fan_limit
    memory, decision = step(memory, inputs(1.0, {}, room=HUMID), settings)
    assert memory.fan_limit is found
    memory, decision = step(memory, inputs(2.0, {}), settings)
    assert (memory.fan_limit, decision.cools_above_c) == (found, None)
    warmer, drier = replace(HUMID, air_c=29.0), replace(HUMID, relative_humidity=0.5)
    assert step(memory, inputs(3.0, {}, room=warmer), settings)[1].cools_above_c == salt_wet_bulb_c(29.0, 0.9)
    assert step(memory, inputs(3.0, {}, room=drier), settings)[1].cools_above_c == salt_wet_bulb_c(28.0, 0.5)


def test_fans_rest_where_the_air_would_heat_the_water() -> None:
    life = Life()
    life.last(120.0, 27.0, room=replace(HUMID, at_s=100.0))
    assert life.decision.cools_above_c == pytest.approx(27.0, abs=0.4)
    blocked = life.command("fan1").blocked
    assert blocked is not None
    assert blocked.reason is Reason.WOULD_HEAT
    assert not life.command("fan2").on


def test_memories_of_stages_that_are_not_there_are_none() -> None:
    memory: Memory = at_start(bench_settings(fans=None, chiller=None), 0.0)
    assert (memory.fans, memory.chiller, memory.counters) == (None, None, ())


def test_a_stage_with_one_fan_is_a_stage() -> None:
    stage = bench_settings().fans
    assert isinstance(stage, FanStage)
    life = Life(bench_settings(fans=replace(stage, fans=stage.fans[:1])))
    life.last(120.0, 27.5)
    assert life.command("fan1").on
