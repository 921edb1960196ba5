"""From what a keeper says of a tank to a plant whose balance can be drawn."""

from reefguard.settings.plan_model import ChillerPlace, Over, Pane, RoomPlan, StandPlan, TankPlan, VesselPlan
from reefguard.thermal.moist_air import pressure_at_pa
from reefguard.thermal.plant import FanTraits, Plant, Room, Siting, Stand, Vessel
from reefguard.thermal.refrigeration import ChillerTraits
from reefguard.thermal.walls import Material, Walls

# A room loses heat outdoors and to the rooms around it, which follow the mean outdoors: about a watt
# a kelvin for each cubic metre (common practice, no source).
ROOM_W_K_M3 = 1.2
# What of the building follows the air within hours: 80 kJ/K for each square metre of floor, "very light"
# in ISO 13790:2008, table 12 (from memory), under a ceiling of 2.5 m; here as a multiple of the air's own.
ROOM_FURNISHING = 27.0

SITINGS = {
    ChillerPlace.ROOM: Siting.ROOM,
    ChillerPlace.STAND: Siting.STAND,
    ChillerPlace.OUTSIDE: Siting.OUTSIDE,
}

_PANES = {Pane.GLASS: Material.GLASS, Pane.ACRYLIC: Material.ACRYLIC}


def plant_of(
    tank: TankPlan,
    *,
    exchange_scale: float = 1.0,
    capacity_w: float | None = None,
    siting: Siting | None = None,
) -> Plant:
    """Return the plant.

    Args:
        tank: as the keeper says.
        exchange_scale: on the exchange of the water's surface.
        capacity_w: nominal capacity of the chiller; `None` for no chiller.
        siting: where it stands; `None` for where the keeper says.
    """
    sump = None if tank.sump is None else _vessel(tank.sump)
    siting = SITINGS[tank.chiller.place] if siting is None else siting
    # A chiller asked about in a closed stand that is not there is put in a usual one.
    cabinet = StandPlan() if tank.stand is None and siting is Siting.STAND else tank.stand
    stand = None
    if cabinet is not None:
        stand = Stand(cabinet.conductance_w_k, cabinet.vented_m3_h, open_vented_m3_h=cabinet.open_vented_m3_h)
    fans = tuple(
        FanTraits(
            tank.fans.air_m_s,
            min(tank.fans.swept, 1.0 / tank.fans.count),  # together they sweep the surface once at most
            tank.fans.power_w,
            over_sump=tank.fans.over is Over.SUMP,
        )
        for _ in range(tank.fans.count)
    )
    return Plant(
        litres=tank.litres,
        display=_vessel(tank.display),
        room=_room(tank.room),
        lights_w=tank.lights_w,
        pumps_w=tank.pumps_w,
        sump=sump,
        stand=stand,
        lights_to_water=tank.lights_to_water,
        fans=fans,
        chiller=None if capacity_w is None else chiller_of(tank, capacity_w),
        siting=siting,
        heater_w=tank.heater_w,
        heater_off_above_c=tank.heater_off_above_c,
        salinity=tank.salinity,
        pressure_pa=pressure_at_pa(tank.altitude_m),
        exchange_scale=exchange_scale,
    )


def chiller_of(tank: TankPlan, capacity_w: float) -> ChillerTraits:
    """Return a chiller of that capacity at the rating temperatures the keeper gave."""
    return ChillerTraits(
        capacity_w, rated_water_c=tank.chiller.rated_water_c, rated_air_c=tank.chiller.rated_air_c
    )


def _vessel(vessel: VesselPlan) -> Vessel:
    upright = Walls(
        area_m2=2.0 * (vessel.length_m + vessel.width_m) * vessel.depth_m,
        height_m=vessel.depth_m,
        thickness_m=vessel.thickness_m,
        material=_PANES[vessel.pane],
    )
    return Vessel(vessel.length_m * vessel.width_m * (1.0 - vessel.lid), upright, vessel.agitation)


def _room(room: RoomPlan) -> Room:
    conductance_w_k = room.conductance_w_k
    return Room(
        volume_m3=room.volume_m3,
        conductance_w_k=ROOM_W_K_M3 * room.volume_m3 if conductance_w_k is None else conductance_w_k,
        air_changes_per_h=room.air_changes_per_h,
        open_air_changes_per_h=room.open_air_changes_per_h,
        other_gains_w=room.other_gains_w,
        heated_to_c=room.heated_to_c,
        furnishing=ROOM_FURNISHING,
    )
