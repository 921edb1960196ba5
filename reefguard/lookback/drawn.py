"""What the outputs drew, what that cost, and what evaporated: as far as the plan of the tank says enough.

Nothing here is measured.  A fan draws what the plan says; a chiller what a
machine of its capacity draws at the water and the air of the time; the water
loses vapour by the equation of `thermal.water_surface`.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from reefguard.control.chiller import NAME as CHILLER
from reefguard.lookback.evidence import Evidence, water_of
from reefguard.lookback.running import OutputFound, ran_in
from reefguard.planning.parts import chiller_of
from reefguard.settings.plan_model import ChillerPlace, Over, Price, TankPlan
from reefguard.thermal.moist_air import saturated_pa
from reefguard.thermal.sea_water import latent_heat_j_kg, vapour_share
from reefguard.thermal.water_surface import evaporation_kg_m2_s

_J_PER_KWH: Final = 3.6e6


@dataclass(frozen=True, slots=True)
class Unknown:
    """Something is left out, and why; a phrase without a full stop."""

    why: str


@dataclass(frozen=True, slots=True)
class EnergyFound:
    """What the outputs drew.

    Attributes:
        kwh: by output; an output whose power nobody gave is not in it.
        left_out: the outputs that are not, each with the reason.
        price: what a kilowatt-hour costs, if the plan says so.
    """

    kwh: dict[str, float]
    left_out: tuple[tuple[str, str], ...]
    price: Price | None

    @property
    def total_kwh(self) -> float:
        """All that is known of."""
        return sum(self.kwh.values())


@dataclass(frozen=True, slots=True)
class TopOffFound:
    """Fresh water that evaporated.

    Attributes:
        litres: over the time for which water and room air are known.
        over_s: that time.
        without_sump: the sump stands in a cabinet whose air nobody measures, so it is not in it.
    """

    litres: float
    over_s: float
    without_sump: bool


def energy_found(
    seen: Evidence, outputs: tuple[OutputFound, ...], plan: TankPlan | None
) -> EnergyFound | Unknown:
    """Work out what the outputs drew."""
    if plan is None:
        return Unknown("the settings have no section `plan`, which gives the powers")
    kwh: dict[str, float] = {}
    left_out: list[tuple[str, str]] = []
    for output in outputs:
        power_w = _chiller_w(seen, plan) if output.name == CHILLER else plan.fans.power_w
        if isinstance(power_w, Unknown):
            left_out.append((output.name, power_w.why))
        else:
            kwh[output.name] = output.ran_s * power_w / _J_PER_KWH
    return EnergyFound(kwh, tuple(left_out), plan.price)


def _chiller_w(seen: Evidence, plan: TankPlan) -> float | Unknown:
    """Return what the chiller draws, at the mean water and air of the time it ran; else as rated."""
    if plan.chiller.capacity_w is None:
        return Unknown("the plan does not give its capacity")
    traits = chiller_of(plan, plan.chiller.capacity_w)
    spans = [span for span in water_of(seen.past) if seen.stretch.holds(span.from_s)]
    ran_s = ran_in(seen, spans, (CHILLER,))
    room = _by_grid(seen, "room") if plan.chiller.place is ChillerPlace.ROOM else {}
    water_c = _mean((span.warmest_c, ran_s[span.from_s, span.lasts_s]) for span in spans)
    air_c = _mean((room[grid], lasts_s) for grid, lasts_s in ran_s.items() if grid in room)
    water_c = traits.rated_water_c if water_c is None else water_c
    air_c = traits.rated_air_c if air_c is None else air_c
    return traits.cooling_w(water_c, air_c) / traits.performance(water_c, air_c)


def top_off_found(seen: Evidence, plan: TankPlan | None, fans: tuple[str, ...]) -> TopOffFound | Unknown:
    """Work out what evaporated.

    Args:
        seen: what there is.
        plan: of the tank; surfaces and fans are its own.
        fans: names of the outputs that are fans.
    """
    if plan is None:
        return Unknown("the settings have no section `plan`, which gives the water's surface")
    room, humidity = _by_grid(seen, "room"), _by_grid(seen, "humidity")
    measured = room.keys() & humidity.keys()
    known = [
        span
        for span in water_of(seen.past)
        if (span.from_s, span.lasts_s) in measured and seen.stretch.holds(span.from_s)
    ]
    if not known:
        return Unknown("temperature and humidity of the room were not measured")
    without_sump = plan.sump is not None and plan.stand is not None
    blown_s = ran_in(seen, known, fans)
    kg = 0.0
    for span in known:
        grid = (span.from_s, span.lasts_s)
        water_c = (span.warmest_c + span.coldest_c) / 2.0
        at_water_pa = vapour_share(plan.salinity) * saturated_pa(water_c)
        over_pa = at_water_pa - humidity[grid] * saturated_pa(room[grid])
        kg += _evaporated_kg(plan, over_pa, water_c, span.lasts_s, blown_s[grid], without_sump=without_sump)
    return TopOffFound(kg, sum(span.lasts_s for span in known), without_sump)


def _evaporated_kg(
    plan: TankPlan, over_pa: float, water_c: float, lasts_s: float, blown_s: float, *, without_sump: bool
) -> float:
    latent_j_kg = latent_heat_j_kg(water_c)
    display_m2 = plan.display.length_m * plan.display.width_m * (1.0 - plan.display.lid)
    kg = display_m2 * lasts_s * evaporation_kg_m2_s(over_pa, latent_j_kg, 0.0, plan.display.agitation)
    sump_m2 = 0.0
    if plan.sump is not None and not without_sump:
        sump_m2 = plan.sump.length_m * plan.sump.width_m * (1.0 - plan.sump.lid)
        kg += sump_m2 * lasts_s * evaporation_kg_m2_s(over_pa, latent_j_kg, 0.0, plan.sump.agitation)
    blown_m2 = display_m2 if plan.fans.over is Over.DISPLAY else sump_m2
    # Together they sweep the surface once at most, as in the plan.
    swept_m2 = blown_m2 * min(plan.fans.swept, 1.0 / plan.fans.count)
    return kg + swept_m2 * blown_s * evaporation_kg_m2_s(over_pa, latent_j_kg, plan.fans.air_m_s, 0.0)


def _by_grid(seen: Evidence, kind: str) -> dict[tuple[float, float], float]:
    return {
        (span.from_s, span.lasts_s): span.mean
        for series, spans in seen.past.series.items()
        if series.kind == kind
        for span in spans
        if seen.stretch.holds(span.from_s)
    }


def _mean(weighted: Iterable[tuple[float, float]]) -> float | None:
    """Return the mean of values with weights; `None` where no weight is."""
    pairs = list(weighted)
    whole = sum(weight for _, weight in pairs)
    return sum(value * weight for value, weight in pairs) / whole if whole else None
