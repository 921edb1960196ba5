"""Where a tank stands, what runs, and what flows: the values the balance turns into each other."""

from typing import NamedTuple


class State(NamedTuple):
    """Where the tank stands.

    Attributes:
        water_c: of the water, well mixed.
        room_c: of the room's air.
        room_ratio: humidity ratio of it, kg/kg.
        stand_c: of the air in the stand; the room's where there is none.
        stand_ratio: humidity ratio of it.
        lost_kg: evaporated and not topped off.
    """

    water_c: float
    room_c: float
    room_ratio: float
    stand_c: float
    stand_ratio: float
    lost_kg: float = 0.0


class Drive(NamedTuple):
    """What runs.

    Attributes:
        lights: share of full light.
        fans: level of each fan, 0 to 1, in the order of the plant.
        chiller: whether it has power.
        pumps: share of the pumps that run.
        room_open: doors and windows of the room open.
        stand_open: the stand's doors open.
        topped_off: fresh water replaces what evaporates.
    """

    lights: float = 0.0
    fans: tuple[float, ...] = ()
    chiller: bool = False
    pumps: float = 1.0
    room_open: bool = False
    stand_open: bool = False
    topped_off: bool = True


class Flows(NamedTuple):
    """Mean flows over a step: into the water where not said otherwise, watts and kg/s.

    Attributes:
        evaporation_kg_s: negative where vapour condenses on the water.
        lights_w: of the lights, into the water.
        pumps_w: of the pumps.
        heater_w: of the tank's own heater.
        walls_w: through the panes.
        surface_w: sensible heat and radiation of the surface.
        latent_w: by evaporation, negative when it cools.
        chiller_w: taken out by the chiller (a positive number cools).
        chiller_electric_w: drawn by the chiller.
        rejected_w: thrown out by it, wherever it stands.
        fans_w: drawn by the fans.
        room_in_w: into room and stand from lights, fans, heating and other sources, and from a chiller there.
        outdoors_w: into the room from outdoors, sensible.
        outdoors_vapour_kg_s: into the room from outdoors.
        condensed_kg_s: on the walls of room and stand.
    """

    evaporation_kg_s: float
    lights_w: float
    pumps_w: float
    heater_w: float
    walls_w: float
    surface_w: float
    latent_w: float
    chiller_w: float
    chiller_electric_w: float
    rejected_w: float
    fans_w: float
    room_in_w: float
    outdoors_w: float
    outdoors_vapour_kg_s: float
    condensed_kg_s: float
