"""`reefguard export`: what the guard has kept, for other programs."""

import io
import math
import sys
import zipfile
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Final

import click

from reefguard.cli import places
from reefguard.cli.guard_places import state_directory
from reefguard.cli.named_files import stop
from reefguard.cli.stretches import present_s, stretch_named
from reefguard.cli.zone import local_zone
from reefguard.guard.settings_source import Bad, from_file
from reefguard.lookback.stretch import Stretch, local
from reefguard.records import tables
from reefguard.records.event_reader import EventReader, NoEvents
from reefguard.records.files import replace_file
from reefguard.records.history import TABLES, DayTotals, Past
from reefguard.records.history_reader import HistoryReader, NoHistory
from reefguard.records.tables import Table

_EVERY: Final = {"1m": TABLES["minutes"], "5m": TABLES["five_minutes"], "1h": TABLES["hours"]}
_AUTO_SPANS: Final = 10_100
_WHAT: Final = ("temperatures", "humidity", "outputs", "days", "day_outputs", "events")


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True))
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
    "--every",
    type=click.Choice(["auto", *_EVERY]),
    default="auto",
    show_default=True,
    help="How fine readings are; coarser where finer ones are kept no longer.",
)
@click.option(
    "--what", type=click.Choice(_WHAT), default="temperatures", show_default=True, help="Which table."
)
@click.option("--package", is_flag=True, help="All tables, with a description, in one .zip file.")
def export(
    file: Path,
    settings_path: Path,
    from_text: str | None,
    to_text: str | None,
    last: str | None,
    *,
    every: str,
    what: str,
    package: bool,
) -> None:
    """Write what the guard has kept to FILE, as CSV; `-` is standard output.

    The guard need not run, and notices nothing.  FILE is complete, or as it
    was before.

    Ends with 0, or with 2 when an option or a file cannot be taken.
    """
    outcome = from_file(settings_path)
    zone = local_zone()
    stretch = stretch_named(from_text, to_text, last, zone, present_s())
    kept = _Kept(state_directory(outcome), stretch, zone, every)
    if not package:
        _write(file, tables.as_csv(kept.table(what)).encode())
        return
    if str(file) == "-":
        stop("a package is no text for standard output\n  mend: name a file that ends in .zip")
    tank = "a tank" if isinstance(outcome, Bad) else outcome.settings.tank
    _write(file, _zipped([kept.table(one) for one in _WHAT], tank, local(present_s(), zone)))


class _Kept:
    """The guard's records of a stretch of time; what cannot be read ends the command."""

    def __init__(self, directory: Path, stretch: Stretch, zone: tzinfo, every: str) -> None:
        self._history, self._events = HistoryReader(directory), EventReader(directory)
        self._stretch, self._zone, self._every = stretch, zone, every

    def table(self, what: str) -> Table:
        match what:
            case "temperatures":
                return tables.temperatures(self._past(), self._zone)
            case "humidity":
                return tables.humidity(self._past(), self._zone)
            case "outputs":
                return tables.outputs(self._past(), self._zone)
            case "days":
                return tables.days(self._days())
            case "day_outputs":
                return tables.day_outputs(self._days())
            case _:
                return self._happened()

    def _past(self) -> Past:
        stretch = self._stretch
        lasts_s = _EVERY.get(self._every)
        most = _AUTO_SPANS if lasts_s is None else max(1, math.ceil(stretch.lasts_s / lasts_s))
        try:
            return self._history.past(stretch.from_s, stretch.until_s, most)
        except NoHistory as error:
            stop(f"nothing was written: {error}")

    def _days(self) -> tuple[DayTotals, ...]:
        first, last = (local(at_s, self._zone).date().isoformat() for at_s in self._stretch)
        try:
            return self._history.days(first, last)
        except NoHistory as error:
            stop(f"nothing was written: {error}")

    def _happened(self) -> Table:
        try:
            return tables.events(self._events.between(*self._stretch))
        except NoEvents as error:
            stop(f"nothing was written: {error}")


def _zipped(made: list[Table], tank: str, now: datetime) -> bytes:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        described = tables.data_package(made, tank, now.isoformat(timespec="seconds"))
        archive.writestr("datapackage.json", described)
        for table in made:
            archive.writestr(f"{table.name}.csv", tables.as_csv(table))
    return content.getvalue()


def _write(file: Path, content: bytes) -> None:
    if str(file) == "-":
        sys.stdout.buffer.write(content)
        return
    try:
        replace_file(file, content, durable=False)
    except OSError as error:
        stop(f"{file}: cannot be written: {error.strerror}\n  mend: name a file in a directory that is yours")
