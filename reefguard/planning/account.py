"""The account of a plan in sections of words and tables, for the terminal and for a page alike."""

from dataclasses import dataclass

from reefguard.planning.account_cooling import chiller_section, fans_section
from reefguard.planning.account_power import currents_section, energy_section
from reefguard.planning.found import CannotJudge, Course, LongerThan
from reefguard.planning.model import Option, Plan
from reefguard.planning.section import Section, Table
from reefguard.planning.shown import Shown, clock, hours, percent
from reefguard.planning.verdict_words import verdict_sentences


@dataclass(frozen=True, slots=True)
class Account:
    """A plan, told.

    Attributes:
        title: names the tank and its day.
        verdict: what it comes to, the most important sentence first.
        sections: the numbers behind it.
    """

    title: str
    verdict: tuple[str, ...]
    sections: tuple[Section, ...]


def account_of(plan: Plan) -> Account:
    """Tell a plan.

    Args:
        plan: whole.
    """
    shown = Shown(plan.tank.shown_in)
    sections = [_day(plan, shown)]
    if not isinstance(plan.nothing, CannotJudge):
        sections += [
            _water(plan, plan.nothing, shown),
            fans_section(plan, shown),
            chiller_section(plan, shown),
            _evaporation(plan),
            energy_section(plan),
        ]
        if plan.time_left is not None:
            sections.append(_time_left(plan, shown))
    sections += [*currents_section(plan.currents), _certainty(plan)]
    title = f"Plan for {plan.tank.tank}, {plan.tank.litres:g} L"
    return Account(title, verdict_sentences(plan), tuple(sections))


def _day(plan: Plan, shown: Shown) -> Section:
    weather, tank = plan.weather, plan.tank
    said = [
        (
            f"Outdoors {shown.temperature(weather.coolest_c)} to {shown.temperature(weather.hottest_c)}, "
            f"{percent(weather.humidity_at_hottest)} humidity at the hottest hour: {weather.day}. "
            f"The cooling shall hold {shown.temperature(tank.hold_c)}; the safe band is "
            f"{shown.temperature(tank.safe_band.low_c)} to {shown.temperature(tank.safe_band.high_c)}."
        )
    ]
    if weather.series_fan_heating_hours is not None:
        said.append(
            f"In {weather.series_fan_heating_hours} of the {weather.series_hours} hours of the series the "
            f"outdoor air is so hot or damp that a fan would heat water of {shown.temperature(tank.hold_c)} "
            "rather than cool it."
        )
    return Section("The day", tuple(said))


def _water(plan: Plan, nothing: Course, shown: Shown) -> Section:
    rows = [_water_row("lights on as planned", nothing, shown)]
    if isinstance(plan.lights_off, Course):
        rows.append(_water_row("lights off all day", plan.lights_off, shown))
    said = []
    if plan.nothing_peak_c is not None:
        said.append(f"The peak may be anywhere from {shown.between(plan.nothing_peak_c)}.")
    if plan.time_constant_h is not None:
        said.append(
            "It follows a change of the weather slowly, two thirds of the way in "
            f"{plan.time_constant_h:.0f} h."
        )
    if isinstance(plan.lights_off, Course):
        saved_k = nothing.peak_c - plan.lights_off.peak_c
        said.append(
            f"Leaving the lights off is worth {shown.difference(saved_k)}: the first thing to do when "
            "cooling fails."
        )
    if nothing.hours_below_band > 0.0:
        said.append(
            f"It is below the safe band for {nothing.hours_below_band:.1f} h of the day: a heater's work."
        )
    table = Table(("", "peak", "at", "mean", "lowest", "above band"), tuple(rows))
    return Section("The water without cooling", tuple(said), table)


def _water_row(name: str, course: Course, shown: Shown) -> tuple[str, ...]:
    return (
        name,
        shown.temperature(course.peak_c),
        clock(course.peak_hour),
        shown.temperature(course.mean_c),
        shown.temperature(course.lowest_c),
        f"{course.hours_above_band:.1f} h",
    )


def _evaporation(plan: Plan) -> Section:
    rows: list[tuple[str, ...]] = []
    for option in Option:
        course = plan.course(option)
        if isinstance(course, CannotJudge):
            rows.append((option.value, "cannot judge", "", ""))
        else:
            share = course.evaporation_l_day / plan.tank.litres
            rows.append(
                (
                    option.value,
                    f"{course.evaporation_l_day:.1f} L/day",
                    f"{100.0 * share:.1f} %",
                    f"{course.salinity_per_day:+.2f}",
                )
            )
    said = [
        (
            "Top-off is fresh water, as much as evaporates. The last column says by how much salinity moves "
            f"in a day without it (from {plan.tank.salinity:g}, practical salinity)."
        )
    ]
    courses = [plan.course(option) for option in Option]
    if any(isinstance(course, Course) and course.evaporation_l_day < 0.0 for course in courses):
        said.append("Where it is negative, damp air condenses on the colder water and thins it.")
    table = Table(("", "top-off", "of volume", "salinity in a day"), tuple(rows))
    return Section("Evaporation and salt", tuple(said), table)


def _time_left(plan: Plan, shown: Shown) -> Section:
    left, band = plan.time_left, plan.tank.safe_band
    if left is None:
        return Section("If cooling fails", ())
    high, low = shown.temperature(band.high_c), shown.temperature(band.low_c)
    failed = "the fans stop" if left.option is Option.FANS else "the chiller stops"
    said = [_left(f"If {failed} at the worst hour, the water is above {high}", left.to_high_h)]
    if left.to_low_h is not None:
        said.append(
            _left(f"If the chiller sticks on at the worst hour, the water is below {low}", left.to_low_h)
            + " That is what a separate cutoff is for."
        )
    said.append("This is the time a person has, the alarm's delay included.")
    return Section("If cooling fails", tuple(said))


def _left(what: str, left: float | LongerThan) -> str:
    if isinstance(left, LongerThan):
        return f"{what} not within {left.hours:.0f} h."
    if left == 0.0:
        return f"{what} at once: it is there already."
    return f"{what} after {hours(left)}."


def _certainty(plan: Plan) -> Section:
    calibration = plan.calibration
    said = []
    if calibration.measured_l_day is None:
        said.append(
            f"The evaporation is good to {percent(calibration.uncertainty)} either way until it is "
            "calibrated; the ranges above come from its ends. Measure the top-off over some days, fans off, "
            "in weather like this, and plan again with --measured-topoff '2.4 L/day'."
        )
    elif not isinstance(plan.nothing, CannotJudge):
        said.append(
            f"The evaporation is calibrated by your {calibration.measured_l_day:g} L/day, fans off: "
            f"{calibration.scale:.2f} times the textbook. It is taken to be good to "
            f"{percent(calibration.uncertainty)} then, in weather like that of the measurement."
        )
    said.append(
        "Room and light are as you gave them, or as is usual. A plan is no guarantee for animals: watch the "
        "water on the first hot days."
    )
    return Section("How sure this is", tuple(said))
