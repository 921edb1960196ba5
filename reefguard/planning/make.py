"""Make the plan: run the day under each way of cooling, compare, and come to an advice."""

from reefguard.planning.calibration import calibrated
from reefguard.planning.currents import currents_of
from reefguard.planning.damp_air import damp_airs
from reefguard.planning.day import COLDEST_C, HOTTEST_C, Day, DayWeather, Way
from reefguard.planning.found import CannotJudge, Course, Spread
from reefguard.planning.model import (
    Advice,
    Calibration,
    Chiller,
    DampAir,
    FanLimit,
    Fans,
    Option,
    Plan,
    Sited,
    TimeLeft,
    Verdict,
    WeatherUsed,
)
from reefguard.planning.sizing import chiller_for
from reefguard.planning.study import NOTHING, Machine, Study
from reefguard.planning.weather_day import design_day, series_days
from reefguard.settings.plan_model import DesignDayPlan, TankPlan
from reefguard.thermal.moist_air import pressure_at_pa
from reefguard.thermal.water_surface import FASTEST_AIR_M_S, UNCERTAINTY
from reefguard.thermal.weather import HourlyWeather

_WITH_FANS = Way(fans=True)
_ROOM_OPEN = Way(fans=True, room_open=True)
_STAND_OPEN = Way(fans=True, stand_open=True)
_BOTH = Way(fans=True, chiller=True)
# What opening something has to bring before it counts as what limits the fans: a step of the setpoint, ours.
_WORTH_OPENING_K = 0.3
# So near the salt wet bulb more air brings little: what limits the fans is the damp.  Ours.
_NEXT_TO_SALT_WET_BULB_K = 2.0
# The account shows tenths: what it does not show above the setpoint is held.
_HELD_K = 0.1


def make_plan(tank: TankPlan, series: HourlyWeather | None = None) -> Plan:
    """Return the plan.

    Args:
        tank: what the keeper says of it.
        series: the hours of the file its weather names; of no meaning for a design day.

    Raises:
        ValueError: the tank's weather is a file, and `series` is `None`.
    """
    if isinstance(tank.weather, DesignDayPlan):
        weather, used = design_day(tank.weather, tank)
    elif series is not None:
        weather, used = _worse_for_the_water(*series_days(series, tank), tank)
    else:
        raise ValueError(f"the hours of {tank.weather.file} are needed, and were not given")
    outside = [air.air_c for air in weather.steps]
    if min(outside) < COLDEST_C or max(outside) > HOTTEST_C:
        why = f"the air outdoors is {min(outside):.0f} to {max(outside):.0f} °C; the model was checked "
        return _unjudged(tank, used, CannotJudge(why + "from 5 to 45 °C"))
    calibration = calibrated(tank, weather)
    if isinstance(calibration, CannotJudge):
        return _unjudged(tank, used, calibration)
    study = Study(tank, weather, calibration.scale, calibration.uncertainty)
    return _judged(used, calibration, study)


def _worse_for_the_water(
    hottest: tuple[DayWeather, WeatherUsed], muggiest: tuple[DayWeather, WeatherUsed], tank: TankPlan
) -> tuple[DayWeather, WeatherUsed]:
    """Return the day on which the water left to itself gets warmer: a dry hot day may be the easier one."""
    on_hottest, on_muggiest = (
        Study(tank, weather, 1.0, 0.0).machine().course(NOTHING) for weather, _ in (hottest, muggiest)
    )
    if isinstance(on_hottest, CannotJudge) or isinstance(on_muggiest, CannotJudge):
        return hottest
    return muggiest if on_muggiest.peak_c > on_hottest.peak_c else hottest


def _judged(used: WeatherUsed, calibration: Calibration, study: Study) -> Plan:
    tank = study.tank
    bare = study.machine()
    nothing = bare.course(NOTHING)
    if isinstance(nothing, CannotJudge):
        return _unjudged(tank, used, nothing)
    nothing_peak_c = study.peak_c(NOTHING)
    fans = _fans(study, bare)
    chiller, machine, chilled = chiller_for(study)
    both: Course | CannotJudge = CannotJudge("there is no chiller that could run beside the fans")
    if isinstance(fans, CannotJudge):
        both = fans
    elif machine is not None:
        both = machine.course(_BOTH)
    verdict = _verdict(tank, nothing_peak_c, fans, chiller)
    return Plan(
        tank=tank,
        weather=used,
        calibration=calibration,
        verdict=verdict,
        nothing=nothing,
        nothing_peak_c=nothing_peak_c,
        time_constant_h=bare.time_constant_h(),
        lights_off=bare.course(Way(lit=False)),
        fans=fans,
        fans_heat_above=_damp_airs(tank),
        chiller=chiller,
        both=both,
        time_left=_time_left(tank, verdict.option, bare, machine, chilled),
        currents=currents_of(tank.chiller, tank.switch),
    )


def _unjudged(tank: TankPlan, used: WeatherUsed, cannot: CannotJudge) -> Plan:
    return Plan(
        tank=tank,
        weather=used,
        calibration=Calibration(tank.measured_topoff_l_day, 1.0, UNCERTAINTY),
        verdict=Verdict(Advice.CANNOT_JUDGE, None, cannot.why),
        nothing=cannot,
        nothing_peak_c=None,
        time_constant_h=None,
        lights_off=cannot,
        fans=cannot,
        fans_heat_above=_damp_airs(tank),
        chiller=cannot,
        both=cannot,
        time_left=None,
        currents=currents_of(tank.chiller, tank.switch),
    )


def _damp_airs(tank: TankPlan) -> tuple[DampAir, ...]:
    return damp_airs(tank.hold_c, pressure_at_pa(tank.altitude_m), tank.salinity)


def _fans(study: Study, bare: Machine) -> Fans | CannotJudge:
    tank = study.tank
    if tank.fans.count == 0:
        return CannotJudge("no fans are named")
    if tank.fans.air_m_s > FASTEST_AIR_M_S:
        return CannotJudge(
            f"air at {tank.fans.air_m_s:g} m/s over the water: no measurement supports the equation above "
            f"{FASTEST_AIR_M_S:g} m/s; give the speed at the water, not at the fan's outlet"
        )
    course = bare.course(_WITH_FANS)
    peak_c = study.peak_c(_WITH_FANS)
    if isinstance(course, CannotJudge):
        return course
    if peak_c is None:
        return CannotJudge("at one end of the evaporation's uncertainty the water leaves the model's range")
    room_opened = bare.course(_ROOM_OPEN)
    stand_opened = None if tank.stand is None else bare.course(_STAND_OPEN)
    return Fans(
        course=course,
        peak_c=peak_c,
        limit=_fan_limit(tank, course, room_opened, stand_opened),
        room_opened=room_opened,
        room_opened_peak_c=study.peak_c(_ROOM_OPEN),
        stand_opened=stand_opened,
    )


def _fan_limit(
    tank: TankPlan,
    course: Course,
    room_opened: Course | CannotJudge,
    stand_opened: Course | CannotJudge | None,
) -> FanLimit:
    if course.peak_c <= tank.hold_c + _HELD_K:
        return FanLimit.NONE
    limit_c = course.salt_wet_bulb_peak_c
    opened_c = room_opened.salt_wet_bulb_peak_c if isinstance(room_opened, Course) else None
    if limit_c is None or (opened_c is not None and min(limit_c, opened_c) > tank.hold_c):
        return FanLimit.HUMIDITY
    brought_k = {FanLimit.ROOM: 0.0, FanLimit.STAND: 0.0}
    if isinstance(room_opened, Course):
        brought_k[FanLimit.ROOM] = course.peak_c - room_opened.peak_c
    if isinstance(stand_opened, Course):
        brought_k[FanLimit.STAND] = course.peak_c - stand_opened.peak_c
    most = max(brought_k, key=lambda limit: brought_k[limit])
    if brought_k[most] >= _WORTH_OPENING_K:
        return most
    return FanLimit.HUMIDITY if course.peak_c - limit_c < _NEXT_TO_SALT_WET_BULB_K else FanLimit.STRENGTH


def _verdict(
    tank: TankPlan,
    nothing_peak_c: Spread | None,
    fans: Fans | CannotJudge,
    chiller: Chiller,
) -> Verdict:
    """Return the least that holds the water within the safe band, whatever the evaporation."""
    high_c = tank.safe_band.high_c
    if nothing_peak_c is not None and nothing_peak_c.high <= high_c:
        return Verdict(Advice.NEITHER, Option.NOTHING)
    if isinstance(fans, Fans):
        opened_c = fans.room_opened_peak_c
        if fans.peak_c.high <= high_c:
            return Verdict(Advice.FANS, Option.FANS)
        if opened_c is not None and opened_c.high <= high_c:
            return Verdict(Advice.OPEN_DOORS, Option.FANS)
        if fans.peak_c.best <= high_c:
            return Verdict(Advice.FANS_NOT_SAFELY, Option.FANS)
    if any(isinstance(found, Sited) for found in chiller.sitings.values()):
        return Verdict(Advice.CHILLER, Option.CHILLER)
    return Verdict(Advice.CANNOT_HOLD, None)


def _time_left(
    tank: TankPlan, option: Option | None, bare: Machine, chilled: Machine | None, chilled_day: Day | None
) -> TimeLeft | None:
    """Return the time from the failure of what the plan relies on until the water is out of the band."""
    band = tank.safe_band
    if option is Option.FANS:
        day = bare.day(_WITH_FANS)
        if isinstance(day, Day):
            return TimeLeft(option, bare.soonest_h(day, NOTHING, band.high_c, upwards=True), None)
    if option is Option.CHILLER and chilled is not None and chilled_day is not None:
        return TimeLeft(
            option,
            chilled.soonest_h(chilled_day, NOTHING, band.high_c, upwards=True),
            chilled.soonest_h(chilled_day, Way(chiller=True), band.low_c, upwards=False),
        )
    return None
