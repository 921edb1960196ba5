"""The questions of `reefguard plan --ask`, in an order a keeper understands."""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Attributes:
        key: of the plan file, where the answer goes.
        asks: in words.
        usual: what is suggested; empty when the question may be left without an answer.
        american: the same where °F, inches and gallons are at home; empty is as `usual`.
    """

    key: str
    asks: str
    usual: str = ""
    american: str = ""

    def suggested(self, *, american: bool) -> str:
        """Return what is suggested."""
        return self.american if american and self.american else self.usual


@dataclass(frozen=True, slots=True)
class Group:
    """Questions that belong together: when their answers do not fit, they are asked again together.

    Attributes:
        title: what they are about.
        questions: in order.
        first: a question with yes or no; the others follow a yes.
        likely: the answer suggested to it.
    """

    title: str
    questions: tuple[Question, ...]
    first: str = ""
    likely: bool = False


NAME: Final = Group("The tank", (Question("tank", "What is the tank called?", "the reef"),))
GROUPS: Final = (
    Group(
        "The display tank, as far as water stands in it (inside)",
        (
            Question("display.length", "Length", "120 cm", "48 in"),
            Question("display.width", "Width, front to back", "50 cm", "20 in"),
            Question("display.depth", "Depth of the water", "55 cm", "21 in"),
            Question("display.pane", "Walls of glass or acrylic?", "glass"),
            Question("display.thickness", "How thick are they?", "10 mm", "0.5 in"),
            Question("display.lid", "Share of the surface under a lid that keeps the air off", "0 %"),
            Question("display.surface", "Its surface: calm, rippled or strong?", "rippled"),
        ),
    ),
    Group(
        "The sump, as far as water stands in it",
        (
            Question("sump.length", "Length", "80 cm", "30 in"),
            Question("sump.width", "Width", "40 cm", "16 in"),
            Question("sump.depth", "Depth of the water", "25 cm", "10 in"),
        ),
        first="Is there a sump?",
    ),
    Group(
        "The stand",
        (
            Question(
                "stand.vented",
                "Air it exchanges with the room, doors shut (a fan in its wall moves more)",
                "10 m3/h",
                "6 cfm",
            ),
        ),
        first="Does the sump (or a chiller) stand in a closed cabinet?",
    ),
    Group(
        "The water in all",
        (
            # What the sizes above hold is suggested.
            Question("water.volume", "Display, sump and pipes together, without rock and sand", "340 L"),
            Question("water.salinity", "Salinity", "35"),
            Question(
                "water.measured_topoff",
                "Fresh water it takes a day with the fans off, if you measured it (Enter: not measured)",
            ),
        ),
    ),
    Group(
        "Its temperature",
        (
            Question("safe_band.low", "The coldest at which the animals are well", "24 °C", "75 °F"),
            Question("safe_band.high", "The warmest", "27.8 °C", "82 °F"),
            Question("hold_at", "What shall the cooling hold?", "26.5 °C", "79 °F"),
        ),
    ),
    Group(
        "The lights",
        (
            Question("lights.power", "What do they draw together?", "250 W"),
            Question("lights.on", "When do they go on?", "10:00"),
            Question("lights.off", "When do they go off?", "20:00"),
        ),
    ),
    Group("The pumps", (Question("pumps", "What do all pumps draw together?", "60 W"),)),
    Group(
        "The fans: those there are, or might be",
        (
            Question("fans.count", "How many? (0 for none)", "2"),
            Question("fans.air_speed", "Air speed at the water (not at the fan)", "1.5 m/s", "300 ft/min"),
            Question("fans.power", "What does each draw?", "3 W"),
            Question("fans.over", "Do they blow over the display or the sump?", "display"),
        ),
    ),
    Group(
        "The chiller",
        (
            Question(
                "chiller.capacity", "Its cooling capacity (an hp label is rough)", "500 W", "1700 BTU/h"
            ),
            Question("chiller.place", "Where does it stand: room, stand or outside?", "room"),
            Question("chiller.running_current", "Running current on its plate (Enter: not known)"),
        ),
        first="Is there a chiller, or one in mind? (If not, the plan sizes one.)",
    ),
    Group(
        "What switches the chiller",
        (
            Question("switch.kind", "A relay, a contactor or a controller?", "relay"),
            Question("switch.rating", "What is it rated for?", "10 A"),
        ),
        first="Do you know what will switch a chiller?",
    ),
    Group(
        "The heater",
        (
            Question("heater.power", "What does it draw?", "200 W"),
            Question("heater.off_above", "What is its thermostat set to?", "24.5 °C", "76 °F"),
        ),
        first="Is there a heater?",
        likely=True,
    ),
    Group(
        "The room",
        (
            Question("room.volume", "Its volume", "50 m3", "1800 ft3"),
            Question("room.air_changes", "How often an hour is its air exchanged?", "0.5 /h"),
            Question("room.heated_to", "What does its heating keep? (Enter: no heating)"),
        ),
    ),
    Group(
        "A hot day where you live, outdoors in the shade",
        (
            Question("weather.hottest", "The hottest", "33 °C", "92 °F"),
            Question("weather.coolest", "The coolest of that day", "22 °C", "72 °F"),
            Question("weather.humidity", "Relative humidity at the hottest hour", "45 %"),
        ),
    ),
    Group(
        "What a kilowatt-hour costs",
        (Question("electricity.price", "Like 0.32 EUR/kWh (Enter: leave the cost out)"),),
    ),
)
