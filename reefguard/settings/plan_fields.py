"""Every key of a tank plan, declared once: for a file of its own, and for the section `plan` of the settings.

The settings know the tank's name, its safe band, the hours of its lights, the
heater's thermostat and the unit already, so the section has no keys for these.
A default is given as it would be written; a test holds it against the model's.
"""

from reefguard.settings.declaration import Field, Part, Presence, Section
from reefguard.settings.kinds import TEXT, choice, quantity, water
from reefguard.settings.model import Unit
from reefguard.settings.plan_kinds import PRICE
from reefguard.settings.plan_machine_fields import (
    CHILLER,
    FANS,
    HEATER_POWER,
    HEATER_STOP,
    LIGHTS_HOURS,
    LIGHTS_POWER,
    SWITCH,
)
from reefguard.settings.plan_place_fields import ROOM, STAND, VESSEL, WATER, WEATHER, up_to
from reefguard.settings.plan_quantities import ALTITUDE, POWER
from reefguard.settings.quantities import Bounds


def _parts(lights: tuple[Field, ...], heater: tuple[Field, ...], hold_at: Field) -> tuple[Part, ...]:
    return (
        hold_at,
        Section("water", "The water in all.", WATER, Presence.REQUIRED),
        Section("display", "The display tank, as far as water stands in it.", VESSEL, Presence.REQUIRED),
        Section("sump", "The sump, as far as water stands in it.", VESSEL),
        Section("stand", "A closed cabinet with the sump in it; leave it out when there is none.", STAND),
        Section("lights", "The lights.", lights, Presence.REQUIRED),
        Field("pumps", up_to(5_000.0, POWER), "What all pumps draw together.", required=True),
        Section("fans", "Fans, all alike.", FANS, Presence.IMPLIED),
        Section("chiller", "A chiller.", CHILLER, Presence.IMPLIED),
        Section("switch", "What switches the chiller, and its rating.", SWITCH),
        Section("heater", "The tank's own heater.", heater, Presence.IMPLIED),
        Section("room", "The room it stands in.", ROOM, Presence.IMPLIED),
        Section("weather", "The day to plan for.", WEATHER, Presence.IMPLIED),
        Section(
            "electricity",
            "What it costs.",
            (Field("price", PRICE, "Of a kilowatt-hour, with its currency.", required=True),),
        ),
        Field(
            "altitude",
            quantity(ALTITUDE, Bounds(-450.0, 5_500.0, "below the shore of any sea", "nobody lives there")),
            "Above the sea.",
            default="0 m",
        ),
    )


PLAN_SECTION = Section(
    "plan",
    "The tank for `reefguard plan` and `reefguard rehearse`; the guard itself does not use it.",
    _parts(
        LIGHTS_POWER,
        (HEATER_POWER,),
        Field(
            "hold_at",
            water("26.5 °C"),
            "What the cooling shall hold; not given, the middle of the chiller's cut points, or the fans'.",
        ),
    ),
)

PLAN_FILE: tuple[Part, ...] = (
    Field("tank", TEXT, "What the tank is called.", required=True),
    Field(
        "show_temperatures_in",
        choice({unit.value: unit for unit in Unit}),
        "The unit temperatures are shown in.",
        default="°C",
    ),
    Section(
        "safe_band",
        "Where the animals are well.",
        (
            Field("low", water("24 °C"), "The coldest.", required=True),
            Field("high", water("27.8 °C"), "The warmest.", required=True),
        ),
        Presence.REQUIRED,
    ),
    *_parts(
        (*LIGHTS_HOURS, *LIGHTS_POWER),
        (HEATER_POWER, HEATER_STOP),
        Field("hold_at", water("26.5 °C"), "What the cooling shall hold.", required=True),
    ),
)
