"""`reefguard export`: what the guard has recorded, for other programs."""

import math
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
from reefguard.records.history import FIVE_MINUTES_S, HOUR_S, MINUTE_S
from reefguard.records.history_reader import Extent, HistoryReader, NoHistory
from reefguard.records.tables import Table

_EVERY_S: Final = {"1m": MINUTE_S, "5m": FIVE_MINUTES_S, "1h": HOUR_S}

# A week of minutes, a month of five minutes: what a spreadsheet still opens gladly.
_MOST_SPANS: Final = 10_100

_PAGE: Final = 1_000


class _Asked(NamedTuple):
    """What to export.

    Attributes:
        directory: the guard's state directory.
        from_s: since when, Unix seconds; `None` from the beginning.
        until_s: until when; `None` to the end.
        every_s: how finely; `None` for as finely as is sensible.
        zone: the local one.
    """

    directory: Path
    from_s: float | None
    until_s: float | None
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
    zone = local_zone()
    asked = _Asked(
        state_directory(outcome),
        None if begin is None else moment_s(begin, zone, last=False),
        None if end is None else moment_s(end, zone, last=True),
        _EVERY_S.get(every),
        zone,
    )
    try:
        if package:
            tank = outcome.settings.tank if isinstance(outcome, Good) else "a reef tank"
            content = packed(
                [make(asked) for make in _TABLES.values()], tank=tank, created=datetime.now(zone)
            )
        else:
            content = tables.csv(_TABLES[what or "readings"](asked))
    except (NoHistory, NoEvents) as error:
        _fail(str(error))
    _write(file, content)


def _stretch(asked: _Asked, reader: HistoryReader) -> Extent:
    """Return from when to when: as asked, else what is recorded."""
    extent = reader.extent()
    from_s = extent.from_s if asked.from_s is None and extent is not None else asked.from_s
    until_s = extent.until_s if asked.until_s is None and extent is not None else asked.until_s
    if from_s is None or until_s is None:
        message = "nothing is recorded yet; minutes are written ten at a time"
        raise NoHistory(message)
    if until_s <= from_s:
        message = "--from is not before --to, or nothing is recorded between them"
        raise click.UsageError(message)
    return Extent(from_s, until_s)


def _readings(asked: _Asked) -> Table:
    reader = HistoryReader(asked.directory)
    from_s, until_s = _stretch(asked, reader)
    if asked.every_s is None:
        return tables.readings(reader.past(from_s, until_s, _MOST_SPANS), asked.zone)
    kept_s = reader.kept_from(asked.every_s)
    if from_s < kept_s:
        since = datetime.fromtimestamp(kept_s, asked.zone).isoformat(timespec="minutes")
        click.echo(f"reefguard: as finely as that, readings are kept since {since}", err=True)
    return tables.readings(reader.stretch(from_s, until_s, asked.every_s), asked.zone)


def _outputs(asked: _Asked) -> Table:
    reader = HistoryReader(asked.directory)
    return tables.outputs(reader.stretch(*_stretch(asked, reader), HOUR_S), asked.zone)


def _events(asked: _Asked) -> Table:
    from_s = -math.inf if asked.from_s is None else asked.from_s
    until_s = math.inf if asked.until_s is None else asked.until_s
    reader = EventReader(asked.directory)
    found: list[Recorded] = []
    seq = 0
    while page := reader.events_after(seq, _PAGE):
        seq = page[-1].seq
        found += [one for one in page if from_s <= _when_s(one) < until_s]
    return tables.events(found)


def _days(asked: _Asked) -> Table:
    reader = HistoryReader(asked.directory)
    from_s, until_s = _stretch(asked, reader)
    first, last = (
        datetime.fromtimestamp(at_s, asked.zone).date().isoformat() for at_s in (from_s, until_s - 1e-3)
    )
    return tables.days(reader.days(first, last))


_TABLES: Final[dict[str, Callable[[_Asked], Table]]] = {
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
