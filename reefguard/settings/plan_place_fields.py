"""The keys of a tank plan for what is there: the water, what holds it, the room and the weather."""

from reefguard.settings.declaration import Field
from reefguard.settings.kinds import Kind, choice, quantity
from reefguard.settings.plan_kinds import FILE_NAME, SALT
from reefguard.settings.plan_model import Pane
from reefguard.settings.plan_quantities import (
    AIR_CHANGES,
    AIR_FLOW,
    CONDUCTANCE,
    LENGTH,
    POWER,
    ROOM_VOLUME,
    THICKNESS,
    TOP_OFF,
    WATER_VOLUME,
)
from reefguard.settings.quantities import SHARE, TEMPERATURE, Bounds, Measure

NOTHING_LESS = "there is no less than nothing"
_NOT_A_TANKS = "no tank in a home has so much"


def up_to(most: float, measure: Measure, too_high: str = _NOT_A_TANKS) -> Kind:
    """Return the kind of a quantity from nothing to `most`."""
    return quantity(measure, Bounds(0.0, most, NOTHING_LESS, too_high))


def air(too_low: str, too_high: str, low_c: float, high_c: float) -> Kind:
    """Return the kind of a temperature within bounds, with what is wrong beyond them."""
    return quantity(TEMPERATURE, Bounds(low_c, high_c, too_low, too_high))


_SIZE = quantity(LENGTH, Bounds(0.05, 10.0, "no tank is so small", "no tank in a home is so large"))
_OUTDOOR = air("colder than any summer day", "hotter than any place on earth", -40.0, 57.0)
_SURFACE = choice({"calm": 0.5, "rippled": 0.75, "strong": 1.0})
_LID = quantity(
    SHARE,
    Bounds(
        0.0,
        0.95,
        NOTHING_LESS,
        "under a whole lid the air is the water's own, and the model cannot judge it",
        "write the share of the surface under a lid that keeps the air off",
    ),
)
VESSEL = (
    Field("length", _SIZE, "Inside.", required=True),
    Field("width", _SIZE, "Inside, front to back.", required=True),
    Field("depth", _SIZE, "Of the water.", required=True),
    Field(
        "pane",
        choice({pane.value: pane for pane in Pane}),
        "What the walls are made of.",
        default="glass",
    ),
    Field(
        "thickness",
        quantity(THICKNESS, Bounds(0.002, 0.1, "no pane is so thin", "no pane is so thick")),
        "Of the walls.",
        default="10 mm",
    ),
    Field("lid", _LID, "The share of the surface under a lid that keeps the air off.", default="0 %"),
    Field("surface", _SURFACE, "How the water's surface moves.", default="rippled"),
)
WATER = (
    Field(
        "volume",
        quantity(WATER_VOLUME, Bounds(10.0, 20_000.0, "no reef tank is so small", "no tank in a home")),
        "Display, sump and pipes together, without rock and sand.",
        required=True,
    ),
    Field("salinity", SALT, "Practical salinity.", default="35"),
    Field(
        "measured_topoff",
        quantity(TOP_OFF, Bounds(0.05, 500.0, "nothing would evaporate", "no tank evaporates so much")),
        "Fresh water it takes a day with the fans off, measured: calibrates the evaporation.",
    ),
)
STAND = (
    Field("conductance", up_to(200.0, CONDUCTANCE), "Of its walls.", default="6 W/K"),
    Field("vented", up_to(2_000.0, AIR_FLOW), "Air it exchanges, doors shut.", default="10 m3/h"),
    Field("vented_open", up_to(2_000.0, AIR_FLOW), "The same with its doors open.", default="200 m3/h"),
)
_CHANGES = quantity(
    AIR_CHANGES, Bounds(0.01, 100.0, "no room is so tight", "that is a wind tunnel and no room")
)
ROOM = (
    Field(
        "volume",
        quantity(ROOM_VOLUME, Bounds(5.0, 10_000.0, "hardly a cupboard", "no room in a home is so large")),
        "Of its air.",
        default="50 m3",
    ),
    Field("air_changes", _CHANGES, "With outdoors, as it usually is.", default="0.5 /h"),
    Field("air_changes_open", _CHANGES, "Doors and windows open.", default="5 /h"),
    Field(
        "conductance",
        quantity(CONDUCTANCE, Bounds(1.0, 10_000.0, "no room is so well insulated", "no room loses so much")),
        "Of its walls and windows to outdoors; estimated from its volume when not given.",
    ),
    Field(
        "other_gains", up_to(20_000.0, POWER, "no room is so hot"), "People, machines, sun.", default="100 W"
    ),
    Field(
        "heated_to",
        air("that is no heating", "no room is heated so far", 5.0, 35.0),
        "What its heating keeps; leave it out without one.",
    ),
)
WEATHER = (
    Field("hottest", _OUTDOOR, "The hottest of the design day, outdoors in the shade.", default="33 °C"),
    Field("coolest", _OUTDOOR, "The coolest of that day.", default="22 °C"),
    Field(
        "humidity",
        up_to(1.0, SHARE, "air holds no more than that"),
        "Relative humidity outdoors at the hottest hour.",
        default="45 %",
    ),
    Field("file", FILE_NAME, "Instead of the three: a file with a series of hours (CSV, EPW, TMY3)."),
)
