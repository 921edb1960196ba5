"""Mean heat flows into and out of the water over the day, under each way of cooling."""

from reefguard.planning.found import Course, HeatFlows
from reefguard.planning.model import Option, Plan
from reefguard.report.flow_bars import Flow, FlowBars, FlowRow, flow_bars
from reefguard.report.svg import Drawing

# Flows that round to nothing are left out.
_LEAST_W = 0.5


def plan_flows(plan: Plan) -> Drawing | None:
    """Draw the flows; nothing where no course is known.

    Args:
        plan: whole.
    """
    rows = tuple(
        _row(option.value, course.heat)
        for option in Option
        if isinstance(course := plan.course(option), Course)
    )
    if not rows:
        return None
    told = "; ".join(
        f"{row.name}: {_sum_w(row.gains):.0f} W warm it and {_sum_w(row.losses):.0f} W cool it"
        for row in rows
    )
    chart = FlowBars(
        name="flows",
        title="Heat into and out of the water, mean of the day",
        description=f"{told}.",
        rows=rows,
        width_px=800.0,
    )
    return flow_bars(chart)


def _row(name: str, heat: HeatFlows) -> FlowRow:
    flows = {
        "lights": heat.lights_w,
        "pumps": heat.pumps_w,
        "heater": heat.heater_w,
        "walls": heat.walls_w,
        "air and radiation": heat.surface_w,
        "evaporation": heat.evaporation_w,
        "chiller": heat.chiller_w,
    }
    # Damp air that condenses on the water warms it.
    gains = tuple(
        Flow("condensation" if name == "evaporation" else name, power_w)
        for name, power_w in flows.items()
        if power_w >= _LEAST_W
    )
    losses = tuple(Flow(name, -power_w) for name, power_w in flows.items() if power_w <= -_LEAST_W)
    return FlowRow(name, gains, losses)


def _sum_w(flows: tuple[Flow, ...]) -> float:
    return sum(flow.power_w for flow in flows)
