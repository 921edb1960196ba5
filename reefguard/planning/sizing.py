"""How large a chiller has to be, what its place does, and whether the keeper's own is enough."""

import math

from reefguard.planning.course import hourly_duty, hourly_load_w
from reefguard.planning.day import Day, Tripped, Way
from reefguard.planning.found import CannotJudge, RunsAway, Spread
from reefguard.planning.model import Chiller, Enough, OwnChiller, Sited
from reefguard.planning.parts import SITINGS, chiller_of
from reefguard.planning.study import STUCK, Machine, Study, spread
from reefguard.settings.plan_model import StandPlan, TankPlan
from reefguard.thermal.plant import Siting
from reefguard.thermal.refrigeration import LABEL_HP_UNCERTAINTY

# The size a run without limit is drawn with; its share of a step may be any, so it does not matter.
_ANY_CAPACITY_W = 1_000.0
_IDEAL = Way(chiller=True, without_limit=True)
_LIMITED = Way(chiller=True)
# Sizes are told in steps no finer than the calculation is good for: ours.
_SIZES_W = 50.0
# Common practice for a tank's chiller.
DIFFERENTIAL_K = 0.5
# How hot the account of a runaway begins, once the chiller has tripped: an assumption of ours.
_CABINET_ABOVE_ROOM_K = 5.0
_AIR_W_K_PER_M3_H = 0.33  # 1.18 kg/m3 times 1006 J/(kg K) in an hour


def chiller_for(study: Study) -> tuple[Chiller, Machine | None, Day | None]:
    """Return what a chiller has to be, and the tank and the day with one of the size found.

    Args:
        study: of the tank.
    """
    tank = study.tank
    place = SITINGS[tank.chiller.place]
    sitings = {siting: _sited(study.machine(_ANY_CAPACITY_W, siting), tank, siting) for siting in Siting}
    counted_at = next(
        (at for at in (place, Siting.ROOM, Siting.OUTSIDE) if isinstance(sitings[at], Sited)), None
    )
    if counted_at is None:
        nowhere = CannotJudge("a chiller finds no equilibrium at any place")
        return Chiller(place, None, sitings, None, None, None, nowhere, None), None, None
    rivals = [_sited(machine, tank, counted_at) for machine in study.machines(_ANY_CAPACITY_W, counted_at)]
    capacity_w = spread([one.capacity_w if isinstance(one, Sited) else None for one in rivals])
    load_w = spread([one.load_w if isinstance(one, Sited) else None for one in rivals])
    own = _own(study, counted_at)
    sized_w = _sized_w(sitings[counted_at], capacity_w, own)
    machine = study.machine(sized_w, counted_at)
    day = machine.day(_LIMITED)
    course = machine.summed(day)
    found = Chiller(place, counted_at, sitings, capacity_w, load_w, sized_w, course, own)
    return found, machine, day if isinstance(day, Day) else None


def _sized_w(
    found: Sited | RunsAway | CannotJudge, capacity_w: Spread | None, own: OwnChiller | None
) -> float:
    if own is not None and own.enough is not Enough.NO:
        return own.capacity_w
    least_w = 0.0
    if capacity_w is not None:
        least_w = capacity_w.high
    elif isinstance(found, Sited):
        least_w = found.capacity_w
    return max(_SIZES_W, math.ceil(least_w / _SIZES_W) * _SIZES_W)


def _sited(machine: Machine, tank: TankPlan, siting: Siting) -> Sited | RunsAway | CannotJudge:
    """Return what holding the water takes with the chiller there."""
    day = machine.day(_IDEAL)
    if isinstance(day, CannotJudge):
        return day
    if isinstance(day, Tripped):
        return CannotJudge(STUCK) if siting is Siting.OUTSIDE else _runs_away(day, tank, siting)
    course = machine.summed(day)
    if isinstance(course, CannotJudge):
        return course
    loads_w, shares = hourly_load_w(day), hourly_duty(day)
    # Where the chiller does nothing, its derating does not matter.
    deratings = [
        load_w / (share * _ANY_CAPACITY_W) if share > 0.0 else 1.0
        for load_w, share in zip(loads_w, shares, strict=True)
    ]
    needs_w = [
        load_w / (derating * tank.duty_reserve) for load_w, derating in zip(loads_w, deratings, strict=True)
    ]
    worst = max(range(24), key=lambda hour: needs_w[hour])
    return Sited(
        load_w=loads_w[worst],
        at_hour=worst,
        capacity_w=needs_w[worst],
        derating=deratings[worst],
        breathed_peak_c=machine.breathed_peak_c(day, siting),
        room_peak_c=course.room_peak_c,
        electric_kwh=course.electricity.chiller_kwh,
    )


def _runs_away(tripped: Tripped, tank: TankPlan, siting: Siting) -> RunsAway:
    traits = chiller_of(tank, _ANY_CAPACITY_W)
    cabinet_c = tripped.state.room_c + _CABINET_ABOVE_ROOM_K
    rejected_w = tripped.load_w * (1.0 + 1.0 / traits.performance(tank.hold_c, cabinet_c))
    stand = tank.stand or StandPlan()
    walls_w_k = stand.conductance_w_k if siting is Siting.STAND else 0.0
    vent_w_k = max(0.0, rejected_w / _CABINET_ABOVE_ROOM_K - walls_w_k)
    return RunsAway(tripped.load_w, traits.trips_at_air_c, vent_w_k / _AIR_W_K_PER_M3_H)


def _own(study: Study, siting: Siting) -> OwnChiller | None:
    """Judge the keeper's own chiller at that place."""
    tank = study.tank
    capacity_w = tank.chiller.capacity_w
    if capacity_w is None:
        return None
    machine = study.machine(capacity_w, siting)
    day = machine.day(_LIMITED)
    course = machine.summed(day)
    if isinstance(course, CannotJudge) or not isinstance(day, Day):
        return None
    smallest_w = capacity_w * (1.0 - LABEL_HP_UNCERTAINTY) if tank.chiller.from_label_hp else capacity_w
    worst_peak_c = study.peak_c(_LIMITED, smallest_w, siting)
    duty = max(hourly_duty(day))
    high_c = tank.safe_band.high_c
    enough = Enough.YES
    if course.peak_c > high_c:
        enough = Enough.NO
    elif worst_peak_c is None or worst_peak_c.high > high_c:
        enough = Enough.NOT_SURELY
    elif duty > tank.duty_reserve:
        enough = Enough.WITHOUT_RESERVE
    return OwnChiller(
        capacity_w=capacity_w,
        label_is_rough=tank.chiller.from_label_hp,
        enough=enough,
        duty_at_worst=duty,
        # The shortest period of a relay cycle, at half duty, is 4 C h / Q.
        starts_per_h=3_600.0 * capacity_w / (4.0 * machine.balance.water_j_k * DIFFERENTIAL_K),
        differential_k=DIFFERENTIAL_K,
        peak_c=course.peak_c,
    )
