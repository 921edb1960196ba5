"""`reefguard export`: what the guard has recorded, for other programs."""

import math
import sys
from collections.abc import Callable
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Final, NamedTuple

import click

from reefguard.cli.file_options import settings_option
from reefguard.cli.guard_places import state_directory
from reefguard.cli.named_files import stop
from reefguard.cli.stretches import present_s, stretch_named
from reefguard.cli.zone import local_zone
from reefguard.guard.settings_source import Good, from_file
from reefguard.lookback.stretch import Stretch, local
from reefguard.records import tables
from reefguard.records.data_package import packed
from reefguard.records.event_reader import EventReader, NoEvents
from reefguard.records.files import replace_file
from reefguard.records.history import FIVE_MINUTES_S, HOUR_S, MINUTE_S
from reefguard.records.history_reader import HistoryReader, NoHistory
from reefguard.records.tables import Table

_EVERY_S: Final = {"1m": MINUTE_S, "5m": FIVE_MINUTES_S, "1h": HOUR_S}

# A week of minutes, a month of five minutes: what a spreadsheet still opens gladly.
_MOST_SPANS: Final = 10_100


class _Asked(NamedTuple):
    """What to export.

    Attributes:
        directory: the guard's state directory.
        stretch: of time; `None` for all there is.
        every_s: how finely; `None` for as finely as is sensible.
        zone: the local one.
    """

    directory: Path
    stretch: Stretch | None
    every_s: int | None
    zone: tzinfo

    @property
    def history(self) -> HistoryReader:
        """Reads the history."""
        return HistoryReader(self.directory)


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True))
@settings_option
@click.option("--from", "from_text", metavar="DATE", help="From this day's beginning, or this moment, on.")
@click.option("--to", "to_text", metavar="DATE", help="To this day's end, or this moment; now by default.")
@click.option("--last", metavar="24h|7d|90d", help="The last so many hours or days.")
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
@click.option("--package", is_flag=True, help="All tables, with what they mean, in one zip file.")
def export(
    file: Path,
    settings_file: Path,
    from_text: str | None,
    to_text: str | None,
    last: str | None,
    *,
    every: str,
    what: str | None,
    package: bool,
) -> None:
    """Write what the guard has recorded to FILE, as CSV; `-` is standard output.

    Without --from and --last it is all there is.  The guard need not run, and
    notices nothing.  FILE is complete, or as it was before.

    Ends with 0, or with 2 when an option or a file cannot be taken.
    """
    if package and what is not None:
        stop("--package holds every table\n  mend: leave --what out")
    if package and str(file) == "-" and sys.stdout.isatty():
        stop("a package is no text for a terminal\n  mend: name a file that ends in .zip")
    outcome = from_file(settings_file)
    zone = local_zone()
    named = (from_text, to_text, last) != (None, None, None)
    stretch = stretch_named(from_text, to_text, last, zone, present_s()) if named else None
    asked = _Asked(state_directory(outcome), stretch, _EVERY_S.get(every), zone)
    try:
        if package:
            tank = outcome.settings.tank if isinstance(outcome, Good) else "a reef tank"
            made = [make(asked) for make in _TABLES.values()]
            content = packed(made, tank=tank, created=local(present_s(), zone))
        else:
            content = tables.csv(_TABLES[what or "readings"](asked))
    except (NoHistory, NoEvents) as error:
        stop(f"nothing was written: {error}")
    _write(file, content)


def _readings(asked: _Asked) -> Table:
    kept = asked.history.extent()
    from_s, until_s = asked.stretch or kept or (0.0, 0.0)
    if asked.every_s is None:
        past = asked.history.past(from_s, until_s, _MOST_SPANS)
    else:
        past = asked.history.stretch(from_s, until_s, asked.every_s)
        fine_s = asked.history.kept_from(asked.every_s)
        if from_s < fine_s:
            _say(f"as finely as that, readings are kept since {_moment(fine_s, asked.zone)}")
    return _told(tables.readings(past, asked.zone), asked, kept)


def _outputs(asked: _Asked) -> Table:
    kept = asked.history.extent()
    past = asked.history.stretch(*(asked.stretch or kept or (0.0, 0.0)), HOUR_S)
    return _told(tables.outputs(past, asked.zone), asked, kept)


def _events(asked: _Asked) -> Table:
    reader = EventReader(asked.directory)
    table = tables.events(reader.between(*(asked.stretch or (-math.inf, math.inf))))
    if table.rows:
        return table
    ends = (*reader.events_after(0, 1), *reader.history(1))
    moments = [datetime.fromisoformat(one.event.at_wall).timestamp() for one in ends]
    return _told(table, asked, (moments[0], moments[-1]) if moments else None)


def _days(asked: _Asked) -> Table:
    kept = asked.history.extent()
    if asked.stretch is None:
        # Days outlast all else.
        first, last = "0000-01-01", "9999-12-31"
    else:
        ends = (asked.stretch.from_s, asked.stretch.until_s - 1e-3)
        first, last = (local(at_s, asked.zone).date().isoformat() for at_s in ends)
    return _told(tables.days(asked.history.days(first, last)), asked, kept)


_TABLES: Final[dict[str, Callable[[_Asked], Table]]] = {
    "readings": _readings,
    "outputs": _outputs,
    "events": _events,
    "days": _days,
}


def _told(table: Table, asked: _Asked, kept: tuple[float, float] | None) -> Table:
    """Return a table; say so where it is empty, lest somebody take that for a quiet time."""
    if table.rows:
        return table
    if kept is None:
        _say(f"no {table.name}: nothing is recorded yet; readings are written in batches of ten minutes")
        return table
    between = "" if asked.stretch is None else f" {_from_to(asked.stretch, asked.zone)}"
    _say(f"no {table.name}{between}; what is kept reaches {_from_to(kept, asked.zone)}")
    return table


def _from_to(ends: tuple[float, float], zone: tzinfo) -> str:
    return f"from {_moment(ends[0], zone)} to {_moment(ends[1], zone)}"


def _moment(at_s: float, zone: tzinfo) -> str:
    return local(at_s, zone).isoformat(sep=" ", timespec="minutes")


def _say(sentence: str) -> None:
    click.echo(f"reefguard: {sentence}", err=True)


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
        stop(f"{file}: cannot be written: {error.strerror}\n  mend: name a file in a directory that is yours")
