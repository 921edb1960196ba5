"""What a settings file says once it has been read: plain, frozen, in SI and Celsius.

The reader fills these; nothing here checks anything (`rules` does) and
nothing here knows YAML.
"""

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reefguard.settings.link_model import LinkSettings
    from reefguard.settings.plan_model import TankPlan


class Unit(Enum):
    """The unit temperatures are shown in; inside, all is Celsius."""

    CELSIUS = "°C"
    FAHRENHEIT = "°F"

    def of(self, celsius: float) -> float:
        """Return a temperature in this unit (NIST SP 811, appendix B.8).

        >>> Unit.FAHRENHEIT.of(25.0)
        77.0
        """
        return celsius if self is Unit.CELSIUS else celsius * 1.8 + 32.0

    def step_of(self, kelvin: float) -> float:
        """Return a difference of temperatures in this unit: it has no 32 in it."""
        return kelvin if self is Unit.CELSIUS else kelvin * 1.8


class Contact(Enum):
    """Which contact of the relay the load hangs on."""

    NORMALLY_OPEN = "normally open"
    NORMALLY_CLOSED = "normally closed"


@dataclass(frozen=True, slots=True)
class Wiring:
    """How a load is reached from a pin.

    Attributes:
        pin: the GPIO number of the chip (17 for GPIO17), never the header position.
        active_high: whether a high level energises the relay.
        contact: whether energising closes (normally open) or opens the load's circuit.
    """

    pin: int
    active_high: bool = True
    contact: Contact = Contact.NORMALLY_OPEN

    def electrical_level(self, *, load_on: bool) -> bool:
        """Return the level of the pin (True is high) that has the load on or off."""
        energised = load_on == (self.contact is Contact.NORMALLY_OPEN)
        return energised == self.active_high


@dataclass(frozen=True, slots=True)
class SensedInput:
    """A contact that reports something.  It must be pulled to 3.3 V or ground, never higher."""

    pin: int
    active_high: bool = True


@dataclass(frozen=True, slots=True)
class SafeBand:
    """Where the animals are well."""

    low_c: float
    high_c: float


# How far outside the safe band hours count.  The trade's upper limit of 28 to 29 degrees C for a reef lies
# about a degree above where keepers set their bands (common practice).
FAR_OUTSIDE_C = 1.0


@dataclass(frozen=True, slots=True)
class WaterProbe:
    """A 1-wire probe in the water.

    Attributes:
        name: what the keeper calls it.
        rom_id: the kernel's name of it, `28-0123456789ab`.
        offset_c: added to its raw value once the checks have passed.
    """

    name: str
    rom_id: str
    offset_c: float = 0.0


@dataclass(frozen=True, slots=True)
class RoomAirSource:
    """Where the air over the tank is measured.

    Attributes:
        rom_id: a 1-wire probe in the air.
        humidity_file: a file of the kernel's IIO system, thousandths of a per cent, or `None`.
    """

    rom_id: str
    humidity_file: str | None = None


@dataclass(frozen=True, slots=True)
class Trust:
    """When a reading is believed.

    Attributes:
        stale_after_s: a probe without a good reading for this long is not used.
        trusted_after_s: a probe must be in order this long before it is used (again).
        schedule_after_s: without any trusted reading for this long, the mode is schedule.
        frozen_after_s: a probe that repeats one value for this long is not used.
        fastest_c_per_min: water does not change faster.
        disagreement_c: two probes further apart than this disagree.
    """

    stale_after_s: float = 60.0
    trusted_after_s: float = 60.0
    schedule_after_s: float = 180.0
    frozen_after_s: float = 86_400.0
    fastest_c_per_min: float = 1.0
    disagreement_c: float = 1.0


@dataclass(frozen=True, slots=True)
class CutPoints:
    """A two-position control that cools: on at or above `cut_in_c`, off at or below `cut_out_c`."""

    cut_in_c: float
    cut_out_c: float

    @property
    def differential_c(self) -> float:
        """The distance between the two."""
        return self.cut_in_c - self.cut_out_c


@dataclass(frozen=True, slots=True)
class FanSpeed:
    """A fan whose speed follows the water, by pulse-width modulation of its pin.

    Attributes:
        frequency_hz: of the pulses; made by software, 10 kHz at most.
        slowest: the share it turns at when the stage cuts in, 0 to 1.
        full_c: the water temperature at which it turns at full speed.
    """

    frequency_hz: float
    slowest: float
    full_c: float


@dataclass(frozen=True, slots=True)
class Fan:
    """One fan over the water.

    Attributes:
        runs_at_rest: what it does when the guard is stopped or dead.
        out_of_service: a person has taken it out of use.
    """

    name: str
    wiring: Wiring
    runs_at_rest: bool = False
    out_of_service: bool = False
    speed: FanSpeed | None = None


class Staging(Enum):
    """How several fans share the work."""

    TOGETHER = "together"
    LEAD_LAG = "lead and lag"


@dataclass(frozen=True, slots=True)
class FanStage:
    """All fans, and when they run.

    Attributes:
        lag_step_c: how much warmer each further fan waits for (lead and lag only).
        rotate_after_s: how much longer the lead may have run than the next before they change places.
        all_day_s: a fan that ran this long without a rest is worth a finding.
        heat_margin_c: fans rest unless the water is this much warmer than the air can cool it to.
    """

    cut: CutPoints
    fans: tuple[Fan, ...]
    staging: Staging = Staging.TOGETHER
    lag_step_c: float = 0.3
    rotate_after_s: float = 43_200.0
    all_day_s: float = 86_400.0
    heat_margin_c: float = 1.0


class RatedFor(Enum):
    """What a switching device's rating in ampere was given for."""

    RESISTIVE = "resistive load"
    MOTOR = "motor load"


@dataclass(frozen=True, slots=True)
class Electrical:
    """The chiller's currents and what switches them; only `check` reads this."""

    running_current_a: float | None = None
    starting_current_a: float | None = None
    rating_a: float | None = None
    rated_for: RatedFor = RatedFor.RESISTIVE


@dataclass(frozen=True, slots=True)
class Chiller:
    """The chiller, and what its compressor needs.

    Attributes:
        minimum_off_s: between a stop and the next start.
        minimum_on_s: between a start and an ordinary stop; no protection waits for it.
        start_to_start_s: between a start and the next start; 0 sets no limit.
        longest_run_s: a longer run is worth a finding.
        cutoff_status: the cutoff's status file, or `None` when the cutoff lives elsewhere.
        cutoff_silent_after_s: a status file older than this is a silent cutoff.
        proof_test_every_days: how long a passed proof test counts; `None` asks for none.
    """

    wiring: Wiring
    cut: CutPoints
    minimum_off_s: float = 300.0
    minimum_on_s: float = 120.0
    start_to_start_s: float = 600.0
    longest_run_s: float = 14_400.0
    out_of_service: bool = False
    cutoff_status: str | None = "/run/reefguard-cutoff/status.json"
    cutoff_silent_after_s: float = 30.0
    proof_test_every_days: float | None = 90.0
    running_input: SensedInput | None = None
    flow_input: SensedInput | None = None
    electrical: Electrical | None = None


@dataclass(frozen=True, slots=True)
class Lights:
    """When the lights are on, for the fans' fallback.

    Attributes:
        on_s: seconds after midnight.
        off_s: seconds after midnight; at or before `on_s` means the next day.
        after_run_s: how long the fans run on after lights-off.
        utc_offset_s: a fixed offset for lamp timers without daylight saving; `None` is local time.
        sense: an input that sees the lights; it outranks the hours.
        fans_run_when_time_unknown: what the fans do when neither tells.
    """

    on_s: int
    off_s: int
    after_run_s: float = 3_600.0
    utc_offset_s: int | None = None
    sense: SensedInput | None = None
    fans_run_when_time_unknown: bool = True


@dataclass(frozen=True, slots=True)
class Settings:
    """One tank's settings, whole.

    Attributes:
        clock_always_right: a person vouches for the clock (a battery-backed one); else it
            must have been set over the network since boot.
        one_wire_pins: the pins the 1-wire buses own.
        heater_off_above_c: what the tank's own heater thermostat is set to, for `check` only.
        plan: the tank for `plan` and `rehearse`; the guard itself does not use it.
        link: who is told, and how; the guard itself does not use it.
    """

    tank: str
    safe_band: SafeBand
    water_probes: tuple[WaterProbe, ...]
    lights: Lights
    fans: FanStage | None = None
    chiller: Chiller | None = None
    room_air: RoomAirSource | None = None
    trust: Trust = Trust()
    shown_in: Unit = Unit.CELSIUS
    sampling_s: float = 5.0
    clock_always_right: bool = False
    one_wire_directory: str = "/sys/bus/w1/devices"
    one_wire_pins: tuple[int, ...] = (4,)
    state_directory: str = "/var/lib/reefguard"
    runtime_directory: str = "/run/reefguard"
    heater_off_above_c: float | None = None
    plan: "TankPlan | None" = None
    link: "LinkSettings | None" = None
