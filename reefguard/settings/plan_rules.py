"""What the values of a tank plan must be to each other.

A rule that misses one of its values says nothing: the problem is told already.
Each takes the sheet and what the plan's keys begin with on it.
"""

from collections.abc import Callable, Iterator

from reefguard.settings.plan_model import ChillerPlace, Over
from reefguard.settings.problems import Problem
from reefguard.settings.quantities import TEMPERATURE
from reefguard.settings.rules import band_upright, lights_change
from reefguard.settings.sheet import Sheet, Written

# Rock, sand and what is not filled take some of what the panes hold; pipes and reactors add a little.
_HELD_AT_LEAST, _HELD_AT_MOST = 0.8, 2.0
_SIZES = ("length", "width", "depth")
_LITRES_PER_M3 = 1000.0


def broken_plan_rules(sheet: Sheet, at: str) -> tuple[Problem, ...]:
    """Return a problem for each rule the plan breaks.

    Args:
        sheet: of a plan file, or of the settings.
        at: what the plan's keys begin with: nothing, or `plan.`.
    """
    return tuple(problem for rule in _RULES for problem in rule(sheet, at))


def broken_file_rules(sheet: Sheet) -> tuple[Problem, ...]:
    """Return a problem for each rule that a plan in a file of its own breaks."""
    return (*band_upright(sheet), *lights_change(sheet), *broken_plan_rules(sheet, ""))


def _volume_fits(sheet: Sheet, at: str) -> Iterator[Problem]:
    """What the panes hold and what the keeper says agree, roughly: a slip in a unit is a factor of ten."""
    volume = sheet.of(f"{at}water.volume", float)
    vessels = [vessel for vessel in ("display", "sump") if sheet.mentions(f"{at}{vessel}")]
    sizes = {vessel: _size(sheet, f"{at}{vessel}") for vessel in vessels}
    if volume is None or "display" not in vessels or not all(sizes.values()):
        return
    litres = {vessel: _litres(size) for vessel, size in sizes.items()}
    held = sum(litres.values())
    if volume.value * _HELD_AT_LEAST <= held <= volume.value * _HELD_AT_MOST:
        return
    parts = " and ".join(
        f"{vessel} {' x '.join(side.text for side in sizes[vessel])} holds {litres[vessel]:.0f} L"
        for vessel in vessels
    )
    yield volume.problem(
        f"that does not fit the sizes: {parts}, {100 * held / volume.value:.0f} % of it",
        "check the sizes and their units, or write a volume that they can hold: "
        f"{held / _HELD_AT_MOST:.0f} to {held / _HELD_AT_LEAST:.0f} L",
    )


def _size(sheet: Sheet, vessel: str) -> tuple[Written[float], ...]:
    sides = [sheet.of(f"{vessel}.{side}", float) for side in _SIZES]
    return tuple(side for side in sides if side is not None) if all(sides) else ()


def _litres(size: tuple[Written[float], ...]) -> float:
    length, width, depth = size
    return length.value * width.value * depth.value * _LITRES_PER_M3


def _held_in_the_band(sheet: Sheet, at: str) -> Iterator[Problem]:
    """What is held lies where the animals are well."""
    hold = sheet.of(f"{at}hold_at", float)
    low, high = sheet.of("safe_band.low", float), sheet.of("safe_band.high", float)
    if hold and low and high and low.value < high.value and not low.value <= hold.value <= high.value:
        yield hold.problem(
            f"outside the safe band ({low.text} to {high.text}, line {low.place.line})",
            f"write {TEMPERATURE.show(low.value)} to {TEMPERATURE.show(high.value)}, "
            "with some room to either end",
        )


def _coolest_below_hottest(sheet: Sheet, at: str) -> Iterator[Problem]:
    """The coolest of a day is not warmer than its hottest."""
    hottest, coolest = sheet.of(f"{at}weather.hottest", float), sheet.of(f"{at}weather.coolest", float)
    if not (hottest and coolest and coolest.value > hottest.value):
        return
    if coolest.given and hottest.given:
        yield coolest.problem(
            f"warmer than `hottest` ({hottest.text}, line {hottest.place.line})",
            "swap the two, or mend the one that is mistaken",
        )
    elif coolest.given:
        yield coolest.problem(
            f"warmer than `hottest`, which is {hottest.text} unless told otherwise", "write `hottest` too"
        )
    else:
        yield hottest.problem(
            f"cooler than `coolest`, which is {coolest.text} unless told otherwise", "write `coolest` too"
        )


def _one_weather(sheet: Sheet, at: str) -> Iterator[Problem]:
    """A file with hours leaves nothing for the three numbers to say."""
    file = sheet.of(f"{at}weather.file", str)
    for key in ("hottest", "coolest", "humidity"):
        number = sheet.of(f"{at}weather.{key}", float)
        if file and number and number.given:
            yield number.problem(
                f"the weather is that of `file` ({file.text}, line {file.place.line}) already",
                "take this key out, or `file`",
            )


def _fans_over_what_is_there(sheet: Sheet, at: str) -> Iterator[Problem]:
    """Fans over a sump need one."""
    over = sheet.of(f"{at}fans.over", Over)
    if over and over.value is Over.SUMP and not sheet.mentions(f"{at}sump"):
        yield over.problem("there is no sump in this plan", "add `sump:` with its sizes, or write `display`")


def _chiller_in_what_is_there(sheet: Sheet, at: str) -> Iterator[Problem]:
    """A chiller in the stand needs one."""
    place = sheet.of(f"{at}chiller.place", ChillerPlace)
    if place and place.value is ChillerPlace.STAND and not sheet.mentions(f"{at}stand"):
        yield place.problem(
            "there is no stand in this plan", "add `stand: {}` for a closed cabinet, or write `room`"
        )


def _starts_with_more(sheet: Sheet, at: str) -> Iterator[Problem]:
    """A compressor draws more at its start than when it runs."""
    running = sheet.of(f"{at}chiller.running_current", float)
    starting = sheet.of(f"{at}chiller.starting_current", float)
    if running and starting and starting.value < running.value:
        yield starting.problem(
            f"less than `running_current` ({running.text}, line {running.place.line})",
            "swap the two, or take this key out: it is estimated then",
        )


_RULES: tuple[Callable[[Sheet, str], Iterator[Problem]], ...] = (
    _volume_fits,
    _held_in_the_band,
    _coolest_below_hottest,
    _one_weather,
    _fans_over_what_is_there,
    _chiller_in_what_is_there,
    _starts_with_more,
)
