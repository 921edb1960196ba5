"""Hold a run's record against its drill's bounds."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from reefguard.control.words import span
from reefguard.rehearsal.drills.drill import Bounds, CutoffMust, Drill, Expected
from reefguard.rehearsal.drills.record import SETTLES_S, Interval, Record
from reefguard.settings.model import Settings


class Outcome(Enum):
    """What became of a run."""

    PASSED = "passed"
    FAILED = "FAILED"
    DOES_NOT_APPLY = "does not apply"


@dataclass(frozen=True, slots=True)
class Judgement:
    """The outcome of a run, and each bound it broke, in words."""

    outcome: Outcome
    broken: tuple[str, ...] = ()


def judge(drill: Drill, record: Record, settings: Settings, *, said: Expected | None) -> Judgement:
    """Return whether the run kept its bounds.

    Args:
        drill: with its bounds.
        record: of the run.
        settings: of the guard; their minimum off time holds in every drill.
        said: what `check` said of the drill's mistakes.
    """
    bounds = drill.bounds
    broken = (
        *_water(bounds, record, settings),
        *_compressor(bounds, record, settings),
        *_told(drill, record),
        *_cutoff(bounds, record),
        *_check(bounds, said),
    )
    return Judgement(Outcome.FAILED if broken else Outcome.PASSED, broken)


def judge_refused(drill: Drill, said: Expected) -> Judgement:
    """Return the judgement of settings that were refused: there is no run to hold anything against."""
    broken = tuple(_check(drill.bounds, said))
    if drill.bounds.check is None:
        broken = ("the settings were refused, and the drill wanted to run them",)
    return Judgement(Outcome.FAILED if broken else Outcome.PASSED, broken)


def _water(bounds: Bounds, record: Record, settings: Settings) -> Iterator[str]:
    band = settings.safe_band
    above_c, below_c = record.hottest_c - band.high_c, band.low_c - record.coldest_c
    if bounds.above_band_c is not None and above_c > bounds.above_band_c:
        yield f"{above_c:.2f} °C above the safe band; {bounds.above_band_c:.2f} °C are allowed"
    if bounds.below_band_c is not None and below_c > bounds.below_band_c:
        yield f"{below_c:.2f} °C below the safe band; {bounds.below_band_c:.2f} °C are allowed"
    if bounds.out_of_band_s is not None and record.out_of_band_s > bounds.out_of_band_s:
        yield f"{span(record.out_of_band_s)} outside the safe band; {span(bounds.out_of_band_s)} are allowed"
    if bounds.degree_hours is not None and record.degree_hours > bounds.degree_hours:
        yield f"{record.degree_hours:.1f} °C·h outside the safe band; {bounds.degree_hours:.1f} are allowed"


def _compressor(bounds: Bounds, record: Record, settings: Settings) -> Iterator[str]:
    starts = record.starts_s
    if bounds.chiller_rests and starts:
        yield f"the chiller ran, first after {span(starts[0])}"
    if bounds.starts is not None and len(starts) > bounds.starts:
        yield f"{len(starts)} compressor starts; {bounds.starts} are allowed"
    if bounds.starts_in_an_hour is not None:
        most = most_in(starts, 3_600.0)
        if most > bounds.starts_in_an_hour:
            yield f"{most} compressor starts in an hour; {bounds.starts_in_an_hour} are allowed"
    rest_s = record.shortest_rest_s
    needed_s = 0.0 if settings.chiller is None else settings.chiller.minimum_off_s
    if rest_s is not None and rest_s < needed_s:
        yield f"the compressor rested {span(rest_s)} only; the settings say {span(needed_s)}"


def most_in(moments_s: tuple[float, ...], span_s: float) -> int:
    """Return how many of the moments lie within any span of that length.

    >>> most_in((0.0, 10.0, 3599.0, 3601.0), 3600.0)
    3
    """
    most = first = 0
    for last, moment_s in enumerate(moments_s):
        while moment_s - moments_s[first] >= span_s:
            first += 1
        most = max(most, last - first + 1)
    return most


def _told(drill: Drill, record: Record) -> Iterator[str]:
    bounds = drill.bounds
    begins_s = min((event.from_s for event in drill.events), default=0.0)
    named = next((event.which for event in drill.events if event.which), "")
    for pattern in bounds.told:
        name = pattern.replace("WHICH", named)
        at_s = _first_after(record.told.get(name, ()), begins_s)
        if at_s is None:
            yield f"never told: {name}"
        elif bounds.told_within_s is not None and at_s - begins_s > bounds.told_within_s:
            allowed = span(bounds.told_within_s)
            yield f"told {span(at_s - begins_s)} after the event: {name}; {allowed} are allowed"
    if bounds.quiet:
        for name, spells in record.told.items():
            late = [spell for spell in spells if spell.until_s > SETTLES_S]
            if late:
                yield f"told without need: {name}, first after {span(max(late[0].from_s, SETTLES_S))}"


def _first_after(spells: tuple[Interval, ...], moment_s: float) -> float | None:
    """Return when something held at or after a moment, for the first time."""
    for spell in spells:
        if spell.until_s > moment_s:
            return max(spell.from_s, moment_s)
    return None


def _cutoff(bounds: Bounds, record: Record) -> Iterator[str]:
    tripped = "tripped" in record.cutoff_held
    if bounds.cutoff is CutoffMust.TRIP and not tripped:
        yield "the cutoff did not trip"
    if bounds.cutoff is CutoffMust.STAY and tripped:
        yield f"the cutoff tripped, after {span(record.cutoff_held['tripped'][0].from_s)}"
    if bounds.cutoff is CutoffMust.HOLD and not any(
        spell.until_s > SETTLES_S for spells in record.cutoff_held.values() for spell in spells
    ):
        yield "the cutoff never held the chiller off"


def _check(bounds: Bounds, said: Expected | None) -> Iterator[str]:
    if bounds.check is None or said is bounds.check:
        return
    heard = "said nothing" if said is None else f"{said.value} it"
    yield f"`check` {heard}; it should have been {bounds.check.value}"
