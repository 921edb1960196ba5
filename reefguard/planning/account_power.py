"""Energy and cost side by side; the chiller's currents against what switches it."""

from reefguard.planning.found import CannotJudge
from reefguard.planning.model import Currents, Option, Plan
from reefguard.planning.section import Section, Table

_J_PER_KWH = 3.6e6
_CAUTION = (
    "Mains wiring is a licensed electrician's work, by local codes; near water, behind residual-current "
    "protection."
)


def energy_section(plan: Plan) -> Section:
    """Tell what each way of cooling draws and costs in a day."""
    price = plan.tank.price
    rows = []
    for option in Option:
        course = plan.course(option)
        if isinstance(course, CannotJudge):
            rows.append((option.value, "cannot judge", "", "", "", "")[: 5 if price is None else 6])
            continue
        drawn = course.electricity
        cells = (
            option.value,
            f"{drawn.fans_kwh:.2f}",
            f"{drawn.chiller_kwh:.2f}",
            f"{drawn.heater_kwh:.2f}",
            f"{drawn.total_kwh:.2f}",
        )
        cost = () if price is None else (f"{drawn.total_kwh * price.per_kwh:.2f} {price.currency}",)
        rows.append((*cells, *cost))
    tank = plan.tank
    lit_s = (tank.lights_off_s - tank.lights_on_s) % 86_400 or 86_400
    besides_kwh = (tank.lights_w * lit_s + tank.pumps_w * 86_400) / _J_PER_KWH
    head = ("", "fans", "chiller", "heater", "kWh/day") + (() if price is None else ("a day",))
    said = [f"In kWh on this day. Lights and pumps draw {besides_kwh:.2f} kWh in any case."]
    left_out = [option.value for option in Option if _leaves_band(plan, option)]
    if left_out:
        said.append(f"Out of the safe band at some hour: {', '.join(left_out)}.")
    return Section("Energy, side by side", tuple(said), Table(head, tuple(rows)))


def _leaves_band(plan: Plan, option: Option) -> bool:
    course = plan.course(option)
    return not isinstance(course, CannotJudge) and course.hours_above_band + course.hours_below_band > 0.0


def currents_section(currents: Currents | None) -> tuple[Section, ...]:
    """Tell whether the switch carries the chiller; nothing where no current is known."""
    if currents is None:
        return ()
    origin = ", an estimate: six times the running current" if currents.starting_is_estimate else ""
    said = [f"It runs at {currents.running_a:.1f} A and starts at {currents.starting_a:.0f} A{origin}."]
    if currents.rating_a is None or currents.continuous_a is None:
        said.append("What switches it is not named; its rating has to cover both.")
    else:
        verdict = "exceeds that" if currents.continuous_exceeded else "keeps to that"
        said.append(
            f"A load of three hours or more may draw 80 % of a rating (common practice in North American "
            f"codes; local codes decide): {currents.continuous_a:.1f} A of {currents.rating_a:g} A. The "
            f"chiller {verdict}."
        )
        if currents.starting_exceeds_resistive:
            said.append(
                f"The rating holds for resistive loads, and a motor starts at {currents.starting_a:.0f} A: "
                "its contacts may weld shut, which leaves the chiller on. Take a contactor or a relay rated "
                "for the motor's starting current."
            )
        elif not currents.rated_for_motor:
            said.append("The rating holds for resistive loads; look for one that is given for motors.")
    said.append(_CAUTION)
    return (Section("Currents of the chiller", tuple(said)),)
