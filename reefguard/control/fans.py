"""The fan stage: who runs, how fast, and when a fan would do harm.

In automatic mode the warmest probe decides.  In schedule mode the fans follow
the lights.  A fan cools only water warmer than the salt wet-bulb temperature
of the air; below it (with a margin) the fans rest.
"""

from collections.abc import Sequence
from typing import NamedTuple

from reefguard.control import wish
from reefguard.control.counters import Counter
from reefguard.control.photoperiod import LightsState
from reefguard.control.two_position import calls
from reefguard.settings.model import CutPoints, Fan, FanStage, Lights, Staging
from reefguard.vocabulary import Command, Mode, Reason, WaterEstimate, Why, Wish

# A fan that would heat is let go again only this much further into the range where it cools.
_HEAT_DIFFERENTIAL_C = 0.2

# Speeds are commanded in steps of 5 %: finer ones change nothing that a tank would feel.
_SPEED_STEPS = 20


class FansMemory(NamedTuple):
    """What the stage remembers.

    Attributes:
        order: the fans by their place in the settings, lead first.
        calling: for each rank (lead first), whether the water calls for it.
        heat_hold: whether the fans rest because they would heat.
        levels: what each fan was last commanded by water or lights, in the order of the settings.
    """

    order: tuple[int, ...]
    calling: tuple[bool, ...]
    heat_hold: bool
    levels: tuple[float, ...]


def at_rest(count: int) -> FansMemory:
    """Return the memory of a stage of `count` fans that has not run."""
    return FansMemory(tuple(range(count)), (False,) * count, False, (0.0,) * count)


def decide(
    memory: FansMemory,
    *,
    estimate: WaterEstimate | None,
    mode: Mode,
    lights: LightsState,
    hours: Lights,
    cools_above_c: float | None,
    counters: Sequence[Counter],
    now_s: float,
    stage: FanStage,
    asked: Wish | None = None,
) -> tuple[FansMemory, tuple[Command, ...]]:
    """Return what each fan shall do, in the order of the settings, and why.

    Args:
        memory: from the tick before.
        estimate: the water, or `None`.
        mode: automatic or schedule.
        lights: the state of the lights.
        hours: the lights' settings (after-run, what to do when the time is unknown).
        cools_above_c: the salt wet-bulb temperature of the room's air, if known.
        counters: of each fan, in the order of the settings; what follows them is not looked at.
        now_s: boot clock.
        stage: the settings.
        asked: what a person asks of one of them, in place of what the water or the lights want.
    """
    demands: Sequence[tuple[float, Why]]
    if mode is Mode.SCHEDULE:
        memory, demands = _by_schedule(memory, lights, hours, now_s, stage)
        hold = None
    elif estimate is None:
        demands = [(level, _AWAITING) for level in memory.levels]
        hold = None
    else:
        memory, demands = _by_water(memory, estimate, counters, now_s, stage)
        hold = _heating(memory.heat_hold, estimate, cools_above_c, stage.heat_margin_c)
    commands = [
        _command(fan, level, why, hold) for fan, (level, why) in zip(stage.fans, demands, strict=True)
    ]
    # Without what a person asks: once that has ended, nothing shall be left of it.
    levels = tuple([command.level for command in commands])
    if asked is not None:
        commands = [
            _command(fan, float(asked.on), wish.why(asked), hold)
            if wish.asked_of(fan.name, asked, now_s)
            else command
            for fan, command in zip(stage.fans, commands, strict=True)
        ]
    return FansMemory(memory.order, memory.calling, hold is not None, levels), tuple(commands)


_AWAITING = Why(Reason.AWAITING_READING)
_OUT_OF_SERVICE = Why(Reason.OUT_OF_SERVICE)


def _command(fan: Fan, level: float, why: Why, hold: Why | None) -> Command:
    if level > 0.0 and fan.out_of_service:
        return Command(fan.name, 0.0, why, _OUT_OF_SERVICE)
    if level > 0.0 and hold is not None:
        return Command(fan.name, 0.0, why, hold)
    return Command(fan.name, level, why)


def _by_schedule(
    memory: FansMemory, lights: LightsState, hours: Lights, now_s: float, stage: FanStage
) -> tuple[FansMemory, tuple[tuple[float, Why], ...]]:
    """All fans follow the lights.  What runs goes on running when the water is known again."""
    why = _schedule_reason(lights, hours, now_s)
    runs = why.reason in (Reason.LIGHTS_ON, Reason.AFTER_RUN, Reason.TIME_UNKNOWN_RUN)
    count = len(stage.fans)
    kept = FansMemory(memory.order, (runs,) * count, False, memory.levels)
    return kept, (((1.0 if runs else 0.0), why),) * count


def _schedule_reason(lights: LightsState, hours: Lights, now_s: float) -> Why:
    if lights.on is None:
        runs = hours.fans_run_when_time_unknown
        return Why(Reason.TIME_UNKNOWN_RUN if runs else Reason.TIME_UNKNOWN_REST)
    if lights.on:
        return Why(Reason.LIGHTS_ON, detail=lights.told.value)
    if lights.off_since_s is not None:
        until_s = lights.off_since_s + hours.after_run_s
        if now_s < until_s:
            return Why(Reason.AFTER_RUN, until_s=until_s)
    return Why(Reason.LIGHTS_OFF, detail=lights.told.value)


def _by_water(
    memory: FansMemory, estimate: WaterEstimate, counters: Sequence[Counter], now_s: float, stage: FanStage
) -> tuple[FansMemory, Sequence[tuple[float, Why]]]:
    """Two-position control on the warmest probe, one or several cut points deep."""
    if stage.staging is Staging.TOGETHER:
        on = calls(estimate.warmest_c, stage.cut, before=memory.calling[0])
        why = _water_reason(on, estimate, stage.cut)
        demands = [(_speed(fan, estimate.warmest_c, stage.cut) if on else 0.0, why) for fan in stage.fans]
        return FansMemory(memory.order, (on,) * len(demands), memory.heat_hold, memory.levels), demands
    order = _order(memory, [counter.elapsed_active_s(now_s) for counter in counters], stage)
    calling: list[bool] = []
    demands = [_NO_DEMAND] * len(stage.fans)
    for rank, index in enumerate(order):
        later_c = rank * stage.lag_step_c
        cut = CutPoints(stage.cut.cut_in_c + later_c, stage.cut.cut_out_c + later_c)
        on = calls(estimate.warmest_c, cut, before=memory.calling[rank])
        calling.append(on)
        level = _speed(stage.fans[index], estimate.warmest_c, cut) if on else 0.0
        demands[index] = (level, _water_reason(on, estimate, cut))
    return FansMemory(order, tuple(calling), memory.heat_hold, memory.levels), demands


_NO_DEMAND = (0.0, _AWAITING)


def _order(memory: FansMemory, active_s: Sequence[float], stage: FanStage) -> tuple[int, ...]:
    """Return who leads.

    Fans in service come before those taken out.  Among them, at a start the
    one that has run least leads; while only some run, the lead gives way once
    it has run `rotate_after_s` more than the one that rests.
    """
    fans = stage.fans
    ranked = tuple(sorted(range(len(fans)), key=lambda i: (fans[i].out_of_service, active_s[i], i)))
    if not any(memory.calling):
        return ranked
    kept = tuple(sorted(memory.order, key=lambda i: fans[i].out_of_service))
    lead, next_lead = kept[0], ranked[0]
    resting = not memory.calling[kept.index(next_lead)]
    if resting and active_s[lead] - active_s[next_lead] > stage.rotate_after_s:
        return ranked
    return kept


def _speed(fan: Fan, warmest_c: float, cut: CutPoints) -> float:
    """Return the level of a fan that is called for; proportional to the water where it can be."""
    if fan.speed is None:
        return 1.0
    span_c = fan.speed.full_c - cut.cut_in_c
    share = 1.0 if span_c <= 0.0 else min(1.0, max(0.0, (warmest_c - cut.cut_in_c) / span_c))
    level = fan.speed.slowest + (1.0 - fan.speed.slowest) * share
    return max(1, round(level * _SPEED_STEPS)) / _SPEED_STEPS


def _water_reason(on: bool, estimate: WaterEstimate, cut: CutPoints) -> Why:
    water_c, probe = estimate.warmest_c, estimate.warmest_probe
    if water_c >= cut.cut_in_c:
        return Why(Reason.WARM, water_c, cut.cut_in_c, detail=probe)
    if on:
        return Why(Reason.STILL_COOLING, water_c, cut.cut_out_c, detail=probe)
    if water_c <= cut.cut_out_c:
        return Why(Reason.COOL_ENOUGH, water_c, cut.cut_out_c, detail=probe)
    return Why(Reason.NOT_WARM, water_c, cut.cut_in_c, detail=probe)


def _heating(
    before: bool, estimate: WaterEstimate, cools_above_c: float | None, margin_c: float
) -> Why | None:
    """Return why the fans would heat the water, if they would."""
    if cools_above_c is None:
        return None
    release_c = cools_above_c + margin_c + (_HEAT_DIFFERENTIAL_C if before else 0.0)
    if estimate.warmest_c < release_c:
        return Why(Reason.WOULD_HEAT, estimate.warmest_c, cools_above_c, detail=estimate.warmest_probe)
    return None
