"""What a stretch comes to: one sentence a person can act on, and what else deserves one."""

from collections.abc import Iterator
from typing import Final

from reefguard.control.chiller import NAME as CHILLER
from reefguard.lookback.found import Found
from reefguard.lookback.water import Extreme
from reefguard.lookback.words import counted, length, listed, run_hours, share, when
from reefguard.planning.shown import Shown
from reefguard.settings.model import Settings

# A minute out of the band is a probe in a warm hand.
_WORTH_SAYING_S: Final = 300.0
# From here on: what is worth a person's while, by common practice; no standard sets them.
_NEARLY_ALL, _NEARLY_NONE = 0.9, 0.1
_GOOD_PROBE: Final = 0.95
_APART_K: Final = 0.5
_KNOWN_ENOUGH: Final = 0.95
_HEATER: Final = "see that the heater works"


def verdict(found: Found, settings: Settings, shown: Shown) -> tuple[str, ...]:
    """Say what matters, the most important sentence first.

    Args:
        found: of the stretch.
        settings: as they are today.
        shown: the keeper's unit.
    """
    if found.seen.nothing or (found.water.hottest is None and found.water.known_s <= 0.0):
        return (_nothing(found),)
    return tuple(_sentence(said) for said in _sentences(found, settings, shown))


def _nothing(found: Found) -> str:
    if found.seen.nothing:
        return (
            "Nothing is known of this time: neither the history nor the events hold anything of it. See "
            "whether the guard was running, and whether its state directory is the one the settings name."
        )
    return (
        "The water was never known in this time: no probe could be trusted. Measure it by hand, and see "
        "`reefguard status`."
    )


def _sentences(found: Found, settings: Settings, shown: Shown) -> Iterator[str]:
    water = found.water
    above, below = water.above_s > _WORTH_SAYING_S, water.below_s > _WORTH_SAYING_S
    known = water.known_s / found.seen.stretch.lasts_s
    as_known = "" if known >= _KNOWN_ENOUGH else f"as far as is known, which is {share(known)} of the time, "
    if below:
        yield as_known + _below(found, shown)
    if above:
        yield ("" if below else as_known) + _above(found, settings, shown)
    yield from _others(found, settings, in_band=not (above or below), as_known=as_known, shown=shown)


def _below(found: Found, shown: Shown) -> str:
    chiller = found.output(CHILLER)
    ran = chiller is not None and chiller.ran_s > 0.0
    coldest = _at("coldest", found.water.coldest, found, shown)
    do = "see why the chiller or the fans ran on, and " if ran else ""
    return f"the water was below the safe band for {run_hours(found.water.below_s)}{coldest}: {do}{_HEATER}."


def _above(found: Found, settings: Settings, shown: Shown) -> str:
    hottest = _at("hottest", found.water.hottest, found, shown)
    do = _cooling(found, settings)
    return f"the water was above the safe band for {run_hours(found.water.above_s)}{hottest}: {do}."


def _at(name: str, extreme: Extreme | None, found: Found, shown: Shown) -> str:
    if extreme is None:
        return ""
    return f", {shown.temperature(extreme.water_c)} at its {name} ({when(extreme, found.seen.zone)})"


def _cooling(found: Found, settings: Settings) -> str:
    ran = found.chiller_while_above
    if settings.chiller is None:
        return "the fans alone did not hold it, and `reefguard plan` says what would"
    if ran is None:
        return "see that fans and chiller run before the next hot days"
    if ran >= _NEARLY_ALL:
        return (
            f"the chiller ran {share(ran)} of that time and could not keep up; clean it, give it cooler "
            "air, or see with `reefguard plan` what size would do"
        )
    if ran <= _NEARLY_NONE:
        return f"the chiller ran {share(ran)} of that time; the alarms below say why it stood"
    return f"the chiller ran {share(ran)} of that time; see what held it off, and whether it cuts in too late"


def _others(found: Found, settings: Settings, *, in_band: bool, as_known: str, shown: Shown) -> Iterator[str]:
    said = list(_to_do(found, settings, shown))
    if in_band:
        coldest, hottest = found.water.coldest, found.water.hottest
        between = ""
        if coldest is not None and hottest is not None:
            between = f", {shown.temperature(coldest.water_c)} to {shown.temperature(hottest.water_c)}"
        ends = "." if said else "; nothing asks for you."
        yield f"{as_known}the water stayed in the safe band{between}{ends}"
    yield from said


def _to_do(found: Found, settings: Settings, shown: Shown) -> Iterator[str]:
    waiting = [one.name for one in found.episodes if one.acknowledged_s is None]
    if waiting:
        names = list(dict.fromkeys(waiting))
        they = "it asks" if len(names) == 1 else "they ask"
        alarms = counted(len(waiting), "alarm", "alarms")
        yield (
            f"{alarms} nobody has acknowledged ({listed(names)}): see what {they} for, then "
            "`reefguard acknowledge`."
        )
    yield from _of_the_compressor(found, settings)
    poor = [probe for probe in found.probes if probe.good is not None and probe.good < _GOOD_PROBE]
    for probe in poor:
        yield (
            f"Probe {probe.name} gave a good reading only {share(probe.good or 0.0)} of the time: see to "
            "its plug and its cable."
        )
    for pair in found.apart:
        if abs(pair.mean_k) >= _APART_K:
            yield (
                f"Probes {pair.one} and {pair.other} stood {shown.difference(abs(pair.mean_k))} apart: "
                "compare both with a thermometer in the same water."
            )
    if found.guard.unexpected:
        count = len(found.guard.unexpected)
        yield (
            f"The guard ended {'once' if count == 1 else f'{count} times'} without being stopped: see "
            "whether the mains failed, and read its log."
        )


def _of_the_compressor(found: Found, settings: Settings) -> Iterator[str]:
    chiller = found.output(CHILLER)
    if chiller is None or settings.chiller is None or chiller.shortest_rest_s is None:
        return
    # Intervals are written to the second.
    if chiller.shortest_rest_s < settings.chiller.minimum_off_s - 2.0:
        yield (
            f"The compressor once rested only {length(chiller.shortest_rest_s)}, less than the "
            f"{length(settings.chiller.minimum_off_s)} that the settings ask for today."
        )


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]
