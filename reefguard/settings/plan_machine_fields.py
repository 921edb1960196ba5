"""The keys of a tank plan for what draws power: lights, pumps, fans, chiller, its switch, heater."""

from reefguard.settings.declaration import Field
from reefguard.settings.kinds import LIGHTS_OFF, LIGHTS_ON, choice, quantity, water
from reefguard.settings.model import RatedFor
from reefguard.settings.plan_kinds import COOLING, FAN_COUNT
from reefguard.settings.plan_model import ChillerPlace, Over, Switch
from reefguard.settings.plan_place_fields import air, up_to
from reefguard.settings.plan_quantities import AIR_SPEED, POWER
from reefguard.settings.quantities import CURRENT, SHARE, Bounds

_AMPERE = quantity(
    CURRENT, Bounds(0.05, 200.0, "nothing that cools draws so little", "no chiller draws so much")
)
_FAN_AIR = quantity(
    AIR_SPEED,
    Bounds(
        0.1,
        3.0,
        "hardly a breath at the water",
        "the model cannot judge more; it was checked up to there",
        "write the speed at the water, not at the fan's outlet",
    ),
)


LIGHTS_POWER = (
    Field("power", up_to(20_000.0, POWER), "What they draw together.", required=True),
    Field(
        "into_water",
        up_to(1.0, SHARE, "there is no more than all of it"),
        "The share of their power that ends in the water; the rest warms the room.",
        default="60 %",
    ),
)
LIGHTS_HOURS = (
    Field("on", LIGHTS_ON, "When they go on.", required=True),
    Field("off", LIGHTS_OFF, "When they go off; earlier than `on` is the next day.", required=True),
)
FANS = (
    Field("count", FAN_COUNT, "How many; 0 for none.", default="2"),
    Field("air_speed", _FAN_AIR, "At the water, not at the fan's outlet.", default="1.5 m/s"),
    Field(
        "swept",
        quantity(SHARE, Bounds(0.01, 1.0, "it would hardly touch the water", "there is no more")),
        "The share of the surface each blows over.",
        default="40 %",
    ),
    Field("power", up_to(500.0, POWER), "Of each.", default="3 W"),
    Field("over", choice({over.value: over for over in Over}), "What they blow over.", default="display"),
)
CHILLER = (
    Field(
        "capacity",
        COOLING,
        "Of one you own or think of, in W or BTU/h; an hp label is rough. Without it, one is sized.",
    ),
    Field(
        "rated_water",
        air("colder than a reef", "hotter than a reef", 5.0, 35.0),
        "The water's temperature at that rating.",
        default="26 °C",
    ),
    Field(
        "rated_air",
        air("colder than any rating", "hotter than any rating", 5.0, 45.0),
        "The air's temperature at that rating.",
        default="30 °C",
    ),
    Field(
        "place",
        choice({place.value: place for place in ChillerPlace}),
        "Where it stands and throws its heat.",
        default="room",
    ),
    Field("running_current", _AMPERE, "From its rating plate."),
    Field("starting_current", _AMPERE, "Locked rotor (LRA); six times the running current when not given."),
    Field(
        "runs_at_most",
        quantity(SHARE, Bounds(0.1, 1.0, "it would hardly run", "there is no more than all the time")),
        "The share of the worst hour it may run: the reserve a plan keeps.",
        default="70 %",
    ),
)
SWITCH = (
    Field(
        "kind",
        choice({switch.value: switch for switch in Switch}),
        "What switches the chiller.",
        required=True,
    ),
    Field("rating", _AMPERE, "What it is rated for.", required=True),
    Field(
        "rated_for",
        choice({rated.value: rated for rated in RatedFor}),
        "The load that rating is given for; a plain rating is for resistive load.",
        default="resistive load",
    ),
)
HEATER_POWER = Field("power", up_to(5_000.0, POWER), "What it draws; 0 W for none.", default="0 W")
HEATER_STOP = Field("off_above", water("24.5 °C"), "What its thermostat is set to.", default="24.5 °C")
