"""From the steps of a day to what a keeper asks of it: peaks, hours, litres, kilowatt-hours."""

from reefguard.planning.day import STEP_S, STEPS_A_DAY, Day, Step
from reefguard.planning.found import Course, Electricity, HeatFlows
from reefguard.settings.plan_model import Over, TankPlan
from reefguard.thermal.balance import TankBalance
from reefguard.thermal.moist_air import relative_humidity, salt_wet_bulb_c
from reefguard.thermal.sea_water import salinity_after_loss

_STEPS_AN_HOUR = 3_600 // STEP_S
_STEPS_A_QUARTER = 900 // STEP_S
_J_PER_KWH = 3.6e6
# A fan's effect within this of the salt wet bulb is nothing either way.
_NEXT_TO_NOTHING_K = 0.1


def course_of(day: Day, balance: TankBalance, tank: TankPlan) -> Course:
    """Return what the day comes to.

    Args:
        day: settled.
        balance: it was run with.
        tank: its safe band, and where its fans blow.
    """
    water = (day.before.water_c, *(step.after.water_c for step in day.steps))
    peak_c = max(water)
    band = tank.safe_band
    pressure_pa = balance.plant.pressure_pa
    humidity = tuple(
        min(1.0, relative_humidity(step.after.room_c, step.after.room_ratio, pressure_pa))
        for step in day.steps[::_STEPS_A_QUARTER]
    )
    evaporated_kg = STEP_S * sum(step.flows.evaporation_kg_s for step in day.steps)
    salinity = balance.plant.salinity
    limits = tuple(
        _salt_wet_bulb_c(day.steps[hour * _STEPS_AN_HOUR], balance, tank)
        for hour in range(STEPS_A_DAY // _STEPS_AN_HOUR)
    )
    known = tuple(limit_c for limit_c in limits if limit_c is not None)
    return Course(
        water_c=water[::_STEPS_A_QUARTER],
        peak_c=peak_c,
        peak_hour=water.index(peak_c) * STEP_S / 3_600.0,
        mean_c=sum(water[1:]) / STEPS_A_DAY,
        lowest_c=min(water),
        hours_above_band=sum(water_c > band.high_c for water_c in water[1:]) * STEP_S / 3_600.0,
        hours_below_band=sum(water_c < band.low_c for water_c in water[1:]) * STEP_S / 3_600.0,
        room_peak_c=max(step.after.room_c for step in day.steps),
        room_humidity_mean=sum(humidity) / len(humidity),
        room_humidity_peak=max(humidity),
        evaporation_l_day=evaporated_kg,
        salinity_per_day=salinity_after_loss(salinity, balance.water_kg, evaporated_kg) - salinity,
        heat=_mean_heat(day.steps),
        electricity=_electricity(day.steps, tank),
        salt_wet_bulb_peak_c=max(known) if len(known) == len(limits) else None,
        fan_heating_hours=tuple(
            hour
            for hour, limit_c in enumerate(limits)
            if limit_c is not None
            and limit_c > day.steps[hour * _STEPS_AN_HOUR].after.water_c + _NEXT_TO_NOTHING_K
        ),
    )


def hourly_load_w(day: Day) -> tuple[float, ...]:
    """Return the heat the chiller takes from the water, mean of each hour of the day."""
    taken_w = [step.flows.chiller_w for step in day.steps]
    return tuple(
        sum(taken_w[begin : begin + _STEPS_AN_HOUR]) / _STEPS_AN_HOUR
        for begin in range(0, STEPS_A_DAY, _STEPS_AN_HOUR)
    )


def hourly_duty(day: Day) -> tuple[float, ...]:
    """Return the share of each hour of the day the chiller runs."""
    return tuple(
        sum(step.chiller for step in day.steps[begin : begin + _STEPS_AN_HOUR]) / _STEPS_AN_HOUR
        for begin in range(0, STEPS_A_DAY, _STEPS_AN_HOUR)
    )


def _salt_wet_bulb_c(step: Step, balance: TankBalance, tank: TankPlan) -> float | None:
    """Return it for the air the fans blow over the water; `None` where the formula does not hold."""
    state, plant = step.after, balance.plant
    in_stand = plant.stand is not None and tank.fans.over is Over.SUMP
    air_c, ratio = (state.stand_c, state.stand_ratio) if in_stand else (state.room_c, state.room_ratio)
    if not 5.0 <= air_c <= 50.0:
        return None
    humidity = min(1.0, relative_humidity(air_c, ratio, plant.pressure_pa))
    return salt_wet_bulb_c(air_c, humidity, plant.pressure_pa)


def _mean_heat(steps: tuple[Step, ...]) -> HeatFlows:
    def mean(values: list[float]) -> float:
        return sum(values) / len(values)

    return HeatFlows(
        lights_w=mean([step.flows.lights_w for step in steps]),
        pumps_w=mean([step.flows.pumps_w for step in steps]),
        heater_w=mean([step.flows.heater_w for step in steps]),
        walls_w=mean([step.flows.walls_w for step in steps]),
        surface_w=mean([step.flows.surface_w for step in steps]),
        evaporation_w=mean([step.flows.latent_w for step in steps]),
        chiller_w=0.0 - mean([step.flows.chiller_w for step in steps]),
    )


def _electricity(steps: tuple[Step, ...], tank: TankPlan) -> Electricity:
    fans_w = tank.fans.count * tank.fans.power_w
    return Electricity(
        fans_kwh=sum(step.fans for step in steps) * STEP_S * fans_w / _J_PER_KWH,
        chiller_kwh=sum(step.flows.chiller_electric_w for step in steps) * STEP_S / _J_PER_KWH,
        heater_kwh=sum(step.flows.heater_w for step in steps) * STEP_S / _J_PER_KWH,
    )
