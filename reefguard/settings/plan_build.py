"""From a sheet without problems to a tank plan."""

from reefguard.settings.model import RatedFor, SafeBand, Unit
from reefguard.settings.plan_kinds import Cooling
from reefguard.settings.plan_model import (
    ChillerPlace,
    ChillerPlan,
    DesignDayPlan,
    FansPlan,
    Over,
    Pane,
    Price,
    RoomPlan,
    StandPlan,
    Switch,
    SwitchPlan,
    TankPlan,
    VesselPlan,
    WeatherFilePlan,
)
from reefguard.settings.sheet import Sheet
from reefguard.settings.stages import cut_points

_HEATER_OFF_ABOVE_C = 24.5


def plan_from(sheet: Sheet, at: str = "") -> TankPlan:
    """Return the plan.

    Args:
        sheet: of a plan file, or of the settings.
        at: what its keys begin with: nothing, or `plan.` in the settings.  Name, safe band, hours of the
            lights, the heater's thermostat and the unit have the same keys in both.

    Raises:
        LookupError: a value is missing, which the reader and the rules do not let pass.
    """
    heater_off_above_c = sheet.maybe("heater.off_above", float)
    return TankPlan(
        tank=sheet.must("tank", str),
        safe_band=SafeBand(sheet.must("safe_band.low", float), sheet.must("safe_band.high", float)),
        hold_c=_hold_c(sheet, at),
        litres=sheet.must(f"{at}water.volume", float),
        salinity=sheet.must(f"{at}water.salinity", float),
        measured_topoff_l_day=sheet.maybe(f"{at}water.measured_topoff", float),
        display=_vessel(sheet, f"{at}display"),
        sump=_vessel(sheet, f"{at}sump") if sheet.mentions(f"{at}sump") else None,
        stand=_stand(sheet, f"{at}stand") if sheet.mentions(f"{at}stand") else None,
        lights_w=sheet.must(f"{at}lights.power", float),
        lights_on_s=sheet.must("lights.on", int),
        lights_off_s=sheet.must("lights.off", int),
        lights_to_water=sheet.must(f"{at}lights.into_water", float),
        pumps_w=sheet.must(f"{at}pumps", float),
        fans=_fans(sheet, f"{at}fans"),
        chiller=_chiller(sheet, f"{at}chiller"),
        duty_reserve=sheet.must(f"{at}chiller.runs_at_most", float),
        switch=_switch(sheet, f"{at}switch") if sheet.mentions(f"{at}switch") else None,
        heater_w=sheet.must(f"{at}heater.power", float),
        heater_off_above_c=_HEATER_OFF_ABOVE_C if heater_off_above_c is None else heater_off_above_c,
        room=_room(sheet, f"{at}room"),
        weather=_weather(sheet, f"{at}weather"),
        price=sheet.maybe(f"{at}electricity.price", Price),
        altitude_m=sheet.must(f"{at}altitude", float),
        shown_in=sheet.must("show_temperatures_in", Unit),
    )


def _hold_c(sheet: Sheet, at: str) -> float:
    hold_c = sheet.maybe(f"{at}hold_at", float)
    if hold_c is not None:
        return hold_c
    cut = cut_points(sheet, "chiller") or cut_points(sheet, "fans")
    if cut is None:
        raise LookupError(f"{at}hold_at")
    return (cut.start.value + cut.stop.value) / 2.0


def _vessel(sheet: Sheet, at: str) -> VesselPlan:
    return VesselPlan(
        length_m=sheet.must(f"{at}.length", float),
        width_m=sheet.must(f"{at}.width", float),
        depth_m=sheet.must(f"{at}.depth", float),
        pane=sheet.must(f"{at}.pane", Pane),
        thickness_m=sheet.must(f"{at}.thickness", float),
        lid=sheet.must(f"{at}.lid", float),
        agitation=sheet.must(f"{at}.surface", float),
    )


def _stand(sheet: Sheet, at: str) -> StandPlan:
    return StandPlan(
        conductance_w_k=sheet.must(f"{at}.conductance", float),
        vented_m3_h=sheet.must(f"{at}.vented", float),
        open_vented_m3_h=sheet.must(f"{at}.vented_open", float),
    )


def _fans(sheet: Sheet, at: str) -> FansPlan:
    return FansPlan(
        count=sheet.must(f"{at}.count", int),
        air_m_s=sheet.must(f"{at}.air_speed", float),
        swept=sheet.must(f"{at}.swept", float),
        power_w=sheet.must(f"{at}.power", float),
        over=sheet.must(f"{at}.over", Over),
    )


def _chiller(sheet: Sheet, at: str) -> ChillerPlan:
    capacity = sheet.maybe(f"{at}.capacity", Cooling)
    return ChillerPlan(
        capacity_w=None if capacity is None else capacity.capacity_w,
        from_label_hp=capacity is not None and capacity.from_label_hp,
        rated_water_c=sheet.must(f"{at}.rated_water", float),
        rated_air_c=sheet.must(f"{at}.rated_air", float),
        place=sheet.must(f"{at}.place", ChillerPlace),
        running_current_a=_current(sheet, at, "running_current"),
        starting_current_a=_current(sheet, at, "starting_current"),
    )


def _current(sheet: Sheet, at: str, which: str) -> float | None:
    """Return a current of the chiller's plate: the plan's, or else what the settings say of it."""
    planned = sheet.maybe(f"{at}.{which}", float)
    return sheet.maybe(f"chiller.electrical.{which}", float) if planned is None else planned


def _switch(sheet: Sheet, at: str) -> SwitchPlan:
    return SwitchPlan(
        kind=sheet.must(f"{at}.kind", Switch),
        rating_a=sheet.must(f"{at}.rating", float),
        rated_for=sheet.must(f"{at}.rated_for", RatedFor),
    )


def _room(sheet: Sheet, at: str) -> RoomPlan:
    return RoomPlan(
        volume_m3=sheet.must(f"{at}.volume", float),
        air_changes_per_h=sheet.must(f"{at}.air_changes", float),
        open_air_changes_per_h=sheet.must(f"{at}.air_changes_open", float),
        conductance_w_k=sheet.maybe(f"{at}.conductance", float),
        other_gains_w=sheet.must(f"{at}.other_gains", float),
        heated_to_c=sheet.maybe(f"{at}.heated_to", float),
    )


def _weather(sheet: Sheet, at: str) -> DesignDayPlan | WeatherFilePlan:
    file = sheet.maybe(f"{at}.file", str)
    if file is not None:
        return WeatherFilePlan(file)
    return DesignDayPlan(
        hottest_c=sheet.must(f"{at}.hottest", float),
        coolest_c=sheet.must(f"{at}.coolest", float),
        relative_humidity=sheet.must(f"{at}.humidity", float),
    )
