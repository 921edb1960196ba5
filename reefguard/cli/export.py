"""`reefguard export`: what the guard has recorded, for other programs."""

import sys
from collections.abc import Callable
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Final, NamedTuple, NoReturn

import click

from reefguard.cli import places
from reefguard.cli.guard_places import state_directory
from reefguard.cli.moments import moment_s
from reefguard.cli.zone import local_zone
from reefguard.guard.settings_source import Good, from_file
from reefguard.records import tables
from reefguard.records.data_package import packed
from reefguard.records.event_reader import EventReader, NoEvents
from reefguard.records.events import Recorded
from reefguard.records.files import replace_file
from reefguard.records.history import FIVE_MINUTES_S, HOUR_S, MINUTE_S, Past
from reefguard.records.history_reader import HistoryReader, NoHistory
from reefguard.records.tables import Table

_EVERY_S: Final = {"1m": MINUTE_S, "5m": FIVE_MINUTES_S, "1h": HOUR_S}

# A week of minutes, a month of five minutes: what a spreadsheet still opens gladly.
_MOST_SPANS: Final = 10_100

_PAGE: Final = 1_000


class _Asked(NamedTuple):
    """What to export: from when to when (Unix seconds), and how finely; `None` for as finely as sensible."""

    from_s: float
    until_s: float
    every_s: int | None
    zone: tzinfo


@click.command()
@click.option(
    "--settings",
    type=click.Path(path_type=Path),
    default=places.settings_file,
    help="The guard's settings; /etc/reefguard/reefguard.yaml by default.",
)
@click.option("--from", "begin", metavar="TIME", help="A day or a time; all there is by default.")
@click.option("--to", "end", metavar="TIME", help="A time, or a day, included; until now by default.")
@click.option(
    "--every",
    type=click.Choice(["auto", *_EVERY_S]),
    default="auto",
    show_default=True,
    help="How fine readings shall be; the finer, the less far back they are kept.",
)
@click.option(
    "--what",
    type=click.Choice(["readings", "outputs", "events", "days"]),
    help="Which table a CSV file shall hold; readings by default.",
)
@click.option("--package", is_flag=True, help="Write all tables into one zip file, with what they mean.")
@click.argument("file", type=click.Path(path_type=Path))
def export(
    *,
    settings: Path,
    begin: str | None,
    end: str | None,
    every: str,
    what: str | None,
    package: bool,
    file: Path,
) -> None:
    """Write what the guard has recorded to FILE (- is the standard output): CSV, or a zipped data package."""
    if package and what is not None:
        message = "--package holds every table; leave --what out"
        raise click.UsageError(message)
    outcome = from_file(settings)
    directory = state_directory(outcome)
    zone = local_zone()
    try:
        asked = _asked(HistoryReader(directory), begin, end, _EVERY_S.get(every), zone)
        if package:
            tank = outcome.settings.tank if isinstance(outcome, Good) else "a reef tank"
            made = [make(directory, asked) for make in _TABLES.values()]
            content = packed(made, tank=tank, created=datetime.now(zone))
        else:
            content = tables.csv(_TABLES[what or "readings"](directory, asked))
    except (NoHistory, NoEvents) as error:
        _fail(str(error))
    _write(file, content)


def _asked(
    reader: HistoryReader, begin: str | None, end: str | None, every_s: int | None, zone: tzinfo
) -> _Asked:
    from_s = None if begin is None else moment_s(begin, zone, last=False)
    until_s = None if end is None else moment_s(end, zone, last=True)
    extent = reader.extent()
    if extent is None:
        if from_s is None or until_s is None:
            message = "nothing is recorded yet; minutes are written ten at a time"
            raise NoHistory(message)
    else:
        from_s = extent.from_s if from_s is None else from_s
        until_s = extent.until_s if until_s is None else until_s
    if until_s <= from_s:
        message = "--from is not before --to, or nothing is recorded between them"
        raise click.UsageError(message)
    return _Asked(from_s, until_s, every_s, zone)


def _past(directory: Path, asked: _Asked) -> Past:
    reader = HistoryReader(directory)
    if asked.every_s is None:
        return reader.past(asked.from_s, asked.until_s, _MOST_SPANS)
    kept_s = reader.kept_from(asked.every_s)
    if asked.from_s < kept_s:
        since = datetime.fromtimestamp(kept_s, asked.zone).isoformat(timespec="minutes")
        click.echo(f"reefguard: as finely as that, readings are kept since {since}", err=True)
    return reader.stretch(asked.from_s, asked.until_s, asked.every_s)


def _readings(directory: Path, asked: _Asked) -> Table:
    return tables.readings(_past(directory, asked), asked.zone)


def _outputs(directory: Path, asked: _Asked) -> Table:
    return tables.outputs(HistoryReader(directory).stretch(asked.from_s, asked.until_s, HOUR_S), asked.zone)


def _events(directory: Path, asked: _Asked) -> Table:
    reader = EventReader(directory)
    found: list[Recorded] = []
    seq = 0
    while page := reader.events_after(seq, _PAGE):
        seq = page[-1].seq
        found += [one for one in page if asked.from_s <= _when_s(one) < asked.until_s]
    return tables.events(found)


def _days(directory: Path, asked: _Asked) -> Table:
    first, last = (
        datetime.fromtimestamp(at_s, asked.zone).date().isoformat()
        for at_s in (asked.from_s, asked.until_s - 1e-3)
    )
    return tables.days(HistoryReader(directory).days(first, last))


_TABLES: Final[dict[str, Callable[[Path, _Asked], Table]]] = {
    "readings": _readings,
    "outputs": _outputs,
    "events": _events,
    "days": _days,
}


def _when_s(one: Recorded) -> float:
    return datetime.fromisoformat(one.event.at_wall).timestamp()


def _write(file: Path, content: bytes) -> None:
    try:
        if str(file) == "-":
            sys.stdout.buffer.write(content)
            sys.stdout.buffer.flush()
        else:
            replace_file(file, content, durable=False)
    except BrokenPipeError:
        raise  # whoever read it has had enough: click ends quietly
    except OSError as error:
        _fail(f"{file} cannot be written: {error.strerror or error}; mend: name another file")


def _fail(sentence: str) -> NoReturn:
    click.echo(f"reefguard: {sentence}", err=True)
    sys.exit(1)
