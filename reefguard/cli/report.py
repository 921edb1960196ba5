"""`reefguard report`: how the night, the heat wave or the season went."""

import json
import re
from datetime import date, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Final

import click

from reefguard.cli import places
from reefguard.cli.clocks import open_clock
from reefguard.cli.guard_places import state_directory
from reefguard.cli.named_files import stop
from reefguard.cli.zone import local_zone
from reefguard.guard.settings_source import Bad, from_file
from reefguard.lookback.account import account_of
from reefguard.lookback.document import document_of
from reefguard.lookback.evidence import Evidence, evidence
from reefguard.lookback.found import look_back
from reefguard.lookback.stretch import Stretch, before, local, midnight_s
from reefguard.planning.terminal import text_of
from reefguard.records.event_reader import EventReader, NoEvents
from reefguard.records.events import Event
from reefguard.records.files import replace_file
from reefguard.records.history import HOUR_S, MINUTE_S, DayTotals, Past
from reefguard.records.history_reader import HistoryReader, NoHistory
from reefguard.report.lookback_page import page_of
from reefguard.settings.quantities import TEMPERATURE, MisreadError

# What the command ends with when there is nothing to tell.
NOTHING: Final = 1
# A week in minutes, five weeks in five minutes, a year in hours.
_MOST_SPANS: Final = 10_100
_LONGEST_S: Final = 3_660 * 86_400.0
_LAST: Final = re.compile(r"(\d{1,4}) ?(h|d)")
_DATES: Final = "write a date like 2026-07-20, or a moment like '2026-07-20 18:00'"


@click.command()
@click.option(
    "--settings",
    "settings_path",
    type=click.Path(path_type=Path),
    default=places.settings_file,
    help="The guard's settings; /etc/reefguard/reefguard.yaml by default.",
)
@click.option("--from", "from_text", metavar="DATE", help="From this day's beginning, or this moment, on.")
@click.option("--to", "to_text", metavar="DATE", help="To this day's end, or this moment; now by default.")
@click.option("--last", metavar="24h|7d|90d", help="The last so many hours or days; 24h by default.")
@click.option(
    "--usual-highest",
    metavar="'26.5 °C'",
    help="The water's usual highest in a summer: counts degree heating weeks against it.",
)
@click.option("--html", type=click.Path(path_type=Path), help="Write a page with pictures to this file.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def report(
    settings_path: Path,
    from_text: str | None,
    to_text: str | None,
    last: str | None,
    *,
    usual_highest: str | None,
    html: Path | None,
    as_json: bool,
) -> None:
    """Tell how a night, a heat wave or a season went.

    It reads what the guard has written; the guard need not run, and notices
    nothing.

    Ends with 0, with 1 when nothing is known of that time, or with 2 when an
    option or a file cannot be taken.
    """
    outcome = from_file(settings_path)
    if isinstance(outcome, Bad):
        stop(f"{outcome.report.rstrip()}\n  nothing was told: the safe band stands in the settings")
    zone = local_zone()
    now_s = _now_s()
    stretch = _stretch(from_text, to_text, last, zone, now_s)
    usual_highest_c = None if usual_highest is None else _temperature_c(usual_highest)
    files = _Files(state_directory(outcome), zone, now_s)
    found = look_back(files.evidence(stretch), outcome.settings)
    if found.seen.nothing and files.notes:
        stop("\n".join(files.notes), NOTHING)
    earlier = look_back(files.evidence(before(stretch, zone)), outcome.settings)
    notes = tuple(files.notes)
    if html is not None:
        _write_page(
            html, page_of(found, earlier, outcome.settings, notes=notes, usual_highest_c=usual_highest_c)
        )
    if as_json:
        document = document_of(found, earlier, outcome.settings, notes=notes)
        click.echo(json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False))
    else:
        account = account_of(found, earlier, outcome.settings, notes=notes, usual_highest_c=usual_highest_c)
        click.echo(text_of(account), nl=False)
    if found.seen.nothing:
        raise SystemExit(NOTHING)


class _Files:
    """The guard's records; what of them cannot be read is noted once."""

    def __init__(self, directory: Path, zone: tzinfo, now_s: float) -> None:
        self._history = HistoryReader(directory)
        self._events = EventReader(directory)
        self._zone = zone
        self._now_s = now_s
        self.notes: list[str] = []

    def evidence(self, stretch: Stretch) -> Evidence:
        """Return what there is of a stretch."""
        past, totals = self._past(stretch)
        return evidence(stretch, self._zone, past, totals, self._recorded(stretch))

    def _past(self, stretch: Stretch) -> tuple[Past, tuple[DayTotals, ...]]:
        first, last = (local(at_s, self._zone).date().isoformat() for at_s in stretch)
        try:
            # A little more: an output that ran at the beginning did not start there.
            past = self._history.past(stretch.from_s - MINUTE_S, stretch.until_s, _MOST_SPANS)
            return past, self._history.days(first, last)
        except NoHistory as error:
            self._note(f"The history cannot be told: {error}.")
            return Past(stretch.from_s, stretch.until_s, HOUR_S, {}, ()), ()

    def _recorded(self, stretch: Stretch) -> tuple[Event, ...]:
        try:
            # An alarm that stood at the beginning was raised before it; one of the end is acknowledged later.
            recorded = self._events.between(stretch.from_s - stretch.lasts_s, self._now_s)
            return tuple(one.event for one in recorded)
        except NoEvents as error:
            self._note(f"The events cannot be told, nor alarms, commands and starts with them: {error}.")
            return ()

    def _note(self, sentence: str) -> None:
        if sentence not in self.notes:
            self.notes.append(sentence)


def _now_s() -> float:
    try:
        return open_clock().wall().local.timestamp()
    except ValueError as error:
        stop(str(error))


def _stretch(
    from_text: str | None, to_text: str | None, last: str | None, zone: tzinfo, now_s: float
) -> Stretch:
    if last is not None and (from_text is not None or to_text is not None):
        stop("--last ends now: it takes no --from and no --to\n  mend: give one or the other")
    if to_text is not None and from_text is None:
        stop("--to alone does not say when to begin\n  mend: give --from too")
    if from_text is None:
        return Stretch(now_s - _last_s("24h" if last is None else last), now_s)
    from_s = _moment_s("--from", from_text, zone, days_later=0)
    if from_s >= now_s:
        stop(f"--from {from_text}\n  it has not been yet\n  mend: give an earlier one")
    # The future has not been written.
    until_s = now_s if to_text is None else min(now_s, _moment_s("--to", to_text, zone, days_later=1))
    if until_s <= from_s:
        stop(f"--to {to_text}\n  it is not later than --from {from_text}\n  mend: give a later one")
    if until_s - from_s > _LONGEST_S:
        stop(f"--from {from_text}\n  that is more than ten years ago\n  mend: give a later one")
    return Stretch(from_s, until_s)


def _last_s(text: str) -> float:
    match = _LAST.fullmatch(text.strip())
    if match is None or not int(match[1]):
        stop(f"--last {text}\n  it is no number of hours or days\n  mend: write it like 24h, 7d or 90d")
    last_s = int(match[1]) * (3_600.0 if match[2] == "h" else 86_400.0)
    if last_s > _LONGEST_S:
        stop(f"--last {text}\n  that is more than ten years\n  mend: give fewer")
    return last_s


def _moment_s(option: str, text: str, zone: tzinfo, *, days_later: int) -> float:
    """Return a moment, or a day's beginning: of the day itself, or of the next for its end."""
    try:
        if len(text.strip()) <= len("2026-07-20"):
            return midnight_s(date.fromisoformat(text.strip()) + timedelta(days=days_later), zone)
        at = datetime.fromisoformat(text.strip())
        return (at.replace(tzinfo=zone) if at.tzinfo is None else at).timestamp()
    except (ValueError, OverflowError, OSError):
        stop(f"{option} {text}\n  it is no date of the calendar\n  mend: {_DATES}")


def _temperature_c(text: str) -> float:
    try:
        return TEMPERATURE.read(text)
    except MisreadError as error:
        stop(f"--usual-highest {text}\n  {error.why}\n  mend: {error.mend}")


def _write_page(path: Path, text: str) -> None:
    try:
        replace_file(path, text.encode(), durable=False)
    except OSError as error:
        stop(f"{path}: cannot be written: {error.strerror}\n  mend: name a file in a directory that is yours")
    click.echo(f"the page is in {path}", err=True)
