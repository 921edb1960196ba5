"""What ran, what the compressor was put through, what it drew, and what evaporated."""

from reefguard.control.chiller import NAME as CHILLER
from reefguard.lookback.drawn import EnergyFound, Unknown
from reefguard.lookback.found import Found
from reefguard.lookback.words import NOT_KNOWN, length, number, run_hours, share
from reefguard.planning.section import Section, Table
from reefguard.settings.model import Settings
from reefguard.settings.plan_model import Price, TankPlan
from reefguard.thermal.water_surface import UNCERTAINTY


def running_section(found: Found) -> Section:
    """Tell what ran."""
    if not found.outputs:
        return Section("What ran", ("There is no output in the settings, and none in the history.",))
    if found.guard.guarded_s <= 0.0:
        return Section("What ran", ("Not known: the guard was not running.",))
    rows = tuple(
        (
            one.name,
            run_hours(one.ran_s),
            share(one.duty) if one.duty is not None else NOT_KNOWN,
            str(one.starts),
            "" if one.longest_run_s is None else run_hours(one.longest_run_s),
        )
        for one in found.outputs
    )
    said = (f"Duty is the share of the {length(found.guard.guarded_s)} in which the guard was at work.",)
    return Section("What ran", said, Table(("", "ran", "duty", "starts", "longest run"), rows))


def compressor_section(found: Found, settings: Settings) -> tuple[Section, ...]:
    """Tell what the compressor was put through; nothing where there is none, or it never ran."""
    chiller = found.output(CHILLER)
    if chiller is None or chiller.ran_s <= 0.0:
        return ()
    hours = found.guard.guarded_s / 3_600.0
    often = f", {number(chiller.starts * 24.0 / hours)} a day" if hours >= 24.0 else ""
    if not chiller.starts:
        return (Section("The compressor", ("It ran, and did not start: it was running at the beginning.",)),)
    said = [f"It started {chiller.starts} {'time' if chiller.starts == 1 else 'times'}{often}."]
    if chiller.shortest_rest_s is None:
        said.append("No rest was seen from its beginning to its end.")
    else:
        asked = (
            ""
            if settings.chiller is None
            else f"; the settings ask for {length(settings.chiller.minimum_off_s)}"
        )
        of = "Its one rest" if chiller.rests == 1 else f"The shortest of its {chiller.rests} rests"
        said.append(f"{of} was {length(chiller.shortest_rest_s)}{asked}.")
    if chiller.shortest_run_s is None:
        said.append("No run was seen from its beginning to its end.")
    else:
        said.append(f"The shortest of its runs was {length(chiller.shortest_run_s)}.")
    return (Section("The compressor", tuple(said)),)


def energy_section(found: Found, plan: TankPlan | None) -> Section:
    """Tell what the outputs drew, as the plan says."""
    energy = found.energy
    if isinstance(energy, Unknown):
        return Section("Energy", (f"Left out: {energy.why}.",))
    said = ["By run hours and the plan's powers; not metered. Lights and pumps are not in it."]
    if CHILLER in energy.kwh and plan is not None:
        said.append(
            "The chiller's power is what a machine of its capacity usually draws, not its own plate's."
        )
    said += [f"Without {name}: {why}." for name, why in energy.left_out]
    if not energy.kwh:
        return Section("Energy", tuple(said))
    return Section("Energy", tuple(said), _energy_table(energy))


def _energy_table(energy: EnergyFound) -> Table:
    price = energy.price
    rows = [(name, *_drawn(kwh, price)) for name, kwh in energy.kwh.items()]
    if len(rows) > 1:
        rows.append(("together", *_drawn(energy.total_kwh, price)))
    return Table(("", "drew", *(() if price is None else ("cost",))), tuple(rows))


def _drawn(kwh: float, price: Price | None) -> tuple[str, ...]:
    drew = f"{number(kwh)} kWh"
    return (drew,) if price is None else (drew, f"{kwh * price.per_kwh:.2f} {price.currency}")


def top_off_section(found: Found) -> Section:
    """Tell what evaporated."""
    top_off = found.top_off
    if isinstance(top_off, Unknown):
        return Section("Top-off", (f"Left out: {top_off.why}.",))
    a_day = top_off.litres * 86_400.0 / top_off.over_s
    said = (
        f"About {number(top_off.litres)} L over the {length(top_off.over_s)} for which water and room air "
        f"are known, {number(a_day)} L a day: worked out from the plan's surfaces and fans, good to "
        f"{share(UNCERTAINTY)} either way, not measured."
    )
    if top_off.without_sump:
        said += " The sump stands in a cabinet whose air is not measured, and is not in it."
    return Section("Top-off", (said,))
