"""What a keeper says of a tank when it is planned: plain numbers, in SI and Celsius.

The reader fills these; `planning` turns them into a plant and a weather.
"""

from dataclasses import dataclass, field
from enum import Enum

from reefguard.settings.model import RatedFor, SafeBand, Unit


class Pane(Enum):
    """What the tank's walls are made of."""

    GLASS = "glass"
    ACRYLIC = "acrylic"


class Over(Enum):
    """What a fan blows over."""

    DISPLAY = "display"
    SUMP = "sump"


class ChillerPlace(Enum):
    """Where the chiller stands and throws its heat."""

    ROOM = "room"
    STAND = "stand"
    OUTSIDE = "outside"


class Switch(Enum):
    """What switches the chiller."""

    RELAY = "relay"
    CONTACTOR = "contactor"
    CONTROLLER = "controller"


@dataclass(frozen=True, slots=True)
class VesselPlan:
    """The display or the sump, as far as water stands in it.

    Attributes:
        depth_m: of the water.
        lid: share of the surface under a lid that keeps the air off, 0 to 1.
        agitation: activity factor of the surface: 0.5 calm, 0.75 rippled, 1 strongly rippled.
    """

    length_m: float
    width_m: float
    depth_m: float
    pane: Pane = Pane.GLASS
    thickness_m: float = 0.010
    lid: float = 0.0
    agitation: float = 0.75


@dataclass(frozen=True, slots=True)
class StandPlan:
    """A closed cabinet under the tank, with the sump in it.

    Attributes:
        conductance_w_k: of its walls.
        vented_m3_h: air it exchanges with the room, doors shut.
        open_vented_m3_h: the same with its doors open.
    """

    conductance_w_k: float = 6.0
    vented_m3_h: float = 10.0
    open_vented_m3_h: float = 200.0


@dataclass(frozen=True, slots=True)
class RoomPlan:
    """The room.

    Attributes:
        volume_m3: of its air.
        air_changes_per_h: as it usually is.
        open_air_changes_per_h: doors and windows open.
        conductance_w_k: of its envelope to outdoors; `None` is estimated from the volume.
        other_gains_w: people, machines, sun.
        heated_to_c: what its heating keeps; `None` without.
    """

    volume_m3: float = 50.0
    air_changes_per_h: float = 0.5
    open_air_changes_per_h: float = 5.0
    conductance_w_k: float | None = None
    other_gains_w: float = 100.0
    heated_to_c: float | None = None


@dataclass(frozen=True, slots=True)
class FansPlan:
    """Fans, all alike.

    Attributes:
        air_m_s: air speed at the water, not at the fan's outlet.
        swept: share of the surface each blows over.
        power_w: of each.
    """

    count: int = 2
    air_m_s: float = 1.5
    swept: float = 0.4
    power_w: float = 3.0
    over: Over = Over.DISPLAY


@dataclass(frozen=True, slots=True)
class ChillerPlan:
    """A chiller the keeper owns or thinks of.

    Attributes:
        capacity_w: at its rating; `None` asks the plan to size one.
        from_label_hp: the capacity was read off a bare horsepower label: 30 % either way.
        rated_water_c: water temperature of the rating.
        rated_air_c: air temperature of the rating.
        place: where it stands.
        running_current_a: from its plate.
        starting_current_a: locked-rotor current; `None` is estimated as six times the running current.
    """

    capacity_w: float | None = None
    from_label_hp: bool = False
    rated_water_c: float = 26.0
    rated_air_c: float = 30.0
    place: ChillerPlace = ChillerPlace.ROOM
    running_current_a: float | None = None
    starting_current_a: float | None = None


@dataclass(frozen=True, slots=True)
class SwitchPlan:
    """What switches the chiller, and its rating."""

    kind: Switch
    rating_a: float
    rated_for: RatedFor = RatedFor.RESISTIVE


@dataclass(frozen=True, slots=True)
class DesignDayPlan:
    """A hot day by three numbers: outdoors, in the shade; the humidity is that of the hottest hour."""

    hottest_c: float = 33.0
    coolest_c: float = 22.0
    relative_humidity: float = 0.45


@dataclass(frozen=True, slots=True)
class WeatherFilePlan:
    """A file with a series of hours; relative to the file that names it."""

    file: str


@dataclass(frozen=True, slots=True)
class Price:
    """What a kilowatt-hour costs."""

    per_kwh: float
    currency: str


@dataclass(frozen=True, slots=True)
class TankPlan:
    """A tank to be planned, whole.

    Attributes:
        litres: of water in all; its panes hold at least this much together.
        lights_on_s: seconds after midnight.
        lights_off_s: seconds after midnight; at or before `lights_on_s` means the next day.
        lights_to_water: share of their power that ends in the water.
        hold_c: what the cooling shall hold.
        duty_reserve: the share of the time the chiller may run at the worst hour, at most.
        measured_topoff_l_day: measured evaporation, to calibrate the model by; fans off.
        altitude_m: above the sea.
    """

    tank: str
    litres: float
    display: VesselPlan
    lights_w: float
    lights_on_s: int
    lights_off_s: int
    pumps_w: float
    safe_band: SafeBand
    hold_c: float
    sump: VesselPlan | None = None
    stand: StandPlan | None = None
    room: RoomPlan = field(default_factory=RoomPlan)
    lights_to_water: float = 0.6
    fans: FansPlan = field(default_factory=FansPlan)
    chiller: ChillerPlan = field(default_factory=ChillerPlan)
    switch: SwitchPlan | None = None
    weather: DesignDayPlan | WeatherFilePlan = field(default_factory=DesignDayPlan)
    heater_w: float = 0.0
    heater_off_above_c: float = 24.5
    salinity: float = 35.0
    duty_reserve: float = 0.7
    measured_topoff_l_day: float | None = None
    price: Price | None = None
    altitude_m: float = 0.0
    shown_in: Unit = Unit.CELSIUS
