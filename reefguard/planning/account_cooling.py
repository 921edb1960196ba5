"""What fans do and what limits them; how large a chiller has to be, and what its place does."""

from reefguard.planning.found import CannotJudge, Course, RunsAway, Spread
from reefguard.planning.model import Chiller, FanLimit, Plan, Sited
from reefguard.planning.section import Section, Table
from reefguard.planning.shown import Shown, clock, cooling, hour_ranges, percent, rounded, watts
from reefguard.planning.verdict_words import PLACES, own_sentence
from reefguard.thermal.plant import Siting

_LIMITS = {
    FanLimit.NONE: "They hold the water.",
    FanLimit.STAND: "What limits them is the closed stand: the air in it is damp. Open it, or ventilate it.",
    FanLimit.ROOM: "What limits them is the closed room, which their moisture and heat fill. Air it.",
    FanLimit.HUMIDITY: "What limits them is the damp air itself; stronger fans would bring little.",
    FanLimit.STRENGTH: "What limits them is too little moving air over too little open water.",
}


def fans_section(plan: Plan, shown: Shown) -> Section:
    """Tell what fans do."""
    fans, nothing = plan.fans, plan.nothing
    if isinstance(fans, CannotJudge) or isinstance(nothing, CannotJudge):
        why = fans.why if isinstance(fans, CannotJudge) else "the water cannot be judged"
        return Section("Fans", (f"Cannot judge: {why}.",))
    course = fans.course
    said = [
        (
            f"They lower the peak by {shown.difference(nothing.peak_c - course.peak_c)}, to "
            f"{shown.uncertain(fans.peak_c)}. {_LIMITS[fans.limit]}"
        ),
        (
            f"Humidity of the room, mean of the day: {percent(nothing.room_humidity_mean)} without, "
            f"{percent(course.room_humidity_mean)} with fans (at most {percent(course.room_humidity_peak)})."
        ),
    ]
    if course.salt_wet_bulb_peak_c is not None:
        said.append(
            "No fan can cool the water below the salt wet-bulb temperature of the air it blows: here up to "
            f"{shown.temperature(course.salt_wet_bulb_peak_c)}. {_heating(course, shown, plan.tank.hold_c)}"
        )
    if isinstance(plan.both, Course) and plan.both.fan_heating_hours:
        said.append(
            "Beside a chiller that holds the water colder, they would heat it from "
            f"{hour_ranges(plan.both.fan_heating_hours)}: keep them off then."
        )
    if plan.fans_heat_above:
        airs = ", ".join(
            f"{percent(air.humidity)} at {shown.temperature(air.air_c)}" for air in plan.fans_heat_above
        )
        said.append(
            f"On any day a fan heats water of {shown.temperature(plan.tank.hold_c)} in air damper than "
            f"{airs}."
        )
    rows = [
        _fan_row("no fans", nothing, shown),
        _fan_row("fans", course, shown),
        _opened_row("fans, room opened", fans.room_opened, shown),
    ]
    if fans.stand_opened is not None:
        rows.append(_opened_row("fans, stand opened", fans.stand_opened, shown))
    return Section("Fans", tuple(said), Table(("", "peak", "above band", "humidity"), tuple(rows)))


def _heating(course: Course, shown: Shown, hold_c: float) -> str:
    if course.fan_heating_hours:
        return f"They would heat the water from {hour_ranges(course.fan_heating_hours)}: keep them off then."
    limit_c = course.salt_wet_bulb_peak_c
    if limit_c is not None and limit_c > hold_c:
        return f"They cannot reach {shown.temperature(hold_c)} on this day."
    return "At no hour of this day do they heat the water."


def _fan_row(name: str, course: Course, shown: Shown) -> tuple[str, ...]:
    return (
        name,
        shown.temperature(course.peak_c),
        f"{course.hours_above_band:.1f} h",
        percent(course.room_humidity_mean),
    )


def _opened_row(name: str, course: Course | CannotJudge, shown: Shown) -> tuple[str, ...]:
    return (
        (name, "cannot judge", "", "") if isinstance(course, CannotJudge) else _fan_row(name, course, shown)
    )


def chiller_section(plan: Plan, shown: Shown) -> Section:
    """Tell how large a chiller has to be, and what its place does."""
    chiller = plan.chiller
    if isinstance(chiller, CannotJudge):
        return Section("Chiller", (f"Cannot judge: {chiller.why}.",))
    tank = plan.tank
    said = [f"To hold {shown.temperature(tank.hold_c)} without fans, by the place where it throws its heat:"]
    if chiller.counted_at is not None:
        said += _size(chiller, tank.duty_reserve, shown, tank.hold_c)
    if chiller.counted_at is not None and chiller.sized_w is not None and isinstance(chiller.course, Course):
        said.append(
            f"What follows counts with a chiller of {cooling(chiller.sized_w)} {PLACES[chiller.counted_at]}."
        )
    said += [_no_equilibrium(chiller, place, shown) for place in (Siting.STAND, Siting.ROOM)]
    rows = [_siting_row(chiller, place, shown) for place in Siting]
    if isinstance(plan.nothing, Course):
        rows.append(("no chiller", "", "", shown.temperature(plan.nothing.room_peak_c), ""))
    table = Table(("", "worst hour", "nominal, at least", "room up to", "kWh/day"), tuple(rows))
    return Section("Chiller", tuple(sentence for sentence in said if sentence), table)


def _size(chiller: Chiller, duty: float, shown: Shown, hold_c: float) -> list[str]:
    at = chiller.counted_at
    found = None if at is None else chiller.sitings[at]
    if at is None or not isinstance(found, Sited):
        return []
    if found.load_w <= 0.0:
        return [f"The water never gets above {shown.temperature(hold_c)}: there is nothing for it to do."]
    range_of = ""
    if chiller.load_w is not None and chiller.capacity_w is not None:
        range_of = (
            f" By the evaporation's uncertainty that is {_watts_between(chiller.load_w)}, and "
            f"{_watts_between(chiller.capacity_w)} nominal."
        )
    said = [
        (
            f"{PLACES[at].capitalize()} the worst hour, from {clock(found.at_hour)}, takes "
            f"{cooling(found.load_w)}. In air of that hour {percent(found.derating)} of the nominal capacity "
            f"is left, and it shall run {percent(duty)} of the time at most: {cooling(found.capacity_w)} "
            f"nominal.{range_of}"
        )
    ]
    if chiller.own is not None:
        own = chiller.own
        starts = (
            f" It starts at most {own.starts_per_h:.1f} times an hour with a differential of "
            f"{shown.difference(own.differential_k)}."
        )
        said.append(own_sentence(chiller, shown) + starts)
    else:
        said.append(
            "Compare BTU/h or W at stated temperatures; a bare horsepower label tells the cooling to 30 % "
            "either way at best."
        )
    return said


def _watts_between(spread: Spread) -> str:
    low, high = watts(spread.low), watts(spread.high)
    return high if low == high else f"{low.split()[0]} to {high}"


def _no_equilibrium(chiller: Chiller, place: Siting, shown: Shown) -> str:
    found = chiller.sitings[place]
    if not isinstance(found, RunsAway):
        return ""
    return (
        f"{PLACES[place].capitalize()} there is no equilibrium: it breathes its own heat until its "
        f"protection stops it. About {rounded(found.vent_m3_h)} m³/h of air would have to pass through to "
        f"keep it within {shown.difference(5.0)} of the air around."
    )


def _siting_row(chiller: Chiller, place: Siting, shown: Shown) -> tuple[str, ...]:
    found = chiller.sitings[place]
    if isinstance(found, RunsAway):
        return (PLACES[place], "it runs away", "", "", "")
    if isinstance(found, CannotJudge):
        return (PLACES[place], "cannot judge", "", "", "")
    return (
        PLACES[place],
        watts(found.load_w),
        cooling(found.capacity_w),
        shown.temperature(found.room_peak_c),
        f"{found.electric_kwh:.2f}",
    )
