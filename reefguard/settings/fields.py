"""Every key of the settings file, declared once: the reader, the schema and the tests go by this.

A default is given as it would be written; a test holds it against the model's.
"""

from collections.abc import Iterator

from reefguard.settings.cooling_fields import CHILLER, FANS
from reefguard.settings.declaration import Field, Named, Part, Presence, Section, sensed, step_kind, time_kind
from reefguard.settings.kinds import (
    LIGHTS_OFF,
    LIGHTS_ON,
    PATH,
    PIN,
    ROM_ID,
    TEXT,
    UTC_OFFSET,
    choice,
    water,
    word_or,
)
from reefguard.settings.link_fields import LINK_SECTION
from reefguard.settings.model import Unit
from reefguard.settings.plan_fields import PLAN_SECTION
from reefguard.settings.quantities import RATE

_REPLACE_PROBE = "a probe that far off is faulty; no number makes it trustworthy"
_PROBE = (
    Field("id", ROM_ID, "The name of the probe's directory under `one_wire_directory`.", required=True),
    Field(
        "offset",
        step_kind(-1.0, 1.0, _REPLACE_PROBE, _REPLACE_PROBE),
        "Added to what the probe reads; found at 25 to 27 °C beside a reference thermometer.",
        default="0 °C",
    ),
)

_TRUST = (
    Field(
        "stale_after",
        time_kind(
            3, 600, "one slow read would distrust a sound probe", "the water can change much in that time"
        ),
        "A probe without a good reading for this long is not used.",
        default="1 min",
    ),
    Field(
        "trusted_after",
        time_kind(
            5, 3600, "a loose plug can look sound for that long", "the tank would be blind for too long"
        ),
        "A probe must be in order this long before it is used again.",
        default="1 min",
    ),
    Field(
        "schedule_after",
        time_kind(
            30, 3600, "a short disturbance would change the mode", "nothing would cool in the meantime"
        ),
        "Without any trusted reading for this long, the fans follow the lights.",
        default="3 min",
    ),
    Field(
        "frozen_after",
        time_kind(
            43_200,
            172_800,
            "a calm tank repeats one value for hours",
            "a stuck probe would be believed too long",
        ),
        "A probe that repeats one value for this long is not used.",
        default="24 h",
    ),
    Field(
        "fastest_change",
        step_kind(
            0.1, 10.0, "a water change would look like a fault", "a loose plug would look like water", RATE
        ),
        "Water does not change faster.",
        default="1 °C/min",
    ),
    Field(
        "disagreement",
        step_kind(0.2, 5.0, "sound probes differ by more", "a faulty probe would pass"),
        "Two probes further apart than this disagree.",
        default="1 °C",
    ),
)

_LIGHTS = (
    Field("on", LIGHTS_ON, "When the lights go on.", required=True),
    Field("off", LIGHTS_OFF, "When they go off; at or before `on` means the next day.", required=True),
    Field(
        "after_run",
        time_kind(0, 43_200, "there is no less than none", "the fans would hardly stop"),
        "How long the fans run on after lights-off, when no probe is trusted.",
        default="60 min",
    ),
    Field(
        "clock",
        word_or("local time", None, UTC_OFFSET),
        "The clock the lamp timer keeps: `local time`, or a fixed one without daylight saving.",
        default="local time",
    ),
    sensed("sense", "An input that sees the lights; it outranks the hours."),
    Field(
        "when_time_unknown",
        choice({"fans run": True, "fans rest": False}),
        "What the fans do without a probe, a clock or a lights input.",
        default="fans run",
    ),
)

FILE: tuple[Part, ...] = (
    Field("tank", TEXT, "What the tank is called, in alerts and on the page.", required=True),
    Field(
        "show_temperatures_in",
        choice({"°C": Unit.CELSIUS, "°F": Unit.FAHRENHEIT}),
        "The unit temperatures are shown in.",
        default="°C",
    ),
    Field("one_wire_directory", PATH, "Where the kernel shows the probes.", default="/sys/bus/w1/devices"),
    Field("one_wire_pins", PIN, "The pins the 1-wire buses own.", default="GPIO4", many=True),
    Field("state_directory", PATH, "What must survive a restart.", default="/var/lib/reefguard"),
    Field("runtime_directory", PATH, "What need not.", default="/run/reefguard"),
    Field(
        "sampling",
        time_kind(1, 10, "a probe takes 0.75 s to measure", "the guard would see too late"),
        "Between two readings of each probe.",
        default="5 s",
    ),
    Field(
        "clock",
        choice({"set over the network": False, "always right": True}),
        "Whether the clock must first be set, or a battery-backed one keeps it.",
        default="set over the network",
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
    Named("water_probes", "The probes in the water, by name.", _PROBE, noun="probe"),
    Section(
        "room_air",
        "Where the air over the tank is measured.",
        (
            Field("id", ROM_ID, "A 1-wire probe in the air.", required=True),
            Field("humidity_file", PATH, "A humidity file of the kernel's IIO system."),
        ),
    ),
    Section("trust", "When a reading is believed.", _TRUST, Presence.IMPLIED),
    Section("fans", "The fans over the water, and when they run.", FANS),
    Section("chiller", "The chiller, and what its compressor needs.", CHILLER),
    Section("lights", "When the lights are on, for the fans' fallback.", _LIGHTS, Presence.REQUIRED),
    Section(
        "heater",
        "The tank's own heater, for `reefguard check` only.",
        (Field("off_above", water("25 °C"), "What its thermostat is set to."),),
    ),
    PLAN_SECTION,
    LINK_SECTION,
)


def every_key(parts: tuple[Part, ...] = FILE, path: str = "") -> Iterator[tuple[str, Part]]:
    """Yield the path and the declaration of every key; a name the keeper gives is `*`."""
    for part in parts:
        here = f"{path}.{part.key}" if path else part.key
        yield here, part
        if isinstance(part, Section):
            yield from every_key(part.parts, here)
        elif isinstance(part, Named):
            yield from every_key(part.parts, f"{here}.*")
