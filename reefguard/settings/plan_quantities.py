"""The quantities of a tank plan: sizes, powers and flows.

A foot is 0.3048 m and a US gallon 231 cubic inches, exactly (NIST SP 811
(2008), appendix B.8).  A Btu is that of the International Table: 2326 J/kg
for each Btu/lb, exactly.
"""

from fractions import Fraction

from reefguard.settings.quantities import Measure, Scale

_FOOT_M = Fraction("0.3048")
_GALLON = Scale(size=231 * (_FOOT_M / 12) ** 3 * 1000)
_BTU_H = Scale(size=2326 * Fraction("0.45359237") / 3600)
_CUBIC_METRE = Scale(size=Fraction(1000))

LENGTH = Measure(
    "a length",
    "120 cm",
    {
        "cm": Scale(size=Fraction(1, 100)),
        "mm": Scale(size=Fraction(1, 1000)),
        "m": Scale(),
        "in": Scale(size=_FOOT_M / 12),
        "ft": Scale(size=_FOOT_M),
    },
)
THICKNESS = Measure(
    "a thickness",
    "10 mm",
    {
        "mm": Scale(size=Fraction(1, 1000)),
        "cm": Scale(size=Fraction(1, 100)),
        "in": Scale(size=_FOOT_M / 12),
    },
)
ALTITUDE = Measure("an altitude", "300 m", {"m": Scale(), "ft": Scale(size=_FOOT_M)})
WATER_VOLUME = Measure(
    "an amount of water",
    "340 L",
    {"L": Scale(), "l": Scale(), "m3": _CUBIC_METRE, "m³": _CUBIC_METRE, "gal": _GALLON},
)
ROOM_VOLUME = Measure("a room's volume", "50 m3", {"m3": Scale(), "m³": Scale(), "ft3": Scale(_FOOT_M**3)})
POWER = Measure(
    "a power",
    "250 W",
    {"W": Scale(), "kW": Scale(size=Fraction(1000)), "BTU/h": _BTU_H, "Btu/h": _BTU_H},
)
AIR_SPEED = Measure(
    "an air speed",
    "1.5 m/s",
    {"m/s": Scale(), "km/h": Scale(size=Fraction(1000, 3600)), "ft/min": Scale(size=_FOOT_M / 60)},
)
AIR_FLOW = Measure(
    "a flow of air",
    "10 m3/h",
    {
        "m3/h": Scale(),
        "m³/h": Scale(),
        "L/s": Scale(size=Fraction("3.6")),
        "cfm": Scale(size=60 * _FOOT_M**3),
    },
)
AIR_CHANGES = Measure("a rate of air changes", "0.5 /h", {"/h": Scale()})
CONDUCTANCE = Measure("a conductance", "90 W/K", {"W/K": Scale(), "W/°C": Scale()})
TOP_OFF = Measure("an amount of water a day", "2.4 L/day", {"L/day": Scale(), "gal/day": _GALLON})
# Practical salinity has no unit (UNESCO technical papers in marine science 36, 1981); keepers call it
# ppt.  Sea water of practical salinity 35 has 35.16504 g/kg of salt (TEOS-10 manual, section 2.4).
SALINITY = Measure(
    "a salinity", "35", {"ppt": Scale(), "PSU": Scale(), "g/kg": Scale(size=35 / Fraction("35.16504"))}
)
