"""The keys under `fans` and `chiller`."""

from reefguard.settings.declaration import Field, Named, Part, Section, sensed, step_kind, time_kind
from reefguard.settings.kinds import PATH, PIN, TRUTH, choice, quantity, water, word_or
from reefguard.settings.model import Contact, RatedFor, Staging
from reefguard.settings.quantities import CURRENT, DAYS, FREQUENCY, SHARE, Bounds

HEATER_LOGIC = "a heater's logic, on when cold and off when warm; this program only cools"
_COMPRESSOR = "use the figure in the chiller's manual"

_CUT: tuple[Part, ...] = (
    Field("cut_in", water("26.6 °C"), "Cooling starts at or above this."),
    Field("cut_out", water("26.2 °C"), "Cooling stops at or below this; it lies below `cut_in`."),
    Field("setpoint", water("26.2 °C"), "Instead of the two cut points: where cooling stops."),
    Field(
        "differential",
        step_kind(0.0, 5.0, HEATER_LOGIC, "the water would swing too far"),
        "With `setpoint`: how much warmer it must be before cooling starts.",
    ),
)
_POLARITY = choice({"active high": True, "active low": False})
_CONTACT = choice({"normally open": Contact.NORMALLY_OPEN, "normally closed": Contact.NORMALLY_CLOSED})
_CHILLER_CONTACT = choice(
    {"normally open": Contact.NORMALLY_OPEN},
    refused={
        "normally closed": (
            "the chiller would run whenever the relay or the Pi is without power, with nothing to stop it",
            "wire it to the normally-open contact and write `normally open`",
        ),
    },
)
_OUT_OF_SERVICE = Field("out_of_service", TRUTH, "A person has taken it out of use.", default="false")
_CUTOFF_STATUS = "/run/reefguard-cutoff/status.json"


_PIN = Field("pin", PIN, "The pin that drives the relay.", required=True)
_ACTIVE = Field("polarity", _POLARITY, "The level that energises the relay.", default="active high")

_SPEED = (
    Field(
        "frequency",
        quantity(
            FREQUENCY,
            Bounds(
                1.0,
                10_000.0,
                "the fan would start and stop",
                "the pulses are made by software, 10 kHz at most; a 4-wire fan wants 25 kHz",
                "for a 4-wire fan leave `speed` out and switch its power; else write a value in range",
            ),
        ),
        "Of the pulses.",
        required=True,
    ),
    Field(
        "slowest",
        quantity(SHARE, Bounds(0.05, 1.0, "hardly a fan turns", "there is no more than full speed")),
        "How fast it turns when the fans cut in.",
        required=True,
    ),
    Field("full_at", water("27 °C"), "The water temperature at which it turns at full speed.", required=True),
)

_FAN = (
    _PIN,
    _ACTIVE,
    Field("contact", _CONTACT, "The relay's contact the fan hangs on.", default="normally open"),
    Field(
        "at_rest",
        choice({"stopped": False, "running": True}),
        "What the fan does when the guard is stopped or dead.",
        default="stopped",
    ),
    _OUT_OF_SERVICE,
    Section("speed", "A fan whose speed follows the water.", _SPEED),
)

FANS: tuple[Part, ...] = (
    *_CUT,
    Field(
        "staging",
        choice({"together": Staging.TOGETHER, "lead and lag": Staging.LEAD_LAG}),
        "All at once, or one after the other and by turns.",
        default="together",
    ),
    Field(
        "lag_step",
        step_kind(0.1, 2.0, "the probe hardly sees the step", "the last fan would come too late"),
        "Lead and lag: how much warmer it must be for each further fan.",
        default="0.3 °C",
    ),
    Field(
        "rotate_after",
        time_kind(
            3600, 2_592_000, "the fans would change places all day", "the fans would hardly share the wear"
        ),
        "Lead and lag: how much longer the lead may have run than the next.",
        default="12 h",
    ),
    Field(
        "all_day",
        time_kind(
            3600, 604_800, "every warm afternoon would be told", "a fan that never rests would not be told"
        ),
        "A fan that ran this long without a rest is told.",
        default="24 h",
    ),
    Field(
        "heat_margin",
        step_kind(0.0, 5.0, "the fans would warm the water", "the fans would hardly ever run"),
        "Fans rest unless the water is this much warmer than the air can cool it to.",
        default="1 °C",
    ),
    Named("units", "The fans, by name.", _FAN, noun="fan", reserved=("chiller",)),
)

_AMPERE = quantity(
    CURRENT, Bounds(0.05, 200.0, "no chiller draws so little", "no chiller for a tank draws so much")
)
_ELECTRICAL = (
    Field("running_current", _AMPERE, "From the chiller's rating plate."),
    Field("starting_current", _AMPERE, "From the rating plate: locked rotor (LRA)."),
    Field("switch_rating", _AMPERE, "What the relay or contactor is rated for."),
    Field(
        "rated_for",
        choice({"resistive load": RatedFor.RESISTIVE, "motor load": RatedFor.MOTOR}),
        "The load that rating is given for; a plain rating is for resistive load.",
        default="resistive load",
    ),
)

CHILLER: tuple[Part, ...] = (
    _PIN,
    _ACTIVE,
    Field(
        "contact", _CHILLER_CONTACT, "A chiller hangs on the normally-open contact.", default="normally open"
    ),
    *_CUT,
    Field(
        "minimum_off",
        time_kind(
            180, 3600, "the compressor would restart under pressure", "the tank would overheat", _COMPRESSOR
        ),
        "Between a stop and the next start.",
        default="5 min",
    ),
    Field(
        "minimum_on",
        time_kind(
            30, 1800, "the compressor would not get its oil back", "it would cool too far", _COMPRESSOR
        ),
        "Between a start and an ordinary stop; no protection waits for it.",
        default="2 min",
    ),
    Field(
        "start_to_start",
        word_or(
            "none",
            0.0,
            time_kind(180, 7200, "too many starts an hour", "the tank would overheat", _COMPRESSOR),
        ),
        "Between a start and the next start, or `none`.",
        default="10 min",
    ),
    Field(
        "longest_run",
        time_kind(
            600, 86_400, "every warm day would be told", "a chiller that cannot keep up would not be told"
        ),
        "A longer run is told.",
        default="4 h",
    ),
    _OUT_OF_SERVICE,
    Field(
        "cutoff",
        word_or("elsewhere", None, PATH),
        "The separate cutoff's status file, or `elsewhere` when it is not on this machine.",
        default=_CUTOFF_STATUS,
    ),
    Field(
        "cutoff_silent_after",
        time_kind(5, 600, "one slow write would stop the chiller", "a dead cutoff would pass"),
        "A status file older than this is a silent cutoff.",
        default="30 s",
    ),
    Field(
        "proof_test_every",
        word_or(
            "never",
            None,
            quantity(
                DAYS,
                Bounds(
                    7.0,
                    400.0,
                    "nobody would do it so often",
                    "a contact that is stuck would stay hidden for too long",
                    "quarterly is a usual interval",
                ),
            ),
        ),
        "How long a passed proof test of the cutoff counts before the next is due, or `never`.",
        default="90 days",
    ),
    sensed("running_input", "A contact that closes when the chiller draws current."),
    sensed("flow_input", "A flow switch."),
    Section("electrical", "Currents, for `reefguard check`.", _ELECTRICAL),
)
