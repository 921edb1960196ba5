"""A plan, whole: plain values in SI units and Celsius, ready to be told, written or drawn."""

from dataclasses import dataclass
from enum import Enum

from reefguard.planning.found import CannotJudge, Course, LongerThan, RunsAway, Spread
from reefguard.settings.plan_model import TankPlan
from reefguard.thermal.plant import Siting


class Option(Enum):
    """What cools; the words are the trade's."""

    NOTHING = "nothing"
    FANS = "fans"
    CHILLER = "chiller"
    BOTH = "both"


class FanLimit(Enum):
    """What keeps fans from doing more on this day."""

    NONE = "they hold the water"
    STAND = "the closed stand"
    ROOM = "the closed room"
    HUMIDITY = "the humidity outdoors"
    STRENGTH = "too little air over too little water"


@dataclass(frozen=True, slots=True)
class Fans:
    """What fans do.

    Attributes:
        course: the day with them, doors as usual.
        peak_c: its peak, with the evaporation's uncertainty.
        limit: what limits them.
        room_opened: the day with doors and windows of the room open.
        room_opened_peak_c: its peak, with the uncertainty.
        stand_opened: the day with the stand's doors open; `None` without a stand.
    """

    course: Course
    peak_c: Spread
    limit: FanLimit
    room_opened: Course | CannotJudge
    room_opened_peak_c: Spread | None
    stand_opened: Course | CannotJudge | None


@dataclass(frozen=True, slots=True)
class Sited:
    """What holding the water costs with the chiller at one place.

    Attributes:
        load_w: heat to be taken from the water, mean of the worst hour.
        at_hour: that hour begins so many hours after midnight.
        capacity_w: the least nominal capacity, derated and with the duty reserve.
        derating: share of the nominal capacity left at that hour.
        breathed_peak_c: hottest air around the condenser.
        room_peak_c: hottest air of the room.
        electric_kwh: drawn in the day.
    """

    load_w: float
    at_hour: int
    capacity_w: float
    derating: float
    breathed_peak_c: float
    room_peak_c: float
    electric_kwh: float


class Enough(Enum):
    """Whether the keeper's own chiller holds the water."""

    YES = "enough"
    WITHOUT_RESERVE = "enough, without the duty reserve"
    NOT_SURELY = "not surely enough"
    NO = "not enough"


@dataclass(frozen=True, slots=True)
class OwnChiller:
    """The keeper's own chiller, where it stands.

    Attributes:
        capacity_w: nominal.
        label_is_rough: it was read off a bare horsepower label.
        enough: judgement, at the place the plan counts with.
        duty_at_worst: share of the worst hour it runs.
        starts_per_h: the most starts an hour, at half duty and `differential_k`.
        differential_k: of the switching that the estimate assumes.
        peak_c: water's peak with it.
    """

    capacity_w: float
    label_is_rough: bool
    enough: Enough
    duty_at_worst: float
    starts_per_h: float
    differential_k: float
    peak_c: float


@dataclass(frozen=True, slots=True)
class Chiller:
    """What a chiller has to be, and where.

    Attributes:
        place: where the keeper puts it.
        counted_at: the place the values below are for: `place`, or another where it runs away there;
            `None` where it has no equilibrium at any.
        sitings: what each place means.
        capacity_w: the least nominal capacity there, with the uncertainty; `None` where there is none at
            one end of it.
        load_w: the load there at the worst hour, with the uncertainty.
        sized_w: nominal capacity the course assumes: the keeper's own if it holds the water, or the
            least that does at either end of the uncertainty, rounded up.
        course: the day with a chiller of `sized_w` there.
        own: the keeper's own, judged there; `None` where none is named.
    """

    place: Siting
    counted_at: Siting | None
    sitings: dict[Siting, Sited | RunsAway | CannotJudge]
    capacity_w: Spread | None
    load_w: Spread | None
    sized_w: float | None
    course: Course | CannotJudge
    own: OwnChiller | None


@dataclass(frozen=True, slots=True)
class TimeLeft:
    """The time a person has, from the worst hour on.

    Attributes:
        option: whose failure is meant.
        to_high_h: hours until the water is above the safe band after all cooling stopped.
        to_low_h: hours until it is below the band with the chiller stuck on; `None` without a chiller.
    """

    option: Option
    to_high_h: float | LongerThan
    to_low_h: float | LongerThan | None


@dataclass(frozen=True, slots=True)
class Currents:
    """The chiller's currents against what switches it.

    Attributes:
        running_a: continuous.
        starting_a: locked rotor.
        starting_is_estimate: it was taken as six times the running current.
        rating_a: of the switch; `None` without one.
        continuous_a: the most a load of three hours or more may draw by the 80 % rule.
        rated_for_motor: the rating holds for a motor.
    """

    running_a: float
    starting_a: float
    starting_is_estimate: bool
    rating_a: float | None
    continuous_a: float | None
    rated_for_motor: bool

    @property
    def continuous_exceeded(self) -> bool:
        """The running current is above the continuous limit."""
        return self.continuous_a is not None and self.running_a > self.continuous_a

    @property
    def starting_exceeds_resistive(self) -> bool:
        """A rating for resistive loads has to carry a starting current above it."""
        return self.rating_a is not None and not self.rated_for_motor and self.starting_a > self.rating_a


@dataclass(frozen=True, slots=True)
class DampAir:
    """Air in which a fan is useless: damper than this it heats the water.

    Attributes:
        air_c: its temperature.
        humidity: relative, a share.
    """

    air_c: float
    humidity: float


@dataclass(frozen=True, slots=True)
class WeatherUsed:
    """The day the plan was made for.

    Attributes:
        day: its date in the series, or a description.
        hottest_c: outdoors.
        coolest_c: outdoors.
        humidity_at_hottest: relative, a share.
        series_hours: hours of the series; `None` for a design day.
        series_fan_heating_hours: hours in which outdoor air would heat water of the hold temperature.
    """

    day: str
    hottest_c: float
    coolest_c: float
    humidity_at_hottest: float
    series_hours: int | None = None
    series_fan_heating_hours: int | None = None


@dataclass(frozen=True, slots=True)
class Calibration:
    """How the evaporation was set.

    Attributes:
        measured_l_day: by the keeper; `None` without a measurement.
        scale: on the textbook exchange.
        uncertainty: share by which the exchange may still be wrong.
    """

    measured_l_day: float | None
    scale: float
    uncertainty: float


class Advice(Enum):
    """What the plan comes to."""

    NEITHER = "neither fans nor a chiller are needed"
    FANS = "fans will do"
    FANS_NOT_SAFELY = "fans will probably do, not safely"
    OPEN_DOORS = "fans will do with the doors open"
    CHILLER = "a chiller is needed"
    CANNOT_HOLD = "cooling cannot hold this"
    CANNOT_JUDGE = "cannot judge"


@dataclass(frozen=True, slots=True)
class Verdict:
    """The advice; `words.verdict_sentences` says it.

    Attributes:
        advice: what it comes to.
        option: what to rely on; `None` where there is nothing to.
        why: set where the model cannot judge.
    """

    advice: Advice
    option: Option | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything found.

    Attributes:
        tank: what it was made for.
        weather: of the day.
        calibration: of the evaporation.
        verdict: what it comes to.
        nothing: the day without cooling.
        nothing_peak_c: its peak, with the uncertainty.
        time_constant_h: in which the water left to itself follows a change of the weather; `None` where it
            finds no steady state.
        lights_off: the same day without light.
        fans: with fans.
        fans_heat_above: in which air a fan heats water of the hold temperature.
        chiller: with a chiller.
        both: fans first, the chiller for the rest.
        time_left: the time a person has, for the option to rely on; `None` where none is.
        currents: `None` where no current is given.
    """

    tank: TankPlan
    weather: WeatherUsed
    calibration: Calibration
    verdict: Verdict
    nothing: Course | CannotJudge
    nothing_peak_c: Spread | None
    time_constant_h: float | None
    lights_off: Course | CannotJudge
    fans: Fans | CannotJudge
    fans_heat_above: tuple[DampAir, ...]
    chiller: Chiller | CannotJudge
    both: Course | CannotJudge
    time_left: TimeLeft | None
    currents: Currents | None

    def course(self, option: Option) -> Course | CannotJudge:
        """Return the day under an option."""
        match option:
            case Option.NOTHING:
                return self.nothing
            case Option.FANS:
                return self.fans if isinstance(self.fans, CannotJudge) else self.fans.course
            case Option.CHILLER:
                return self.chiller if isinstance(self.chiller, CannotJudge) else self.chiller.course
            case Option.BOTH:
                return self.both
