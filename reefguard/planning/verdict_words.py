"""The verdict in sentences a person can act on."""

from reefguard.planning.found import CannotJudge, Course, RunsAway, Spread
from reefguard.planning.model import Advice, Chiller, Enough, Fans, Plan, Sited
from reefguard.planning.shown import Shown, cooling, percent, rounded
from reefguard.thermal.plant import Siting

PLACES = {
    Siting.ROOM: "in the room",
    Siting.STAND: "in the closed stand",
    Siting.OUTSIDE: "outdoors",
}


_WORTH_SAYING_K = 0.3


def verdict_sentences(plan: Plan) -> tuple[str, ...]:
    """Return the verdict, the most important sentence first.

    Args:
        plan: to be told.
    """
    shown = Shown(plan.tank.shown_in)
    high = shown.temperature(plan.tank.safe_band.high_c)
    nothing_peak_c, fans, chiller = plan.nothing_peak_c, plan.fans, plan.chiller
    match plan.verdict.advice:
        case Advice.CANNOT_JUDGE:
            return (f"Cannot judge: {plan.verdict.why}.",)
        case Advice.NEITHER if nothing_peak_c is not None:
            return (
                (
                    f"Neither fans nor a chiller are needed on this day: left to itself the water peaks at "
                    f"{shown.uncertain(nothing_peak_c)}, within the "
                    f"safe band up to {high}."
                ),
                "Make the plan again for a hotter or damper day before you rely on it.",
            )
        case Advice.FANS if isinstance(fans, Fans):
            return (
                (
                    f"Fans will do on this day: with them the water peaks at "
                    f"{shown.uncertain(fans.peak_c)}, within the safe "
                    f"band up to {high}."
                ),
                (
                    f"Top off {fans.course.evaporation_l_day:.1f} L of fresh water a day. "
                    "Fans do less on damp days: plan one of those too."
                ),
            )
        case Advice.OPEN_DOORS if isinstance(fans, Fans) and fans.room_opened_peak_c is not None:
            return (
                (
                    "Fans will do on this day if doors and windows of the room stand open: the water then "
                    f"peaks at {shown.uncertain(fans.room_opened_peak_c)}; "
                    f"with them shut at {shown.uncertain(fans.peak_c)}. "
                    f"The safe band ends at {high}."
                ),
                "Air the room, or have it aired: the fans' own moisture is what stops them.",
            )
        case Advice.FANS_NOT_SAFELY if isinstance(fans, Fans):
            return (
                (
                    f"Fans will probably do on this day, but not safely: the water peaks at "
                    f"{shown.temperature(fans.peak_c.best)}, and anywhere in {shown.between(fans.peak_c)}; "
                    f"the safe band ends at {high}."
                ),
                (
                    "Measure the top-off for a few days, fans off, and plan again with --measured-topoff: "
                    "that makes the answer sharper. Until then have a chiller ready."
                ),
                *_chiller_size(chiller, shown),
            )
        case Advice.CHILLER:
            return (*_fans_fail(fans, nothing_peak_c, shown, high), *_chiller_size(chiller, shown))
        case _:
            return (
                (
                    "Cooling cannot hold this: a chiller finds no equilibrium at any place, because it heats "
                    "the air it breathes until its own protection stops it."
                ),
                "Make the heat smaller first: air the room, dim or shorten the light, move the tank.",
            )


def _fans_fail(
    fans: Fans | CannotJudge, nothing_peak_c: Spread | None, shown: Shown, high: str
) -> tuple[str, ...]:
    if isinstance(fans, CannotJudge):
        peak = (
            ""
            if nothing_peak_c is None
            else f": left to itself it peaks at {shown.uncertain(nothing_peak_c)}"
        )
        return (
            (
                f"A chiller is needed on this day{peak}; the safe band ends at {high}. "
                f"Fans cannot be judged: {fans.why}."
            ),
        )
    said = (
        f"Fans are not enough on this day: with them the water peaks at {shown.uncertain(fans.peak_c)}, and "
        f"the safe band ends at {high}."
    )
    opened = fans.room_opened
    brought_k = fans.course.peak_c - opened.peak_c if isinstance(opened, Course) else 0.0
    if brought_k >= _WORTH_SAYING_K:
        said += f" Opening doors and windows takes {shown.difference(brought_k)} off the peak: not enough."
    return (said,)


def _chiller_size(chiller: Chiller | CannotJudge, shown: Shown) -> tuple[str, ...]:
    """Say the size, the place, and what to think of the keeper's own."""
    if isinstance(chiller, CannotJudge) or chiller.counted_at is None:
        return ()
    found = chiller.sitings[chiller.counted_at]
    if not isinstance(found, Sited):
        return ()
    said = f"A chiller of at least {cooling(found.capacity_w)} {PLACES[chiller.counted_at]} holds it"
    if chiller.capacity_w is None:
        said += "; at one end of the evaporation's uncertainty none does"
    elif rounded(chiller.capacity_w.high) > rounded(found.capacity_w):
        said += f"; whatever the evaporation, {cooling(chiller.capacity_w.high)}"
    sentences = [said + "."]
    outdoors = chiller.sitings[Siting.OUTSIDE]
    if chiller.counted_at is not Siting.OUTSIDE and isinstance(outdoors, Sited):
        cooler_k = found.room_peak_c - outdoors.room_peak_c
        sentences.append(
            f"With its heat led outdoors {cooling(outdoors.capacity_w)} are enough, and the room stays "
            f"{shown.difference(cooler_k)} cooler."
        )
    if isinstance(chiller.sitings[chiller.place], RunsAway):
        sentences.append(
            f"Not {PLACES[chiller.place]}, where it is planned: there it breathes its own heat until its "
            "protection stops it."
        )
    if chiller.own is not None:
        sentences.append(own_sentence(chiller, shown))
    return tuple(sentences)


def own_sentence(chiller: Chiller, shown: Shown) -> str:
    """Say whether the keeper's own chiller is enough.

    Args:
        chiller: with one of the keeper's own, and a place where it has an equilibrium.
        shown: writes the temperatures.
    """
    own = chiller.own
    if own is None or chiller.counted_at is None:
        return ""
    where = PLACES[chiller.counted_at]
    size = f"Your own of {cooling(own.capacity_w)}"
    rough = " Its size is off a horsepower label, good to 30 % either way." if own.label_is_rough else ""
    duty = percent(own.duty_at_worst)
    peak = shown.temperature(own.peak_c)
    match own.enough:
        case Enough.YES:
            return f"{size} is enough {where}: it runs {duty} of the worst hour.{rough}"
        case Enough.WITHOUT_RESERVE:
            return f"{size} is just enough {where}, without reserve: it runs {duty} of the worst hour.{rough}"
        case Enough.NOT_SURELY:
            return (
                f"{size} is not surely enough {where}: at best estimate the water peaks at {peak}, but not "
                f"at the bad end of the uncertainty.{rough}"
            )
        case Enough.NO:
            return (
                f"{size} is not enough {where}: running all the time, the water still peaks at {peak}.{rough}"
            )
