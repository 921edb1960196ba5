"""What looking back finds, whole."""

from dataclasses import dataclass

from reefguard.alarms.catalogue import Priority
from reefguard.commissioning.record import Record, proof_tests
from reefguard.control.chiller import NAME as CHILLER
from reefguard.lookback.drawn import EnergyFound, TopOffFound, Unknown, energy_found, top_off_found
from reefguard.lookback.evidence import Evidence, water_of
from reefguard.lookback.guarded import GuardFound, guard_found, observed
from reefguard.lookback.probes import Apart, ProbeFound, apart, probes_found
from reefguard.lookback.running import OutputFound, outputs_found, ran_in
from reefguard.lookback.told import AlarmFound, Episode, Night, alarms_found, episodes, nights
from reefguard.lookback.water import WaterFound, water_found
from reefguard.records.events import Event
from reefguard.settings.model import Settings
from reefguard.vocabulary import ProofTests


@dataclass(frozen=True, slots=True)
class Found:
    """What is found of a stretch of time.

    Attributes:
        seen: what it was found in.
        water: how the water was.
        outputs: what ran.
        chiller_while_above: the share of the time above the safe band in which the chiller ran, by
            spans; `None` where that time is not known, or there is no chiller.
        guard: when the guard was at work.
        alarms: summed up by alarm.
        episodes: each alarm.
        nights: with urgent alarms, the longest first.
        probes: how each did.
        apart: how far they stood apart.
        energy: what the outputs drew.
        top_off: what evaporated.
        commands: what people asked for.
        commissioned: what was tested, calibrated and exercised.
        proof_tests: of the cutoff, as they stood on record at the stretch's end.
        clock_doubtful: how many events have a time that nobody vouches for.
        lost: what the events themselves say is missing of them.
    """

    seen: Evidence
    water: WaterFound
    outputs: tuple[OutputFound, ...]
    chiller_while_above: float | None
    guard: GuardFound
    alarms: tuple[AlarmFound, ...]
    episodes: tuple[Episode, ...]
    nights: tuple[Night, ...]
    probes: tuple[ProbeFound, ...]
    apart: tuple[Apart, ...]
    energy: EnergyFound | Unknown
    top_off: TopOffFound | Unknown
    commands: tuple[tuple[float, Event], ...]
    commissioned: tuple[Record, ...]
    proof_tests: ProofTests
    clock_doubtful: int
    lost: tuple[str, ...]

    def output(self, name: str) -> OutputFound | None:
        """Return what is found of one output."""
        return next((one for one in self.outputs if one.name == name), None)


def look_back(seen: Evidence, settings: Settings) -> Found:
    """Find all there is to say of a stretch.

    Args:
        seen: what there is.
        settings: as they are today.
    """
    fans = () if settings.fans is None else tuple(fan.name for fan in settings.fans.fans)
    names = (*fans, *(() if settings.chiller is None else (CHILLER,)))
    guard = guard_found(seen)
    outputs = outputs_found(seen, names, guard.guarded_s)
    all_episodes = episodes(seen)
    inside = [(at_s, event) for at_s, event in seen.events if seen.stretch.holds(at_s)]
    until_then = [record for record in seen.records if record.at_wall.timestamp() < seen.stretch.until_s]
    return Found(
        seen=seen,
        water=water_found(seen, settings.safe_band),
        outputs=outputs,
        chiller_while_above=_chiller_while_above(seen, settings),
        guard=guard,
        alarms=alarms_found(all_episodes, seen.stretch),
        episodes=all_episodes,
        nights=nights(all_episodes, seen, Priority.HIGH),
        probes=probes_found(
            seen, tuple(probe.name for probe in settings.water_probes), observed(seen, guard)
        ),
        apart=apart(seen),
        energy=energy_found(seen, outputs, settings.plan),
        top_off=top_off_found(seen, settings.plan, fans),
        commands=tuple(pair for pair in inside if pair[1].kind == "command"),
        commissioned=tuple(record for record in until_then if seen.stretch.holds(record.at_wall.timestamp())),
        proof_tests=proof_tests(until_then),
        clock_doubtful=sum(not event.clock_trusted for _, event in inside),
        lost=tuple(
            event.what
            for _, event in inside
            if event.kind == "guard" and event.change in ("lost", "began anew")
        ),
    )


def _chiller_while_above(seen: Evidence, settings: Settings) -> float | None:
    if settings.chiller is None:
        return None
    high_c = settings.safe_band.high_c
    spans = [
        span for span in water_of(seen.past) if seen.stretch.holds(span.from_s) and span.warmest_c > high_c
    ]
    above_s = sum(span.lasts_s for span in spans)
    return sum(ran_in(seen, spans, (CHILLER,)).values()) / above_s if above_s else None
