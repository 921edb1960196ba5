"""A stretch of time told in sections of words and tables, for the terminal and for a page alike."""

from reefguard.lookback.account_machines import (
    compressor_section,
    energy_section,
    running_section,
    top_off_section,
)
from reefguard.lookback.account_people import (
    alarms_section,
    commands_section,
    commissioning_section,
    guard_section,
    nights_section,
    probes_section,
)
from reefguard.lookback.account_water import days_section, stress_section, water_section
from reefguard.lookback.compared import changes, comparable
from reefguard.lookback.found import Found
from reefguard.lookback.unknown import what_is_unknown
from reefguard.lookback.verdict import verdict
from reefguard.lookback.words import share, stretch_name
from reefguard.planning.account import Account
from reefguard.planning.section import Section, Table
from reefguard.planning.shown import Shown
from reefguard.settings.model import Settings


def account_of(
    found: Found,
    before: Found | None,
    settings: Settings,
    *,
    notes: tuple[str, ...] = (),
    usual_highest_c: float | None = None,
) -> Account:
    """Tell a stretch of time.

    Args:
        found: of the stretch.
        before: of the stretch before, of equal length; `None` where it could not be read.
        settings: as they are today.
        notes: what could not be read at all, in whole sentences.
        usual_highest_c: the usual highest of a summer, for the heat stress.
    """
    shown = Shown(settings.shown_in)
    title = f"{settings.tank}: {stretch_name(found.seen.stretch, found.seen.zone)}"
    said = verdict(found, settings, shown)
    if found.seen.nothing:
        return Account(title, said, (Section("What is not known", notes),) if notes else ())
    sections = (
        Section("What is not known", what_is_unknown(found, notes)),
        water_section(found, settings, shown),
        *days_section(found, settings, shown),
        *stress_section(found, usual_highest_c, shown),
        running_section(found),
        *compressor_section(found, settings),
        alarms_section(found),
        *nights_section(found),
        _changes(found, before, shown),
        probes_section(found, shown),
        energy_section(found, settings.plan),
        top_off_section(found),
        commissioning_section(found, settings),
        commands_section(found),
        guard_section(found),
    )
    return Account(title, said, sections)


def _changes(found: Found, before: Found | None, shown: Shown) -> Section:
    title = "Against the time before"
    if before is None or before.seen.nothing:
        return Section(title, ("Nothing is known of the time before, of equal length.",))
    for one, which in ((found, "this time"), (before, "the time before")):
        if not comparable(one):
            known = share(min(1.0, one.water.known_s / one.seen.stretch.lasts_s))
            return Section(title, (f"Not compared: the water was known for only {known} of {which}.",))
    rows = tuple((one.what, one.now, one.before, one.said) for one in changes(found, before, shown))
    said = f"Before is {stretch_name(before.seen.stretch, before.seen.zone)}, of equal length."
    return Section(title, (said,), Table(("", "now", "before", "in words"), rows))
