"""What the values of a settings file must be to each other.

A rule that misses one of its values says nothing: the problem is told
already.  What is merely unwise is no rule; see `findings`.
"""

from collections.abc import Iterator

from reefguard.settings.cooling_fields import HEATER_LOGIC
from reefguard.settings.model import Staging
from reefguard.settings.problems import TOP, Problem
from reefguard.settings.quantities import DURATION, TEMPERATURE
from reefguard.settings.sheet import Sheet
from reefguard.settings.stages import STAGES, cut_points

_LEAD_AND_LAG_ONLY = ("lag_step", "rotate_after")


def broken_rules(sheet: Sheet) -> tuple[Problem, ...]:
    """Return a problem for each rule the values break."""
    return tuple(problem for rule in RULES for problem in rule(sheet))


def something_cools(sheet: Sheet) -> Iterator[Problem]:
    """A tank has fans, or a chiller, or both."""
    if not sheet.mentions("fans") and not sheet.mentions("chiller"):
        yield Problem(
            TOP, "", "", "neither fans nor a chiller: nothing would cool", "add `fans:` or `chiller:`"
        )


def band_upright(sheet: Sheet) -> Iterator[Problem]:
    """The safe band has its low end below its high end."""
    low, high = sheet.of("safe_band.low", float), sheet.of("safe_band.high", float)
    if low and high and low.value >= high.value:
        yield low.problem(
            f"not below `safe_band.high` ({high.text}, line {high.place.line})",
            "swap the two, or mend the one that is mistaken",
        )


def one_way_of_cutting(sheet: Sheet) -> Iterator[Problem]:
    """A stage has two cut points, or a setpoint and a differential; not both, nor half of either."""
    for stage in STAGES:
        if not sheet.is_open(stage):
            continue
        points = [key for key in ("cut_in", "cut_out") if sheet.mentions(f"{stage}.{key}")]
        around = [key for key in ("setpoint", "differential") if sheet.mentions(f"{stage}.{key}")]
        mend = "write `cut_in` and `cut_out`, or else `setpoint` and `differential`"
        place = sheet.place(stage)
        if points and around:
            why = f"`{points[0]}` and `{around[0]}` do not go together: they say the same thing twice"
            yield Problem(place, stage, "", why, mend)
        elif len(points) + len(around) < 2:
            given = f"only `{(points + around)[0]}` is" if points or around else "nothing is"
            yield Problem(place, stage, "", f"{given} said of when it starts and stops", mend)


def stages_cool(sheet: Sheet) -> Iterator[Problem]:
    """A stage starts when warm and stops when cool; the other way round is a heater's logic."""
    for stage in STAGES:
        cut = cut_points(sheet, stage)
        if cut is None:
            continue
        start, stop = cut.start, cut.stop
        against = f"`{stop.key}` ({stop.text}, line {stop.place.line})"
        if start.value < stop.value:
            yield start.problem(
                f"below {against}: {HEATER_LOGIC}",
                "swap the two: cooling starts at the higher one",
            )
        elif start.value == stop.value:
            yield start.problem(
                f"no differential to {against}: it would switch at every flicker of the probe",
                "leave some tenths of a degree between start and stop",
            )


def stages_stop_in_the_band(sheet: Sheet) -> Iterator[Problem]:
    """Cooling stops before the water is as cold as the safe band allows."""
    low = sheet.of("safe_band.low", float)
    for stage in STAGES:
        cut = cut_points(sheet, stage)
        if cut and low and cut.stop.value <= low.value:
            yield cut.stop.problem(
                f"not above `safe_band.low` ({low.text}, line {low.place.line}): it would leave the band",
                f"write more than {TEMPERATURE.show(low.value)}",
            )


def pins_have_one_use(sheet: Sheet) -> Iterator[Problem]:
    """Nothing shares a pin, least of all with a 1-wire bus."""
    taken: dict[int, str] = {}
    for written in sheet.ending("pin", "one_wire_pins"):
        gpios = written.value if isinstance(written.value, tuple) else (written.value,)
        for gpio in gpios:
            if gpio in taken:
                yield written.problem(f"GPIO{gpio} is taken already: {taken[gpio]}", "give each its own pin")
            else:
                whose = "the 1-wire bus owns it" if written.key == "one_wire_pins" else f"`{written.key}`"
                taken[gpio] = (
                    f"{whose} (line {written.place.line})"
                    if written.given
                    else f"{whose} unless told otherwise"
                )


def probes_are_different(sheet: Sheet) -> Iterator[Problem]:
    """No probe is counted twice."""
    seen: dict[object, str] = {}
    for written in sheet.ending("id"):
        if written.value in seen:
            yield written.problem(
                f"this probe has a place already: {seen[written.value]}",
                "give each place its own probe; a probe twice would only agree with itself",
            )
        else:
            seen[written.value] = f"`{written.key}` (line {written.place.line})"


def trust_in_order(sheet: Sheet) -> Iterator[Problem]:
    """A probe has several readings' time before it is stale, and it is stale before the mode changes."""
    sampling = sheet.of("sampling", float)
    stale = sheet.of("trust.stale_after", float)
    schedule = sheet.of("trust.schedule_after", float)
    if sampling and stale and stale.value < 3 * sampling.value:
        yield stale.problem(
            f"shorter than three readings (`sampling` is {sampling.text}): one missed reading is no fault",
            f"write at least {DURATION.show(3 * sampling.value)}",
        )
    if stale and schedule and schedule.value < stale.value:
        yield schedule.problem(
            f"shorter than `trust.stale_after` ({stale.text}): the mode would change on readings still used",
            f"write at least {DURATION.show(stale.value)}",
        )


def lag_keys_need_lead_and_lag(sheet: Sheet) -> Iterator[Problem]:
    """What only lead and lag uses is not written for fans that run together."""
    together = sheet.maybe("fans.staging", Staging) is Staging.TOGETHER
    for key in _LEAD_AND_LAG_ONLY:
        written = sheet.of(f"fans.{key}", float)
        if written and written.given and together:
            yield written.problem(
                "of use only with `staging: lead and lag`; these fans run together",
                "write `staging: lead and lag`, or take this key out",
            )


def speed_rises(sheet: Sheet) -> Iterator[Problem]:
    """A fan is at full speed warmer than where it starts."""
    cut = cut_points(sheet, "fans")
    for written in sheet.ending("full_at"):
        if cut and isinstance(written.value, float) and written.value <= cut.start.value:
            yield written.problem(
                f"not above where the fans start (`{cut.start.key}`, {TEMPERATURE.show(cut.start.value)})",
                "write a warmer temperature, or leave `speed` out",
            )


def lights_change(sheet: Sheet) -> Iterator[Problem]:
    """The lights are off for some of the day."""
    on, off = sheet.of("lights.on", int), sheet.of("lights.off", int)
    if on and off and on.value == off.value:
        yield off.problem(
            f"the same as `lights.on` (line {on.place.line}): are they ever off?",
            "write when they go off",
        )


RULES = (
    something_cools,
    band_upright,
    one_way_of_cutting,
    stages_cool,
    stages_stop_in_the_band,
    pins_have_one_use,
    probes_are_different,
    trust_in_order,
    lag_keys_need_lead_and_lag,
    speed_rises,
    lights_change,
)
