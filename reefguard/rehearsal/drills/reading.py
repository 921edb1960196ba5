"""Read a drill file: strict YAML in, a drill or everything that is wrong out."""

from collections.abc import Iterator

from reefguard.rehearsal.drills.drill import (
    CUTOFFS,
    EACH,
    EVERY,
    Bounds,
    CutoffMust,
    Drill,
    Event,
    Expected,
    Outdoors,
    Part,
    Turn,
    WeatherSeries,
)
from reefguard.rehearsal.drills.fields import FILE
from reefguard.rehearsal.drills.turns import TURNS, Needs
from reefguard.settings.problems import Problem
from reefguard.settings.quantities import DURATION, MisreadError
from reefguard.settings.reader import read_values
from reefguard.settings.sheet import Sheet, Written
from reefguard.settings.text import text_of
from reefguard.settings.yaml_nodes import compose

_WHICH = (Part.PROBE, Part.FAN)


def read_drill(content: bytes, name: str) -> Drill | tuple[Problem, ...]:
    """Return the drill that a file's content gives, or all that is wrong with it.

    Never raises, whatever the content.

    Args:
        content: of the file.
        name: what the drill is called: the file's name without its ending.
    """
    text = text_of(content)
    if isinstance(text, Problem):
        return (text,)
    table, structure = compose(text)
    if table is None:
        return structure
    sheet, misread = read_values(table, FILE)
    problems = (*structure, *misread, *(one for rule in _RULES for one in rule(sheet)))
    if problems:
        return tuple(sorted(problems, key=lambda problem: problem.place))
    return _drill(sheet, name)


# --- rules ---


def _turns_fit(sheet: Sheet) -> Iterator[Problem]:
    """Each part can take only some turns, and each turn needs what it needs."""
    for at in _events(sheet):
        part, turn = sheet.of(f"{at}.part", Part), sheet.of(f"{at}.is", Turn)
        if part is None or turn is None:
            continue
        needs = TURNS[part.value].get(turn.value)
        if needs is None:
            can = ", ".join(f"`{one.value}`" for one in TURNS[part.value])
            yield turn.problem(f"a {part.text} cannot be that", f"write one of {can}")
            continue
        yield from _amount_fits(sheet, at, turn, needs)
        yield from _times_fit(sheet, at, needs)
        yield from _which_fits(sheet, at, part)
        if turn.value is Turn.CHANGED and sheet.of(f"{at}.water", float) is None:
            yield turn.problem("a water change needs the new water's temperature", "add `water: 18 °C`")


def _amount_fits(sheet: Sheet, at: str, turn: Written[Turn], needs: Needs) -> Iterator[Problem]:
    by = sheet.of(f"{at}.by", str)
    if needs.measure is None:
        if by is not None:
            yield by.problem(f"`{turn.text}` has no amount", "take `by` out")
    elif by is None:
        yield turn.problem(f"`{turn.text}` needs an amount", f"add `by: {needs.measure.example}`")
    else:
        try:
            _amount(by.text, needs)
        except MisreadError as misread:
            yield by.problem(misread.why, misread.mend)


def _times_fit(sheet: Sheet, at: str, needs: Needs) -> Iterator[Problem]:
    lasts, every = sheet.of(f"{at}.lasts", float), sheet.of(f"{at}.every", float)
    times = sheet.of(f"{at}.times", int)
    if needs.momentary and lasts is not None:
        yield lasts.problem("this happens at once and does not last", "take `lasts` out")
    if times is not None and times.given and every is None:
        yield times.problem("`times` needs `every`", "add `every: 6 min`, or take `times` out")
    if every is not None and not needs.momentary:
        if lasts is None:
            yield every.problem("what is repeated must end in between", "add `lasts: 1 min`")
        elif lasts.value >= every.value:
            yield lasts.problem(
                f"not shorter than `every` ({every.text})", "let it end before it comes again"
            )
    start, whole = sheet.of(f"{at}.from", float), sheet.of("lasts", float)
    if start is not None and whole is not None and start.value >= whole.value:
        yield start.problem(f"after the drill has ended (`lasts: {whole.text}`)", "begin it earlier")


def _which_fits(sheet: Sheet, at: str, part: Written[Part]) -> Iterator[Problem]:
    which = sheet.of(f"{at}.which", str)
    if part.value in _WHICH and which is None:
        mend = "add `which:` and a name, `each`, `every`" + (
            ", or `cutoff's`" if part.value is Part.PROBE else ""
        )
        yield part.problem(f"which {part.text}?", mend)
    if part.value not in _WHICH and which is not None:
        yield which.problem(f"there is one {part.text} only", "take `which` out")
    if part.value is Part.FAN and which is not None and which.value == CUTOFFS:
        yield which.problem("the cutoff has no fan", f"write a name, `{EACH}` or `{EVERY}`")


def _weather_whole(sheet: Sheet) -> Iterator[Problem]:
    """The weather is three numbers, or a file."""
    if not sheet.is_open("weather"):
        return
    numbers = [key for key in ("hottest", "coolest", "humidity") if sheet.mentions(f"weather.{key}")]
    place = sheet.place("weather")
    if sheet.mentions("weather.file") == bool(numbers) or (numbers and len(numbers) < 3):
        yield Problem(
            place,
            "weather",
            "",
            "the weather is given by three numbers, or by a file",
            "write `hottest`, `coolest` and `humidity`, or else `file`",
        )
    hottest, coolest = sheet.of("weather.hottest", float), sheet.of("weather.coolest", float)
    if hottest and coolest and coolest.value > hottest.value:
        yield coolest.problem(f"above `hottest` ({hottest.text})", "swap the two")


def _mistakes_written(sheet: Sheet) -> Iterator[Problem]:
    """A mistake is a key, an equals sign and a value."""
    for key in ("mistakes", "cutoff_mistakes"):
        written = sheet.of(key, tuple)
        for text in written.value if written is not None else ():
            if written is not None and not all(part.strip() for part in text.partition("=")):
                yield written.problem(f"`{text}` is no key with a value", "write `fans.cut_in = 25 °C`")
    check = sheet.of("limits.check_says", Expected)
    if check is not None and not (sheet.mentions("mistakes") or sheet.mentions("cutoff_mistakes")):
        yield check.problem("there is no mistake to tell of", "add `mistakes:` or `cutoff_mistakes:`")


def _one_each(sheet: Sheet) -> Iterator[Problem]:
    """One hazard per file: at most one event makes a run for each."""
    each = [at for at in _events(sheet) if sheet.maybe(f"{at}.which", str) == EACH]
    for at in each[1:]:
        yield Problem(
            sheet.place(at), at, EACH, "another event has `each` already", "name one, or write `every`"
        )


def _something_is_asked(sheet: Sheet) -> Iterator[Problem]:
    """A drill without limits proves nothing."""
    if sheet.is_open("limits") and not any(
        written.given and written.key.startswith("limits.") for written in sheet.ending(*_LIMIT_KEYS)
    ):
        yield Problem(
            sheet.place("limits"), "limits", "", "no limit is given", "write one: `above_band: 0.5 °C`"
        )


_LIMIT_KEYS = (
    "above_band",
    "below_band",
    "out_of_band",
    "degree_hours",
    "starts",
    "starts_in_an_hour",
    "told",
    "quiet",
    "cutoff_must",
    "chiller_rests",
    "check_says",
)
_RULES = (_turns_fit, _weather_whole, _mistakes_written, _one_each, _something_is_asked)


def _events(sheet: Sheet) -> list[str]:
    return [f"events.{name}" for name in sheet.names("events")]


def _amount(text: str, needs: Needs) -> float:
    """Return what `by` says.

    Raises:
        MisreadError: it is no such quantity, or out of bounds.
    """
    if needs.measure is None or needs.bounds is None:
        return 0.0
    if needs.measure is DURATION and text.startswith("-"):
        return -needs.bounds.admit(needs.measure.read(text[1:]), needs.measure)
    return needs.bounds.admit(needs.measure.read(text), needs.measure)


# --- building ---


def _drill(sheet: Sheet, name: str) -> Drill:
    return Drill(
        name=name,
        says=sheet.must("says", str),
        lasts_s=sheet.must("lasts", float),
        begins_s=float(sheet.must("begins", int)),
        weather=_weather(sheet),
        tick_s=sheet.maybe("tick", float),
        water_c=sheet.maybe("water", float),
        events=tuple(_event(sheet, at) for at in _events(sheet)),
        mistakes=_mistakes(sheet, "mistakes"),
        cutoff_mistakes=_mistakes(sheet, "cutoff_mistakes"),
        bounds=_bounds(sheet),
    )


def _weather(sheet: Sheet) -> Outdoors | WeatherSeries | None:
    file = sheet.maybe("weather.file", str)
    if file is not None:
        return WeatherSeries(file)
    if not sheet.is_open("weather"):
        return None
    return Outdoors(
        sheet.must("weather.hottest", float),
        sheet.must("weather.coolest", float),
        sheet.must("weather.humidity", float),
    )


def _event(sheet: Sheet, at: str) -> Event:
    part, turn = sheet.must(f"{at}.part", Part), sheet.must(f"{at}.is", Turn)
    return Event(
        name=at.removeprefix("events."),
        part=part,
        turn=turn,
        from_s=sheet.must(f"{at}.from", float),
        lasts_s=sheet.maybe(f"{at}.lasts", float),
        every_s=sheet.maybe(f"{at}.every", float),
        times=sheet.must(f"{at}.times", int),
        which=sheet.maybe(f"{at}.which", str) or "",
        by=_amount(sheet.maybe(f"{at}.by", str) or "", TURNS[part][turn]),
        water_c=sheet.maybe(f"{at}.water", float),
    )


def _mistakes(sheet: Sheet, key: str) -> tuple[tuple[str, str], ...]:
    written: tuple[str, ...] = sheet.maybe(key, tuple) or ()
    parts = (text.partition("=") for text in written)
    return tuple((name.strip(), value.strip()) for name, _, value in parts)


def _bounds(sheet: Sheet) -> Bounds:
    at = "limits"
    return Bounds(
        above_band_c=sheet.maybe(f"{at}.above_band", float),
        below_band_c=sheet.maybe(f"{at}.below_band", float),
        out_of_band_s=sheet.maybe(f"{at}.out_of_band", float),
        degree_hours=sheet.maybe(f"{at}.degree_hours", float),
        starts=sheet.maybe(f"{at}.starts", int),
        starts_in_an_hour=sheet.maybe(f"{at}.starts_in_an_hour", int),
        told=sheet.maybe(f"{at}.told", tuple) or (),
        told_within_s=sheet.maybe(f"{at}.told_within", float),
        quiet=sheet.must(f"{at}.quiet", bool),
        cutoff=sheet.maybe(f"{at}.cutoff_must", CutoffMust),
        chiller_rests=sheet.must(f"{at}.chiller_rests", bool),
        check=sheet.maybe(f"{at}.check_says", Expected),
    )
