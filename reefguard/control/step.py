"""The tick, top to bottom.  Read this first.

    2  validate    each raw sample, with its past     plausibility
    3  estimate    what the trusted probes say        estimate
    4  mode        automatic or schedule              mode
    5  demand      what the water or the lights want  fans, chiller
    6  constrain   timers, interlocks, the cutoff     chiller, compressor, fans

Step 1 (sample) comes before it and step 7 (actuate and record) after it; both
belong to the caller, who also brings the time.  One call, no clock, no device,
no file: the guard, the rehearsal and the tests all use this one.
"""

from dataclasses import dataclass
from typing import NamedTuple

from reefguard.control import chiller, fans, wish
from reefguard.control.chiller import ChillerMemory
from reefguard.control.compressor import at_power_up
from reefguard.control.counters import Counter, count
from reefguard.control.estimate import cross_check, estimate
from reefguard.control.fans import FansMemory
from reefguard.control.mode import ModeMemory, choose
from reefguard.control.photoperiod import LightsState, observe
from reefguard.control.plausibility import ProbeMemory, judge
from reefguard.settings.model import Settings
from reefguard.thermal.moist_air import salt_wet_bulb_c
from reefguard.vocabulary import Cause, Command, Inputs, Missed, Mode, Reading, RoomAir, WaterEstimate


@dataclass(frozen=True, slots=True)
class FanLimit:
    """The salt wet-bulb temperature of one state of the room's air; kept, for it is dear to find."""

    air_c: float
    relative_humidity: float
    cools_above_c: float


class Memory(NamedTuple):
    """All that one tick leaves to the next.

    Attributes:
        probes: in the order of the settings.
        mode: automatic or schedule.
        lights: `None` before the first tick.
        fans: `None` without a fan stage.
        chiller: `None` without a chiller.
        counters: one for each output, fans first, then the chiller.
        fan_limit: the last one found.
    """

    probes: tuple[ProbeMemory, ...]
    mode: ModeMemory
    lights: LightsState | None
    fans: FansMemory | None
    chiller: ChillerMemory | None
    counters: tuple[Counter, ...]
    fan_limit: FanLimit | None = None


class Decision(NamedTuple):
    """All that one tick says.

    Attributes:
        mode: automatic or schedule.
        readings: one for each water probe, in the order of the settings.
        estimate: the water, or `None` when no probe is trusted.
        lights: on, off or unknown, and who says so.
        commands: one for each output, fans first, then the chiller.
        cools_above_c: the water temperature below which a fan would heat, if known.
    """

    mode: Mode
    readings: tuple[Reading, ...]
    estimate: WaterEstimate | None
    lights: LightsState
    commands: tuple[Command, ...]
    cools_above_c: float | None


def output_names(settings: Settings) -> tuple[str, ...]:
    """Return the outputs in the order of counters and commands."""
    names = tuple(fan.name for fan in settings.fans.fans) if settings.fans is not None else ()
    return (*names, chiller.NAME) if settings.chiller is not None else names


def at_start(settings: Settings, now_s: float) -> Memory:
    """Return the memory of a guard that knows nothing: all off, nothing trusted, compressor at rest."""
    return Memory(
        probes=(ProbeMemory(),) * len(settings.water_probes),
        mode=ModeMemory(),
        lights=None,
        fans=None if settings.fans is None else fans.at_rest(len(settings.fans.fans)),
        chiller=None if settings.chiller is None else ChillerMemory(False, at_power_up(now_s)),
        counters=tuple(Counter(False, now_s) for _ in output_names(settings)),
    )


def step(memory: Memory, inputs: Inputs, settings: Settings) -> tuple[Memory, Decision]:
    """Take one tick's inputs into account; return what to remember and what to do."""
    now_s = inputs.now_s
    trust = settings.trust

    # 2 validate
    probes: list[ProbeMemory] = []
    judged: list[Reading] = []
    for past, probe in zip(memory.probes, settings.water_probes, strict=True):
        sample = inputs.samples.get(probe.name, _NOT_YET)
        remembered, reading = judge(past, sample, probe, trust, now_s)
        probes.append(remembered)
        judged.append(reading)

    # 3 estimate
    readings = cross_check(judged, trust.disagreement_c)
    water = estimate(readings)

    # 4 mode
    mode = choose(memory.mode, water, now_s, trust.schedule_after_s)

    # 5 demand, 6 constrain
    lights = observe(
        memory.lights, sensed=inputs.lights_sensed, wall=inputs.wall, now_s=now_s, lights=settings.lights
    )
    asked = wish.followed(inputs.wish, water, settings.safe_band)
    fan_limit, cools_above_c = _fan_limit(memory.fan_limit, inputs.room, now_s, trust.stale_after_s)
    commands: tuple[Command, ...] = ()
    fans_memory = memory.fans
    if settings.fans is not None and fans_memory is not None:
        fans_memory, commands = fans.decide(
            fans_memory,
            estimate=water,
            mode=mode.mode,
            lights=lights,
            hours=settings.lights,
            cools_above_c=cools_above_c,
            counters=memory.counters,
            now_s=now_s,
            stage=settings.fans,
            asked=asked,
        )
    chiller_memory = memory.chiller
    if settings.chiller is not None and chiller_memory is not None:
        chiller_memory, command = chiller.decide(
            chiller_memory,
            inputs,
            readings=readings,
            estimate=water,
            mode=mode.mode,
            chiller=settings.chiller,
            band=settings.safe_band,
            asked=asked,
        )
        commands = (*commands, command)

    counters = [
        count(counter, on=command.level > 0.0, now_s=now_s)
        for counter, command in zip(memory.counters, commands, strict=True)
    ]
    after = Memory(tuple(probes), mode, lights, fans_memory, chiller_memory, tuple(counters), fan_limit)
    return after, Decision(mode.mode, readings, water, lights, commands, cools_above_c)


_NOT_YET = Missed(Cause.NOT_YET, float("-inf"))

# Room air outside this is no room that a keeper stands in, and outside what the balance is solved for.
_COLDEST_ROOM_C, _WARMEST_ROOM_C = 5.0, 50.0


def _fan_limit(
    before: FanLimit | None, room: RoomAir | None, now_s: float, stale_after_s: float
) -> tuple[FanLimit | None, float | None]:
    """Return the water temperature above which a fan cools, as far as the room's air is known."""
    if room is None or room.air_c is None or room.relative_humidity is None:
        return before, None
    air_c, humidity = room.air_c, room.relative_humidity
    if not (
        now_s - room.at_s <= stale_after_s
        and _COLDEST_ROOM_C <= air_c <= _WARMEST_ROOM_C
        and 0.0 <= humidity <= 1.0
    ):
        return before, None
    if before is None or before.air_c != air_c or before.relative_humidity != humidity:
        before = FanLimit(air_c, humidity, salt_wet_bulb_c(air_c, humidity))
    return before, before.cools_above_c
