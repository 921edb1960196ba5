"""From a sheet without problems to the settings."""

from reefguard.settings.link_build import link_from
from reefguard.settings.model import (
    Chiller,
    Contact,
    CutPoints,
    Electrical,
    Fan,
    FanSpeed,
    FanStage,
    Lights,
    RatedFor,
    RoomAirSource,
    SafeBand,
    SensedInput,
    Settings,
    Staging,
    Trust,
    Unit,
    WaterProbe,
    Wiring,
)
from reefguard.settings.plan_build import plan_from
from reefguard.settings.sheet import Sheet
from reefguard.settings.stages import cut_points


def settings_from(sheet: Sheet) -> Settings:
    """Return the settings.

    Raises:
        LookupError: a value is missing, which the reader and the rules do not let pass.
    """
    probes = tuple(_water_probe(sheet, name) for name in sheet.names("water_probes"))
    return Settings(
        tank=sheet.must("tank", str),
        safe_band=SafeBand(sheet.must("safe_band.low", float), sheet.must("safe_band.high", float)),
        water_probes=probes,
        lights=_lights(sheet),
        fans=_fan_stage(sheet) if sheet.mentions("fans") else None,
        chiller=_chiller(sheet) if sheet.mentions("chiller") else None,
        room_air=_room_air(sheet) if sheet.mentions("room_air") else None,
        trust=_trust(sheet),
        shown_in=sheet.must("show_temperatures_in", Unit),
        sampling_s=sheet.must("sampling", float),
        clock_always_right=sheet.must("clock", bool),
        one_wire_directory=sheet.must("one_wire_directory", str),
        one_wire_pins=sheet.must("one_wire_pins", tuple),
        state_directory=sheet.must("state_directory", str),
        runtime_directory=sheet.must("runtime_directory", str),
        heater_off_above_c=sheet.maybe("heater.off_above", float),
        plan=plan_from(sheet, "plan.") if sheet.mentions("plan") else None,
        link=link_from(sheet),
    )


def _water_probe(sheet: Sheet, name: str) -> WaterProbe:
    at = f"water_probes.{name}"
    return WaterProbe(name, sheet.must(f"{at}.id", str), sheet.must(f"{at}.offset", float))


def _room_air(sheet: Sheet) -> RoomAirSource:
    return RoomAirSource(sheet.must("room_air.id", str), sheet.maybe("room_air.humidity_file", str))


def _trust(sheet: Sheet) -> Trust:
    return Trust(
        stale_after_s=sheet.must("trust.stale_after", float),
        trusted_after_s=sheet.must("trust.trusted_after", float),
        schedule_after_s=sheet.must("trust.schedule_after", float),
        frozen_after_s=sheet.must("trust.frozen_after", float),
        fastest_c_per_min=sheet.must("trust.fastest_change", float),
        disagreement_c=sheet.must("trust.disagreement", float),
    )


def _wiring(sheet: Sheet, at: str) -> Wiring:
    return Wiring(
        pin=sheet.must(f"{at}.pin", int),
        active_high=sheet.must(f"{at}.polarity", bool),
        contact=sheet.must(f"{at}.contact", Contact),
    )


def _sensed(sheet: Sheet, at: str) -> SensedInput | None:
    if not sheet.mentions(at):
        return None
    return SensedInput(sheet.must(f"{at}.pin", int), sheet.must(f"{at}.active", bool))


def _cut(sheet: Sheet, stage: str) -> CutPoints:
    cut = cut_points(sheet, stage)
    if cut is None:
        raise LookupError(stage)
    return CutPoints(cut.start.value, cut.stop.value)


def _fan_stage(sheet: Sheet) -> FanStage:
    return FanStage(
        cut=_cut(sheet, "fans"),
        fans=tuple(_fan(sheet, name) for name in sheet.names("fans.units")),
        staging=sheet.must("fans.staging", Staging),
        lag_step_c=sheet.must("fans.lag_step", float),
        rotate_after_s=sheet.must("fans.rotate_after", float),
        all_day_s=sheet.must("fans.all_day", float),
        heat_margin_c=sheet.must("fans.heat_margin", float),
    )


def _fan(sheet: Sheet, name: str) -> Fan:
    at = f"fans.units.{name}"
    return Fan(
        name=name,
        wiring=_wiring(sheet, at),
        runs_at_rest=sheet.must(f"{at}.at_rest", bool),
        out_of_service=sheet.must(f"{at}.out_of_service", bool),
        speed=_speed(sheet, f"{at}.speed"),
    )


def _speed(sheet: Sheet, at: str) -> FanSpeed | None:
    if not sheet.mentions(at):
        return None
    return FanSpeed(
        frequency_hz=sheet.must(f"{at}.frequency", float),
        slowest=sheet.must(f"{at}.slowest", float),
        full_c=sheet.must(f"{at}.full_at", float),
    )


def _chiller(sheet: Sheet) -> Chiller:
    return Chiller(
        wiring=_wiring(sheet, "chiller"),
        cut=_cut(sheet, "chiller"),
        minimum_off_s=sheet.must("chiller.minimum_off", float),
        minimum_on_s=sheet.must("chiller.minimum_on", float),
        start_to_start_s=sheet.must("chiller.start_to_start", float),
        longest_run_s=sheet.must("chiller.longest_run", float),
        out_of_service=sheet.must("chiller.out_of_service", bool),
        cutoff_status=sheet.maybe("chiller.cutoff", str),
        cutoff_silent_after_s=sheet.must("chiller.cutoff_silent_after", float),
        proof_test_every_days=sheet.maybe("chiller.proof_test_every", float),
        running_input=_sensed(sheet, "chiller.running_input"),
        flow_input=_sensed(sheet, "chiller.flow_input"),
        electrical=_electrical(sheet) if sheet.mentions("chiller.electrical") else None,
    )


def _electrical(sheet: Sheet) -> Electrical:
    return Electrical(
        running_current_a=sheet.maybe("chiller.electrical.running_current", float),
        starting_current_a=sheet.maybe("chiller.electrical.starting_current", float),
        rating_a=sheet.maybe("chiller.electrical.switch_rating", float),
        rated_for=sheet.must("chiller.electrical.rated_for", RatedFor),
    )


def _lights(sheet: Sheet) -> Lights:
    return Lights(
        on_s=sheet.must("lights.on", int),
        off_s=sheet.must("lights.off", int),
        after_run_s=sheet.must("lights.after_run", float),
        utc_offset_s=sheet.maybe("lights.clock", int),
        sense=_sensed(sheet, "lights.sense"),
        fans_run_when_time_unknown=sheet.must("lights.when_time_unknown", bool),
    )
