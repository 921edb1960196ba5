"""What a day comes to, and what the model cannot say: plain values in SI units and Celsius.

What it cannot say is a type of its own, never a number that looks like an answer.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CannotJudge:
    """The model would leave the range it holds in.

    Attributes:
        why: in words for a person.
    """

    why: str


@dataclass(frozen=True, slots=True)
class RunsAway:
    """A chiller in a closed cabinet breathes its own heat until its protection stops it: no equilibrium.

    Attributes:
        load_w: it was to take from the water when it stopped.
        trips_at_air_c: air at which it stops.
        vent_m3_h: air that has to pass through the cabinet to keep it within 5 K of the room, at that load.
    """

    load_w: float
    trips_at_air_c: float
    vent_m3_h: float


@dataclass(frozen=True, slots=True)
class Spread:
    """A value, and what it becomes when the evaporation is at the ends of its uncertainty."""

    low: float
    best: float
    high: float


@dataclass(frozen=True, slots=True)
class HeatFlows:
    """Mean heat flows into the water over the day, watts; what cools is negative."""

    lights_w: float
    pumps_w: float
    heater_w: float
    walls_w: float
    surface_w: float
    evaporation_w: float
    chiller_w: float


@dataclass(frozen=True, slots=True)
class Electricity:
    """What cooling and heating the water draw in the day."""

    fans_kwh: float
    chiller_kwh: float
    heater_kwh: float

    @property
    def total_kwh(self) -> float:
        """Fans, chiller and heater together; lights and pumps run in any case."""
        return self.fans_kwh + self.chiller_kwh + self.heater_kwh


@dataclass(frozen=True, slots=True)
class Course:
    """The design day under one option.

    Attributes:
        water_c: every quarter of an hour from midnight to midnight, 97 values.
        peak_c: hottest.
        peak_hour: hours after midnight of the hottest.
        mean_c: over the day.
        lowest_c: coldest.
        hours_above_band: hours of the day above the safe band.
        hours_below_band: hours of the day below it.
        room_peak_c: hottest air of the room.
        room_humidity_mean: relative humidity of the room, mean, a share.
        room_humidity_peak: its highest.
        evaporation_l_day: fresh water lost, which is the top-off.
        salinity_per_day: by how much practical salinity rises in a day without top-off.
        heat: mean flows into the water.
        electricity: of cooling and heating.
        salt_wet_bulb_peak_c: highest salt wet bulb of the air the fans blow; `None` where it leaves
            the range of the formula.
        fan_heating_hours: hours of the day, 0 to 23, in which a fan warms the water rather than cools it.
    """

    water_c: tuple[float, ...]
    peak_c: float
    peak_hour: float
    mean_c: float
    lowest_c: float
    hours_above_band: float
    hours_below_band: float
    room_peak_c: float
    room_humidity_mean: float
    room_humidity_peak: float
    evaporation_l_day: float
    salinity_per_day: float
    heat: HeatFlows
    electricity: Electricity
    salt_wet_bulb_peak_c: float | None
    fan_heating_hours: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class LongerThan:
    """It takes longer than the model was run for."""

    hours: float
