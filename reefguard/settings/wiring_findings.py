"""Findings about pins, contacts and currents.

They say what to look at; mains wiring is the work of a licensed electrician.
"""

from collections.abc import Iterator

from reefguard.settings.model import Contact, Electrical, RatedFor, Settings, Wiring
from reefguard.settings.outcome import Accepted
from reefguard.settings.pins import pulled_up_at_power_on, spoken_for
from reefguard.settings.problems import CheckFinding
from reefguard.settings.quantities import CURRENT

_LOCKED_ROTOR = 6.0  # times the running current: UL 508, and Omron's advice for resistive ratings
_CONTINUOUS_SHARE = 0.8  # of the rating: the inverse of NEC 210.20(A)'s 125 %
_ELECTRICIAN = "have a licensed electrician fit a contactor with a motor (compressor) rating"


def _outputs(settings: Settings) -> Iterator[tuple[str, Wiring]]:
    if settings.fans is not None:
        for fan in settings.fans.fans:
            yield f"fans.units.{fan.name}", fan.wiring
    if settings.chiller is not None:
        yield "chiller", settings.chiller.wiring


def _inputs(settings: Settings) -> Iterator[tuple[str, int]]:
    chiller = settings.chiller
    if chiller is not None and chiller.running_input is not None:
        yield "chiller.running_input", chiller.running_input.pin
    if chiller is not None and chiller.flow_input is not None:
        yield "chiller.flow_input", chiller.flow_input.pin
    if settings.lights.sense is not None:
        yield "lights.sense", settings.lights.sense.pin


def energised_at_power_on(accepted: Accepted) -> Iterator[CheckFinding]:
    """A relay rests until the guard has started."""
    for key, wiring in _outputs(accepted.settings):
        up = pulled_up_at_power_on(wiring.pin)
        if up is not wiring.active_high:
            continue
        runs = "runs" if wiring.contact is Contact.NORMALLY_OPEN else "rests"
        better = "9 to 27" if wiring.active_high else "5 or 6"
        yield accepted.finding(
            f"{key}.pin",
            f"GPIO{wiring.pin} is pulled {'up' if up else 'down'} from power-on until the guard has started, "
            f"which may energise the relay (its load {runs})",
            "BCM2835 ARM Peripherals, table 6-31: GPIO0 to 8 are pulled up, GPIO9 to 27 down",
            f"use GPIO {better}, and an external resistor that pulls the relay's input to off",
        )


def pin_spoken_for(accepted: Accepted) -> Iterator[CheckFinding]:
    """A pin has no other use on the board."""
    used = [(key, wiring.pin) for key, wiring in _outputs(accepted.settings)]
    for key, pin in [*used, *_inputs(accepted.settings)]:
        use = spoken_for(pin)
        if use is not None:
            yield accepted.finding(
                f"{key}.pin",
                f"GPIO{pin} {use}",
                "Raspberry Pi documentation, the 40-pin header; BCM2835 ARM Peripherals, table 6-31",
                "use a pin without another use: GPIO5, 6, 12, 13 or 16 to 27",
            )


def rest_against_contact(accepted: Accepted) -> Iterator[CheckFinding]:
    """What a fan does without the guard is what its contact does without power."""
    fans = accepted.settings.fans
    for fan in fans.fans if fans is not None else ():
        runs_without_power = fan.wiring.contact is Contact.NORMALLY_CLOSED
        if fan.runs_at_rest is runs_without_power:
            continue
        wanted, happens = ("run", "stops") if fan.runs_at_rest else ("stop", "runs")
        contact = "normally closed" if fan.runs_at_rest else "normally open"
        yield accepted.finding(
            f"fans.units.{fan.name}.at_rest",
            f"meant to {wanted} when the guard is gone, on a {fan.wiring.contact.value} contact",
            f"without power, or once the kernel has let go of the pin, the relay drops and the fan {happens}",
            f"wire it to the other contact and write `contact: {contact}`, or change `at_rest`",
        )


def switch_too_weak(accepted: Accepted) -> Iterator[CheckFinding]:
    """What switches the chiller can carry its start and its running."""
    chiller = accepted.settings.chiller
    electrical = None if chiller is None else chiller.electrical
    if electrical is None or electrical.rating_a is None:
        return
    rating_a = electrical.rating_a
    start = _start_current(electrical)
    if electrical.rated_for is RatedFor.RESISTIVE and start is not None and start[0] > rating_a:
        yield accepted.finding(
            "chiller.electrical.switch_rating",
            f"{CURRENT.show(rating_a)} for resistive load; {CURRENT.show(start[0])} at a start ({start[1]})",
            "contacts weld on a motor's start, and a welded contact cools without end; a resistive rating "
            "must exceed 6 times the running current (Omron, load types and ratings)",
            _ELECTRICIAN,
        )
    running_a = electrical.running_current_a
    if running_a is not None and running_a > _CONTINUOUS_SHARE * rating_a:
        yield accepted.finding(
            "chiller.electrical.running_current",
            f"{CURRENT.show(running_a)}, more than 80 % of the switch's {CURRENT.show(rating_a)}",
            "a load that runs 3 h or more counts at 125 % (NEC 210.20(A), there for breakers)",
            _ELECTRICIAN,
        )


def _start_current(electrical: Electrical) -> tuple[float, str] | None:
    """Return the larger of the known starting currents, and where it comes from."""
    known = []
    if electrical.starting_current_a is not None:
        known.append((electrical.starting_current_a, "its starting current"))
    if electrical.running_current_a is not None:
        estimate_a = round(_LOCKED_ROTOR * electrical.running_current_a, 6)
        known.append((estimate_a, "6 times its running current, as UL 508 reckons"))
    return max(known, default=None)


WEIGHED = (energised_at_power_on, pin_spoken_for, rest_against_contact, switch_too_weak)
