"""What a tank, its room and its coolers are made of: plain numbers in SI units.

outdoors ── room ── stand (a closed cabinet below the tank, where there is one)
              │        │
           display    sump          one body of water, well mixed by its pump
"""

from dataclasses import dataclass
from enum import Enum

from reefguard.thermal.moist_air import STANDARD_PRESSURE_PA
from reefguard.thermal.refrigeration import ChillerTraits
from reefguard.thermal.sea_water import NATURAL_SALINITY
from reefguard.thermal.walls import Walls
from reefguard.thermal.water_surface import AGITATION


@dataclass(frozen=True, slots=True)
class Vessel:
    """A part of the tank that stands in one air: the display, or the sump.

    Attributes:
        open_m2: water surface open to the air, what a lid covers left out.
        walls: the upright panes, or `None` where they are insulated.
        agitation: activity factor of the still-air evaporation.
    """

    open_m2: float
    walls: Walls | None
    agitation: float = AGITATION


@dataclass(frozen=True, slots=True)
class FanTraits:
    """A fan that blows over the water.

    Attributes:
        air_m_s: air speed at the water, at full speed.
        swept: share of that vessel's open surface it blows over, 0 to 1.
        power_w: electrical.
        over_sump: over the sump instead of the display.
    """

    air_m_s: float
    swept: float
    power_w: float = 3.0
    over_sump: bool = False


@dataclass(frozen=True, slots=True)
class Room:
    """The room, and what it exchanges with outdoors.

    Attributes:
        volume_m3: of its air.
        conductance_w_k: through its envelope to outdoors.
        air_changes_per_h: with doors and windows as they usually are.
        open_air_changes_per_h: with them open.
        other_gains_w: people, machines, sun through the window.
        heated_to_c: its heating keeps it at least this warm; `None` without heating.
        furnishing: how many times the air's own heat capacity follows the air (common practice: 5).
    """

    volume_m3: float
    conductance_w_k: float
    air_changes_per_h: float = 0.5
    open_air_changes_per_h: float = 5.0
    other_gains_w: float = 0.0
    heated_to_c: float | None = None
    furnishing: float = 5.0


@dataclass(frozen=True, slots=True)
class Stand:
    """A cabinet below the tank, with air of its own.

    Attributes:
        conductance_w_k: through its walls to the room (a wooden one: 5 to 8).
        vented_m3_h: air exchanged with the room, doors shut.
        open_vented_m3_h: with its doors open.
        volume_m3: of its air.
        heat_capacity_j_k: of what follows the air inside.
    """

    conductance_w_k: float
    vented_m3_h: float
    open_vented_m3_h: float = 200.0
    volume_m3: float = 0.4
    heat_capacity_j_k: float = 15_000.0


class Siting(Enum):
    """Where the chiller throws its heat."""

    ROOM = "in the room"
    STAND = "in the closed stand"
    OUTSIDE = "outdoors"


@dataclass(frozen=True, slots=True)
class Plant:
    """A tank, whole.

    Attributes:
        litres: of water, sump included.
        display: the part in the room.
        room: around it; a terrace is a room with very many air changes.
        lights_w: electrical, at full light.
        pumps_w: electrical, of pumps in the water: all of it ends there.
        sump: the part below, or `None`.
        stand: the cabinet, or `None` where the sump stands in the room's air.
        lights_to_water: share of the lights' power that ends in the water; the rest warms the room.
        fans: over the water.
        chiller: or `None`.
        siting: where the chiller's heat goes.
        heater_w: of the tank's own heater.
        heater_off_above_c: what its own thermostat is set to.
        salinity: practical salinity of the water.
        pressure_pa: of the air.
        exchange_scale: by how much the surface exchanges more than the equation says; calibrated by
            measured top-off.
    """

    litres: float
    display: Vessel
    room: Room
    lights_w: float
    pumps_w: float
    sump: Vessel | None = None
    stand: Stand | None = None
    lights_to_water: float = 0.6
    fans: tuple[FanTraits, ...] = ()
    chiller: ChillerTraits | None = None
    siting: Siting = Siting.ROOM
    heater_w: float = 0.0
    heater_off_above_c: float = 24.5
    salinity: float = NATURAL_SALINITY
    pressure_pa: float = STANDARD_PRESSURE_PA
    exchange_scale: float = 1.0
