"""The water's temperature through the day, under each way of cooling, against the safe band."""

from reefguard.planning.found import Course
from reefguard.planning.model import Option, Plan
from reefguard.planning.shown import Shown
from reefguard.report.line_panel import Band, Line, LinePanel, Reference
from reefguard.report.scales import DAY_S, TimeAxis
from reefguard.report.svg import Drawing
from reefguard.report.time_chart import TimeChart, time_chart


def plan_curves(plan: Plan) -> Drawing | None:
    """Draw the curves; nothing where no course is known.

    Args:
        plan: whole.
    """
    courses = _courses(plan)
    if not courses:
        return None
    shown = Shown(plan.tank.shown_in)
    band = plan.tank.safe_band
    panel = LinePanel(
        "water",
        plan.tank.shown_in.value,
        tuple(Line(name, _points(course, shown)) for name, course in courses.items()),
        bands=(Band(shown.number(band.low_c), shown.number(band.high_c), "safe band"),),
        references=(Reference(shown.number(plan.tank.hold_c), "to be held"),),
        height_px=260.0,
    )
    peaks = "; ".join(
        f"{name}: at most {shown.temperature(course.peak_c)}" for name, course in courses.items()
    )
    chart = TimeChart(
        name="curves",
        title="Temperature of the water through the day",
        description=f"{peaks}.",
        axis=TimeAxis(0.0, DAY_S),
        parts=(panel,),
        width_px=800.0,
    )
    return time_chart(chart)


def _courses(plan: Plan) -> dict[str, Course]:
    named = {option.value: plan.course(option) for option in Option} | {"lights off": plan.lights_off}
    return {name: course for name, course in named.items() if isinstance(course, Course)}


def _points(course: Course, shown: Shown) -> list[tuple[float, float | None]]:
    step_s = DAY_S / (len(course.water_c) - 1)
    return [(index * step_s, shown.number(value_c)) for index, value_c in enumerate(course.water_c)]
