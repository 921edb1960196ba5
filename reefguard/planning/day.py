"""Carry a tank through its design day, under one way of cooling it.

Cooling is modelled as what the water needs, not as switching: in each step fans
and chiller run for just the share of it that brings the water to the hold
temperature.  A share is taken by mixing the step with and the step without;
energy and moisture are conserved in the mixture as in each.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from reefguard.planning.found import CannotJudge
from reefguard.settings.plan_model import TankPlan
from reefguard.thermal.balance import TankBalance
from reefguard.thermal.state import Drive, Flows, State
from reefguard.thermal.weather import OutsideAir

STEP_S = 300
STEPS_A_DAY = 86_400 // STEP_S
COLDEST_C, HOTTEST_C = 5.0, 45.0

# A day repeats itself when it moves nothing by as much as the account would show (0.1 K).
_SETTLED_K = 0.005
_SETTLED_ROOM_K, _SETTLED_RATIO = 0.02, 2e-5
_MOST_DAYS = 20


@dataclass(frozen=True, slots=True)
class DayWeather:
    """The air outdoors, a value for each step of a day.

    Attributes:
        steps: of the design day.
        run_in: the days before it in a series, oldest first; empty where the day repeats itself.
    """

    steps: tuple[OutsideAir, ...]
    run_in: tuple[tuple[OutsideAir, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Way:
    """A way of cooling.

    Attributes:
        fans: run when the water is above the hold temperature.
        chiller: runs for what the fans leave.
        without_limit: the chiller is as large as it needs to be.
        lit: the lights keep their photoperiod; else they stay off.
        room_open: doors and windows open.
        stand_open: the stand's doors open.
    """

    fans: bool = False
    chiller: bool = False
    without_limit: bool = False
    lit: bool = True
    room_open: bool = False
    stand_open: bool = False


class Step(NamedTuple):
    """One step of a day, and the share of it fans and chiller ran."""

    after: State
    flows: Flows
    fans: float
    chiller: float


@dataclass(frozen=True, slots=True)
class Day:
    """A day under one way of cooling, from midnight to midnight."""

    before: State
    steps: tuple[Step, ...]


class Tripped(NamedTuple):
    """The chiller's own protection stopped it while it was needed."""

    state: State
    load_w: float


def photoperiod(tank: TankPlan) -> tuple[float, ...]:
    """Return the share of each step of the day in which the lights are on."""
    span_s = (tank.lights_off_s - tank.lights_on_s) % 86_400 or 86_400
    return tuple(
        1.0 if (index * STEP_S + STEP_S / 2 - tank.lights_on_s) % 86_400 < span_s else 0.0
        for index in range(STEPS_A_DAY)
    )


class TankDay:
    """A tank on its day: runs it as often as asked.  Pure: it remembers nothing of a run."""

    def __init__(self, balance: TankBalance, weather: DayWeather, tank: TankPlan) -> None:
        """Take what all runs share.

        Args:
            balance: of the plant.
            weather: of the day.
            tank: its photoperiod and hold temperature.
        """
        self.balance = balance
        self._weather = weather
        self._hold_c = tank.hold_c
        self._light = photoperiod(tank)
        self._all_fans = (1.0,) * len(balance.plant.fans)
        self._no_fans = (0.0,) * len(balance.plant.fans)

    def settled(self, way: Way) -> Day | Tripped | CannotJudge:
        """Return the day after as many like it as it takes, or after the days before it in the series."""
        weather = self._weather
        first = weather.run_in[0] if weather.run_in else weather.steps
        state = self.balance.at_rest(self._hold_c, first[0])
        day = self._repeated(first, way, state)
        for steps in (*weather.run_in[1:], weather.steps) if weather.run_in else ():
            if not isinstance(day, Day):
                return day
            day = self._run(steps, way, day.steps[-1].after)
        return day

    def hours_until(
        self, day: Day, start: int, way: Way, bound_c: float, *, upwards: bool, most_h: float
    ) -> float | None:
        """Return how long after a step of `day` the water crosses a bound when `way` sets in.

        Args:
            day: to begin from.
            start: index of the step of the day at whose beginning it sets in.
            way: from then on.
            bound_c: to be crossed.
            upwards: or downwards; nought hours when the water is beyond already.
            most_h: to look ahead.

        Returns:
            Hours, or `None` when it takes longer.
        """
        state = day.steps[start - 1].after if start else day.before
        steps = self._weather.steps
        for count in range(int(most_h * 3_600) // STEP_S):
            if (state.water_c > bound_c) == upwards:
                return count * STEP_S / 3_600.0
            index = (start + count) % STEPS_A_DAY
            drive = self._drive(index, way)
            if way.chiller:
                drive = drive._replace(chiller=True)
            state, _ = self.balance.advance(state, drive, steps[index], STEP_S)
        return None

    def _repeated(self, steps: Sequence[OutsideAir], way: Way, state: State) -> Day | Tripped | CannotJudge:
        """Repeat a day until the water ends it as it began.

        A day maps the water at midnight almost linearly to the next: two days say where it settles.
        """
        moved_k = 0.0
        for _ in range(_MOST_DAYS):
            day = self._run(steps, way, state)
            if not isinstance(day, Day):
                return day
            after = day.steps[-1].after
            before_k, moved_k = moved_k, after.water_c - state.water_c
            if _as_it_began(state, after):
                return day
            ratio = moved_k / before_k if before_k else 1.0
            state = after
            if 0.0 < ratio < 0.95:
                settles_c = after.water_c + moved_k * ratio / (1.0 - ratio)
                state = after._replace(water_c=min(max(settles_c, COLDEST_C), HOTTEST_C))
                moved_k = 0.0
        return CannotJudge("the water does not settle within three weeks of such days")

    def _run(self, weather: Sequence[OutsideAir], way: Way, state: State) -> Day | Tripped | CannotJudge:
        before = state
        steps: list[Step] = []
        for index, outside in enumerate(weather):
            step = self._step(state, index, outside, way)
            if isinstance(step, Tripped):
                return step
            state = step.after
            if not COLDEST_C <= state.water_c <= HOTTEST_C:
                passed = "colder than 5 °C" if state.water_c < COLDEST_C else "hotter than 45 °C"
                return CannotJudge(f"the water would get {passed}, where the model was not checked")
            steps.append(step)
        return Day(before, tuple(steps))

    def _drive(self, index: int, way: Way) -> Drive:
        return Drive(
            lights=self._light[index] if way.lit else 0.0,
            fans=self._all_fans if way.fans else self._no_fans,
            room_open=way.room_open,
            stand_open=way.stand_open,
        )

    def _step(self, state: State, index: int, outside: OutsideAir, way: Way) -> Step | Tripped:
        advance, hold_c = self.balance.advance, self._hold_c
        drive = self._drive(index, way)
        idle = drive._replace(fans=self._no_fans)
        after, flows = advance(state, idle, outside, STEP_S)
        if after.water_c <= hold_c or not (way.fans or way.chiller):
            return Step(after, flows, 0.0, 0.0)
        fans = 0.0
        if way.fans:
            fanned, fanned_flows = advance(state, drive, outside, STEP_S)
            # A thermostat leaves them on where they warm the water, too.
            fans = _share(after.water_c, fanned.water_c, hold_c)
            if fans < 1.0:
                return Step(_mixed(after, fanned, fans), _mixed_flows(flows, fanned_flows, fans), fans, 0.0)
            after, flows, fans = fanned, fanned_flows, 1.0
        if not way.chiller:
            return Step(after, flows, fans, 0.0)
        running = (drive if way.fans else idle)._replace(chiller=True)
        chilled, chilled_flows = advance(state, running, outside, STEP_S)
        needed_w = (after.water_c - hold_c) * self.balance.water_j_k / STEP_S
        if chilled_flows.chiller_w <= 0.0 and way.without_limit:
            return Tripped(state, needed_w)
        share = _share(after.water_c, chilled.water_c, hold_c)
        if not way.without_limit:
            share = min(1.0, share)
        return Step(_mixed(after, chilled, share), _mixed_flows(flows, chilled_flows, share), fans, share)


def _as_it_began(before: State, after: State) -> bool:
    """Return whether a day left everything as it was: water that is held says nothing of the room."""
    return (
        abs(after.water_c - before.water_c) < _SETTLED_K
        and abs(after.room_c - before.room_c) < _SETTLED_ROOM_K
        and abs(after.room_ratio - before.room_ratio) < _SETTLED_RATIO
    )


def _share(without_c: float, with_c: float, hold_c: float) -> float:
    """Return the share of a step that brings the water to `hold_c`; 1 where nothing would."""
    gained_k = without_c - with_c
    return 1.0 if gained_k <= 0.0 else (without_c - hold_c) / gained_k


def _mixed(without: State, running: State, share: float) -> State:
    return State(*(a + share * (b - a) for a, b in zip(without, running, strict=True)))


def _mixed_flows(without: Flows, running: Flows, share: float) -> Flows:
    return Flows(*(a + share * (b - a) for a, b in zip(without, running, strict=True)))
