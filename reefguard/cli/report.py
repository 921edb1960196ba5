"""`reefguard report`: how the night, the heat wave or the season went."""

import json
from datetime import tzinfo
from pathlib import Path
from typing import Final

import click

from reefguard.cli.file_options import settings_option
from reefguard.cli.guard_places import state_directory
from reefguard.cli.named_files import stop
from reefguard.cli.stretches import present_s, stretch_named
from reefguard.cli.zone import local_zone
from reefguard.commissioning.record import Record
from reefguard.guard.settings_source import Bad, from_file
from reefguard.lookback.account import account_of
from reefguard.lookback.document import document_of
from reefguard.lookback.evidence import Evidence, evidence
from reefguard.lookback.found import look_back
from reefguard.lookback.stretch import Stretch, before, local
from reefguard.planning.terminal import text_of
from reefguard.records import commissioning_log
from reefguard.records.event_reader import EventReader, NoEvents
from reefguard.records.events import Event
from reefguard.records.files import replace_file
from reefguard.records.history import HOUR_S, MINUTE_S, DayTotals, Past, Watch
from reefguard.records.history_reader import HistoryReader, NoHistory
from reefguard.report.lookback_page import page_of
from reefguard.settings.quantities import TEMPERATURE, MisreadError

# What the command ends with when there is nothing to tell.
NOTHING: Final = 1
# A week in minutes, five weeks in five minutes, a year in hours.
_MOST_SPANS: Final = 10_100


@click.command()
@settings_option
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
    settings_file: Path,
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
    outcome = from_file(settings_file)
    if isinstance(outcome, Bad):
        stop(f"{outcome.report.rstrip()}\n  nothing was told: the safe band stands in the settings")
    zone = local_zone()
    now_s = present_s()
    stretch = stretch_named(from_text, to_text, last, zone, now_s)
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
        self._directory = directory
        self._history = HistoryReader(directory)
        self._events = EventReader(directory)
        self._zone = zone
        self._now_s = now_s
        self.notes: list[str] = []

    def evidence(self, stretch: Stretch) -> Evidence:
        """Return what there is of a stretch."""
        past, totals, watches = self._past(stretch)
        return evidence(
            stretch,
            self._zone,
            past,
            totals,
            self._recorded(stretch),
            watches=watches,
            records=self._commissioned(),
        )

    def _past(self, stretch: Stretch) -> tuple[Past, tuple[DayTotals, ...], tuple[Watch, ...]]:
        first, last = (local(at_s, self._zone).date().isoformat() for at_s in stretch)
        try:
            # A little more: an output that ran at the beginning did not start there.
            wider = Stretch(stretch.from_s - MINUTE_S, stretch.until_s)
            past = self._history.past(*wider, _MOST_SPANS)
            return past, self._history.days(first, last), self._history.watches(*wider)
        except NoHistory as error:
            self._note(f"The history cannot be told: {error}.")
            return Past(stretch.from_s, stretch.until_s, HOUR_S, {}, ()), (), ()

    def _recorded(self, stretch: Stretch) -> tuple[Event, ...]:
        try:
            # An alarm that stood at the beginning was raised before it; one of the end is acknowledged later.
            recorded = self._events.between(stretch.from_s - stretch.lasts_s, self._now_s)
            return tuple(one.event for one in recorded)
        except NoEvents as error:
            self._note(f"The events cannot be told, nor alarms, commands and starts with them: {error}.")
            return ()

    def _commissioned(self) -> tuple[Record, ...]:
        directory = commissioning_log.directory_in(self._directory)
        try:
            return commissioning_log.read(directory)
        except OSError as error:
            self._note(
                f"What was commissioned cannot be told: {directory / commissioning_log.FILE_NAME} "
                f"cannot be read: {error.strerror}."
            )
            return ()

    def _note(self, sentence: str) -> None:
        if sentence not in self.notes:
            self.notes.append(sentence)


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
