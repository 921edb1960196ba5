"""Findings about the guard's plan and the separate cutoff's limits, held side by side.

The cutoff's limits file is read by code of its own; only what it says comes here.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from reefguard.settings.outcome import Accepted
from reefguard.settings.problems import CheckFinding
from reefguard.settings.quantities import TEMPERATURE


@dataclass(frozen=True, slots=True)
class CutoffPlan:
    """What the cutoff's limits file says.

    Attributes:
        limit_c: at or below this the cutoff trips.
        recovered_c: at or above this it may be reset.
        relay_pin: the GPIO of its relay.
        probe: the 1-wire id of its probe.
    """

    limit_c: float
    recovered_c: float
    relay_pin: int
    probe: str


def cutoff_findings(accepted: Accepted, cutoff: CutoffPlan) -> tuple[CheckFinding, ...]:
    """Return where the two plans do not go together."""
    return (*_temperatures(accepted, cutoff), *_shared_parts(accepted, cutoff))


def _temperatures(accepted: Accepted, cutoff: CutoffPlan) -> Iterator[CheckFinding]:
    chiller, low_c = accepted.settings.chiller, accepted.settings.safe_band.low_c
    if chiller is None:
        return
    stop_c = chiller.cut.cut_out_c
    if cutoff.recovered_c >= stop_c:
        yield accepted.finding(
            accepted.stop_key("chiller"),
            f"the chiller stops at {TEMPERATURE.show(stop_c)}; the cutoff trips at "
            f"{TEMPERATURE.show(cutoff.limit_c)} and lets go at {TEMPERATURE.show(cutoff.recovered_c)}",
            "the limit lies inside the working band: in ordinary work the cutoff would trip, or stay tripped",
            "lower the cutoff's limit, or let the chiller stop warmer",
        )
    if cutoff.limit_c < low_c:
        yield accepted.finding(
            "safe_band.low",
            f"{TEMPERATURE.show(low_c)}, while the cutoff trips at {TEMPERATURE.show(cutoff.limit_c)}",
            "the water has left the safe band before the cutoff acts",
            "raise the cutoff's limit to the low end of the safe band, or above",
        )


def _shared_parts(accepted: Accepted, cutoff: CutoffPlan) -> Iterator[CheckFinding]:
    settings = accepted.settings
    for probe in settings.water_probes:
        if probe.rom_id == cutoff.probe:
            yield accepted.finding(
                f"water_probes.{probe.name}.id",
                f"the cutoff reads the same probe, {cutoff.probe}",
                "when it reads wrong, guard and cutoff are wrong together",
                "give the cutoff a probe of its own, best on a 1-wire bus of its own",
            )
    on_this_machine = settings.chiller is not None and settings.chiller.cutoff_status is not None
    if on_this_machine and cutoff.relay_pin in accepted.pins:
        key = accepted.pins[cutoff.relay_pin]
        yield accepted.finding(
            key,
            f"the cutoff's relay is on the same pin, GPIO{cutoff.relay_pin}",
            "whichever program starts second cannot have it, and the cutoff would not be separate",
            "give the cutoff's relay a pin of its own",
        )
