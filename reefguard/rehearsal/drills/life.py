"""One run of a drill: virtual time, the real decisions, and a tank that is not quite as planned.

Each tick, in this order:

    what holds      the drill's timeline
    what happens    power, kills, hangs, a water change, a person
    sense           the probes follow the water; the wire gives what it gives
    decide          the cutoff, then the guard
    switch          contacts in series, and what each still obeys
    live            the balance carries water, stand and room forward
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from reefguard.alarms.deadband import held_by_deadband
from reefguard.alarms.survey import NOTHING, survey
from reefguard.control.chiller import NAME as CHILLER
from reefguard.control.findings import find
from reefguard.control.photoperiod import lit_at
from reefguard.cutoff.limits import Setup
from reefguard.rehearsal.drills.deviation import Deviation
from reefguard.rehearsal.drills.drill import CUTOFFS, Drill, Event, Part, Turn
from reefguard.rehearsal.drills.programs import CLOCK_SET_AFTER_S, CutoffProcess, GuardProcess, Standing
from reefguard.rehearsal.drills.record import Record, Recorder
from reefguard.rehearsal.drills.timeline import Conditions, Timeline
from reefguard.rehearsal.drills.wire import BodyOfProbe, to_cutoff, to_guard
from reefguard.settings.model import Settings
from reefguard.thermal.balance import TankBalance
from reefguard.thermal.moist_air import relative_humidity
from reefguard.thermal.plant import Plant, Siting, Stand
from reefguard.thermal.state import Drive, State
from reefguard.thermal.weather import Weather
from reefguard.vocabulary import CutoffReport, Inputs, RawSample, RoomAir, Wall

# The first day of every run: any Monday; what the wall clock shows beyond its hour decides nothing.
FIRST_DAY = datetime(2027, 7, 12).astimezone()
# A closed cabinet for a chiller that stands in the open by plan.
_CABINET = Stand(conductance_w_k=6.0, vented_m3_h=0.0)
_NONE_HELD: frozenset[str] = frozenset()
# Beyond these the balance is not drawn; everything has been decided long before.
_COLDEST_C, _WARMEST_C = 1.0, 60.0
_FAR = "the cutoff is not rehearsed: no limits file"


@dataclass(frozen=True, slots=True)
class Stage:
    """Everything one run needs.

    Attributes:
        drill: with `each` already replaced by a name.
        settings: the guard's.
        setup: the cutoff's; `None` leaves it out, its contact closed.
        plant: the tank as planned.
        weather: outdoors.
        weather_from_s: where in the weather the run begins, seconds after its first midnight.
        deviation: how the tank really is.
    """

    drill: Drill
    settings: Settings
    setup: Setup | None
    plant: Plant
    weather: Weather
    weather_from_s: float
    deviation: Deviation


def live(stage: Stage) -> Record:
    """Run the drill from beginning to end."""
    return _Run(stage).record()


class _Run:
    """The state of one run."""

    def __init__(self, stage: Stage) -> None:
        settings, drill = stage.settings, stage.drill
        self._stage = stage
        self._settings = settings
        self._probe_names = tuple(probe.name for probe in settings.water_probes)
        self._fan_names = tuple(fan.name for fan in settings.fans.fans) if settings.fans is not None else ()
        self._timeline = Timeline(drill.events, drill.lasts_s, self._probe_names, self._fan_names)
        self._plant = stage.deviation.of(stage.plant)
        self._balances: dict[tuple[float, bool], TankBalance] = {}
        self._guard = GuardProcess(settings)
        self._cutoff = None if stage.setup is None else CutoffProcess(stage.setup)
        self._recorder = Recorder(settings.safe_band)
        self._tick_s = drill.tick_s if drill.tick_s is not None else settings.sampling_s
        self._booted_s = float("-inf")
        self._compressor_on = False
        self._powered = True
        self._last_report: CutoffReport | None = None
        self._alarms = NOTHING
        water_c = drill.water_c if drill.water_c is not None else _in_control_c(settings)
        errors, lags = stage.deviation.probe_error_c, stage.deviation.probe_lag_s
        # An offset was set because the chip is wrong by it: what is left after it is the deviation's error.
        mended = {probe.name: probe.offset_c for probe in settings.water_probes}
        self._bodies = {
            name: BodyOfProbe(errors[name] - mended.get(name, 0.0), lags[name], water_c)
            for name in (*self._probe_names, CUTOFFS)
        }
        outside = stage.weather.at(stage.weather_from_s + drill.begins_s)
        self._state = self._balance(Conditions()).at_rest(water_c, outside)

    def record(self) -> Record:
        """Live through the drill; it ends early where the water freezes or scalds, which no animal sees."""
        now_s, tick_s, lasts_s = 0.0, self._tick_s, self._stage.drill.lasts_s
        while now_s < lasts_s and _COLDEST_C < self._state.water_c < _WARMEST_C:
            self._tick(now_s, min(tick_s, lasts_s - now_s))
            now_s += tick_s
        return self._recorder.end(min(now_s, lasts_s))

    def _tick(self, now_s: float, span_s: float) -> None:
        conditions, happened = self._timeline.reach(now_s)
        reset = self._happens(happened, now_s)
        self._supply(conditions, now_s)
        shown, cutoff_c = self._probes(conditions, now_s, span_s)
        cutoff_on, report = self._decide_cutoff(cutoff_c, conditions, now_s, reset=reset)
        self._decide_guard(shown, conditions, report, now_s)
        self._switch_and_live(conditions, now_s, span_s, cutoff_on=cutoff_on)

    # --- what happens ---

    def _happens(self, events: tuple[Event, ...], now_s: float) -> bool:
        """Let what happens at once happen; return whether a person resets the cutoff."""
        reset = False
        for event in events:
            match event.part:
                case Part.WATER:
                    new_c = event.water_c if event.water_c is not None else self._state.water_c
                    mixed_c = self._state.water_c + event.by * (new_c - self._state.water_c)
                    self._state = self._state._replace(water_c=mixed_c, lost_kg=0.0)
                case Part.GUARD:
                    _befall(self._guard, event.turn, now_s)
                case Part.CUTOFF if self._cutoff is not None:
                    _befall(self._cutoff, event.turn, now_s)
                case Part.PERSON:
                    reset = True
                case _:
                    pass
        return reset

    def _supply(self, conditions: Conditions, now_s: float) -> None:
        """Give the programs power, or take it; keep those down that do not come back."""
        powered = conditions.house_power and conditions.pi_power
        if powered is not self._powered:
            self._powered = powered
            self._guard.power(now_s, on=powered)
            if self._cutoff is not None:
                self._cutoff.power(now_s, on=powered)
            if powered:
                self._booted_s = now_s
        if conditions.guard_dead:
            self._guard.kill(now_s)
        if conditions.cutoff_dead and self._cutoff is not None:
            self._cutoff.kill(now_s)

    # --- sense ---

    def _probes(
        self, conditions: Conditions, now_s: float, span_s: float
    ) -> tuple[Mapping[str, float], float]:
        """Let the probes follow the water; return what each chip measures, and the cutoff's."""
        water_c, room_c = self._state.water_c, self._state.room_c
        marks = conditions.probes
        shown = {
            name: self._bodies[name].shows(water_c, room_c, span_s, now_s, marks.get(name))
            for name in self._probe_names
        }
        return shown, self._bodies[CUTOFFS].shows(water_c, room_c, span_s, now_s, marks.get(CUTOFFS))

    # --- decide ---

    def _decide_cutoff(
        self, shown_c: float, conditions: Conditions, now_s: float, *, reset: bool
    ) -> tuple[bool, CutoffReport | None]:
        """Return whether the cutoff's relay is energised, and what it reports."""
        cutoff = self._cutoff
        if cutoff is None:
            return True, CutoffReport("permitting", permits=True, why=_FAR, at_s=now_s)
        standing = cutoff.standing(now_s)
        if standing is Standing.UP:
            mark = conditions.probes.get(CUTOFFS)
            cutoff.sample(to_cutoff(shown_c, mark), now_s, reset=reset)
            report = self._last_report = cutoff.report(now_s)
            self._recorder.cutoff_held.hold(() if report.permits else (report.state,), now_s)
            self._last_report = report
            return cutoff.relay_on, report
        if standing is Standing.DOWN:
            cutoff.rest()
        self._recorder.cutoff_held.hold(("silent",), now_s)
        return cutoff.relay_on, self._last_report

    def _decide_guard(
        self,
        shown: Mapping[str, float],
        conditions: Conditions,
        report: CutoffReport | None,
        now_s: float,
    ) -> None:
        guard, recorder = self._guard, self._recorder
        standing = guard.standing(now_s)
        if standing is not Standing.UP:
            if standing is Standing.DOWN:
                guard.rest()
            recorder.modes.hold((f"guard {standing.value}",), now_s)
            recorder.told.hold((), now_s)
            self._alarms = NOTHING
            return
        inputs = self._inputs(shown, conditions, report, now_s)
        decision = guard.tick(inputs)
        recorder.ticks += 1
        recorder.modes.hold((decision.mode.value,), now_s)
        findings = find(guard.memory, decision, inputs, self._settings)
        before = self._alarms
        held = held_by_deadband(decision.estimate, self._settings.safe_band) if before.alarms else _NONE_HELD
        self._alarms, _ = survey(before, findings, now_s=now_s, held=held)
        if self._alarms is not before:
            alarms = self._alarms.alarms.items()
            told = [name for name, one in alarms if one.alarm.active and not one.alarm.quiet]
            recorder.told.hold(tuple(told), now_s)

    def _inputs(
        self,
        shown: Mapping[str, float],
        conditions: Conditions,
        report: CutoffReport | None,
        now_s: float,
    ) -> Inputs:
        settings, state = self._settings, self._state
        marks = conditions.probes
        samples: dict[str, RawSample] = {
            name: to_guard(shown_c, marks.get(name), now_s) for name, shown_c in shown.items()
        }
        clock_set = now_s - self._booted_s >= CLOCK_SET_AFTER_S or settings.clock_always_right
        since_midnight_s = self._stage.drill.begins_s + now_s + conditions.clock_off_s
        chiller = settings.chiller
        return Inputs(
            now_s,
            Wall(FIRST_DAY + timedelta(seconds=since_midnight_s), conditions.clock_trusted and clock_set),
            samples,
            None if settings.room_air is None else self._room_air(state, now_s),
            None if settings.lights.sense is None else self._lit(conditions, now_s),
            None if chiller is None or chiller.running_input is None else self._compressor_on,
            None if chiller is None or chiller.flow_input is None else conditions.pumps > 0.0,
            report,
        )

    def _room_air(self, state: State, now_s: float) -> RoomAir:
        source = self._settings.room_air
        humidity = None
        if source is not None and source.humidity_file is not None:
            humidity = min(
                1.0, relative_humidity(max(0.0, state.room_c), state.room_ratio, self._plant.pressure_pa)
            )
        return RoomAir(round(state.room_c * 16.0) / 16.0, humidity, now_s)

    # --- switch, live ---

    def _switch_and_live(
        self, conditions: Conditions, now_s: float, span_s: float, *, cutoff_on: bool
    ) -> None:
        house, recorder = conditions.house_power, self._recorder
        levels = self._guard.fan_levels
        if not house:
            levels = (0.0,) * len(levels)
        elif conditions.fans:
            levels = tuple(
                _obeys(conditions.fans.get(name), level)
                for name, level in zip(self._fan_names, levels, strict=True)
            )
        contact = (self._guard.chiller_on and self._powered) or conditions.chiller_welded
        chain = (cutoff_on and self._powered) or conditions.cutoff_welded
        powered = house and contact and chain and self._settings.chiller is not None
        balance = self._balance(conditions)
        drive = Drive(
            1.0 if house and self._lit(conditions, now_s) else 0.0,
            levels,
            powered,
            conditions.pumps if house else 0.0,
            conditions.room_open,
            conditions.stand_open,
            conditions.topped_off,
        )
        outside = self._stage.weather.at(self._stage.weather_from_s + self._stage.drill.begins_s + now_s)
        recorder.water(self._state.water_c, self._state.room_c, now_s, span_s)
        recorder.compressor(now_s, span_s, powered=powered)
        running = [name for name, level in zip(self._fan_names, levels, strict=True) if level > 0.0]
        recorder.runs.hold((*running, CHILLER) if powered else tuple(running), now_s)
        self._state, flows = balance.advance(self._state, drive, outside, span_s)
        self._compressor_on = flows.chiller_electric_w > 0.0
        recorder.power(flows, span_s)

    def _lit(self, conditions: Conditions, now_s: float) -> bool:
        """Return whether the lamps are lit: by their own timer, whatever the Pi's clock says."""
        if conditions.lights is not None:
            return conditions.lights
        return lit_at(self._stage.drill.begins_s + now_s - conditions.lights_late_s, self._settings.lights)

    def _balance(self, conditions: Conditions) -> TankBalance:
        """Return the balance of the plant as it is now; each is worked out once."""
        key = (conditions.chiller_strength, conditions.chiller_enclosed)
        balance = self._balances.get(key)
        if balance is None:
            balance = self._balances[key] = TankBalance(_changed(self._plant, *key))
        return balance


def _befall(process: GuardProcess | CutoffProcess, turn: Turn, now_s: float) -> None:
    if turn is Turn.KILLED:
        process.kill(now_s)
    elif turn is Turn.HUNG:
        process.hang(now_s)


def _obeys(turn: Turn | None, level: float) -> float:
    if turn is None:
        return level
    return 0.0 if turn is Turn.DEAD else 1.0


def _in_control_c(settings: Settings) -> float:
    """Return the temperature at which the control rests: a run begins there."""
    stage = settings.fans.cut if settings.fans is not None else None
    if stage is None and settings.chiller is not None:
        stage = settings.chiller.cut
    if stage is None:
        return (settings.safe_band.low_c + settings.safe_band.high_c) / 2.0
    return stage.cut_out_c


def _changed(plant: Plant, strength: float, enclosed: bool) -> Plant:
    chiller = plant.chiller
    if chiller is not None and strength < 1.0:
        plant = replace(
            plant,
            chiller=None if strength == 0.0 else replace(chiller, capacity_w=chiller.capacity_w * strength),
        )
    if enclosed:
        stand = _CABINET if plant.stand is None else replace(plant.stand, vented_m3_h=0.0)
        plant = replace(plant, siting=Siting.STAND, stand=stand)
    return plant
