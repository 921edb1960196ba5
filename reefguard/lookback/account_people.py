"""What people were told and did, and how the guard and its probes fared."""

from collections.abc import Iterator
from datetime import datetime, time, tzinfo
from typing import Final

from reefguard.commissioning.record import PROOF_TEST, Record
from reefguard.control.proof_tests import due_at
from reefguard.lookback.found import Found
from reefguard.lookback.told import AlarmFound
from reefguard.lookback.words import NOT_KNOWN, counted, day_name, length, listed, moment, share
from reefguard.planning.section import Section, Table
from reefguard.planning.shown import Shown
from reefguard.records.events import Event
from reefguard.settings.model import Settings

_MOST_COMMANDS: Final = 30
_MOST_RECORDS: Final = 20
_MOST_ABSENCES: Final = 10
_MOST_NIGHTS: Final = 3


def alarms_section(found: Found) -> Section:
    """Tell the alarms, and how soon somebody knew."""
    if not found.alarms:
        return Section("Alarms", ("No alarm stood.",))
    caption = (
        "How long each stood, and the median time until it was acknowledged, and until it returned to normal."
    )
    said = [caption]
    standing = [one.name for one in found.alarms if one.stands]
    if standing:
        said.append(f"Standing at the end: {listed(standing)}.")
    rows = tuple(_alarm_row(one) for one in found.alarms)
    return Section(
        "Alarms", tuple(said), Table(("", "raised", "stood", "longest", "acknowledged", "returned"), rows)
    )


def _alarm_row(one: AlarmFound) -> tuple[str, ...]:
    return (
        one.name,
        str(one.raised) if one.raised else "before",
        length(one.total_s),
        length(one.longest_s),
        "never" if one.to_know_s is None else length(one.to_know_s),
        "stands" if one.to_return_s is None else length(one.to_return_s),
    )


def nights_section(found: Found) -> tuple[Section, ...]:
    """Tell the nights in which an urgent alarm stood longest."""
    if not found.nights:
        return ()
    zone = found.seen.zone
    rows = tuple(
        (
            day_name(datetime.combine(night.evening, time(22), zone).timestamp(), zone),
            length(night.alarm_s),
            listed(night.names),
        )
        for night in found.nights[:_MOST_NIGHTS]
    )
    only = f"; the {_MOST_NIGHTS} longest" if len(found.nights) > _MOST_NIGHTS else ""
    said = (
        f"{counted(len(found.nights), 'night', 'nights')} (22:00 to 07:00) with an alarm to act on now or "
        f"within the hour{only}. The evening names the night."
    )
    return (Section("Nights", (said,), Table(("", "alarm for", "which"), rows)),)


def probes_section(found: Found, shown: Shown) -> Section:
    """Tell how the probes did."""
    rows = tuple(
        (
            probe.name,
            NOT_KNOWN if probe.good is None else share(probe.good),
            "" if probe.good is None else str(probe.gaps),
            "" if probe.longest_gap_s is None else length(probe.longest_gap_s),
        )
        for probe in found.probes
    )
    said = ["Good readings as a share of the time the guard was at work; gaps over ten minutes."]
    for pair in found.apart:
        at = moment(pair.most_at_s, found.seen.zone)
        way = "above" if pair.mean_k > 0.0 else "below"
        mean = shown.difference(abs(pair.mean_k))
        off = "as warm as" if mean.startswith("0.0") else f"{mean} {way}"
        said.append(
            f"{pair.one} read {off} {pair.other} on average, at most {shown.difference(pair.most_k)} apart "
            f"({at})."
        )
    return Section("Probes", tuple(said), Table(("", "good", "gaps", "longest gap"), rows))


def commands_section(found: Found) -> Section:
    """Tell what people asked for."""
    asked = [_told(at_s, event, found) for at_s, event in found.commands]
    said = []
    if len(asked) > _MOST_COMMANDS:
        said.append(f"The newest {_MOST_COMMANDS} of {len(asked)} commands:")
    said += asked[-_MOST_COMMANDS:] or ["Nobody gave a command."]
    return Section("Commands", tuple(said))


def commissioning_section(found: Found, settings: Settings) -> Section:
    """Tell what was tested, calibrated and exercised, and when the next proof test is due."""
    said = [_recorded(record, found) for record in found.commissioned]
    if len(said) > _MOST_RECORDS:
        said = [f"The newest {_MOST_RECORDS} of {len(said)} records:", *said[-_MOST_RECORDS:]]
    said = said or ["Nothing was tested, calibrated or exercised in this time."]
    if settings.chiller is not None:
        said.append(_standing(found, settings.chiller.proof_test_every_days))
    return Section("Commissioning", tuple(said))


def _recorded(record: Record, found: Found) -> str:
    of = "" if record.kind == PROOF_TEST else f" of {record.subject}"
    at = moment(record.at_wall.timestamp(), found.seen.zone)
    return f"{at}: {record.kind}{of}, {record.outcome}: {record.what} ({record.who})"


def _standing(found: Found, every_days: float | None) -> str:
    """Say how the cutoff's proof test stood at the end."""
    tests, zone = found.proof_tests, found.seen.zone
    if tests.failed is not None:
        return f"The proof test of {_date(tests.failed, zone)} FAILED, and none was passed since."
    if tests.passed is None:
        return "No passed proof test is on record: nobody has seen the cutoff stop the chiller."
    due = due_at(tests, every_days)
    if due is None:
        return f"The last passed proof test was on {_date(tests.passed, zone)}."
    was = "was" if due.timestamp() < found.seen.stretch.until_s else "is"
    return f"The proof test passed on {_date(tests.passed, zone)}; the next {was} due on {_date(due, zone)}."


def _date(at: datetime, zone: tzinfo) -> str:
    return f"{day_name(at.timestamp(), zone)} {at.astimezone(zone).year}"


def _told(at_s: float, event: Event, found: Found) -> str:
    # Most sentences begin with who it was.
    who = "" if event.who is None or event.who in event.what else f" ({event.who})"
    return f"{moment(at_s, found.seen.zone)}: {event.what}{who}"


def guard_section(found: Found) -> Section:
    """Tell when the guard started, and when it was away."""
    return Section("The guard", tuple(_guard(found)))


def _guard(found: Found) -> Iterator[str]:
    guard, stretch, zone = found.guard, found.seen.stretch, found.seen.zone
    at_work = min(1.0, guard.guarded_s / stretch.lasts_s)
    unexpected = len(guard.unexpected)
    of_them = "" if len(guard.starts) == 1 else f"{unexpected} of them "
    after = f", {of_them}after an end nobody asked for" if unexpected else ""
    starts = counted(len(guard.starts), "start", "starts")
    yield f"It was at work {share(at_work)} of the time: {starts}{after}."
    longest = sorted(guard.away, key=lambda one: one.from_s - one.until_s)[:_MOST_ABSENCES]
    for one in sorted(longest, key=lambda one: one.from_s):
        for_s = one.until_s - one.from_s
        if one.from_s <= stretch.from_s and not one.asked:
            yield f"No sign of it for {length(for_s)} until {moment(one.until_s, zone)}."
            continue
        how = "stopped as it was asked to" if one.asked else "the last sign of it"
        yield f"Away {length(for_s)} from {moment(one.from_s, zone)} ({how})."
    if len(guard.away) > len(longest):
        yield f"And {len(guard.away) - len(longest)} shorter absences."
