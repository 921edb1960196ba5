"""`reefguard status`: how the tank stands, from what the guard last wrote."""

import json
import shutil
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path
from typing import Any, NoReturn

import click

from reefguard.cli.clocks import open_clock
from reefguard.cli.file_options import settings_option
from reefguard.cli.guard_places import runtime_directory, state_directory
from reefguard.cli.monitoring import Condition, MonitoringCommand
from reefguard.cli.status_chart import chart
from reefguard.cli.status_page import findings_of, is_number, lines, table, unit_of
from reefguard.cli.zone import local_zone
from reefguard.control.words import span, temperature
from reefguard.guard.settings_source import Bad, from_file
from reefguard.hardware.ports import Clock
from reefguard.records import status_file
from reefguard.records.history_reader import HistoryReader, NoHistory
from reefguard.records.status_file import NoStatus

# A status this many samplings old is no tick that was merely late.
_SILENT_AFTER_SAMPLINGS = 6

# How far back the chart of `--watch` looks, in at most so many spans, and how often it is drawn.
_WATCHED_S = 21_600.0
_MOST_SPANS = 400
_DRAW_EVERY_S = 10.0


@dataclass(frozen=True, slots=True)
class Report:
    """A status, as far as there is one, and what it comes to.

    `performance` is for graphing tools: empty unless the status is fresh.  `silent`: it is too old.
    """

    condition: Condition
    headline: str
    status: dict[str, Any]
    age_s: float | None
    performance: str = ""
    silent: bool = False


@click.command(cls=MonitoringCommand)
@settings_option
@click.option("--json", "as_json", is_flag=True, help="Print the status as JSON, with its age.")
@click.option(
    "--watch", is_flag=True, help="Show it again and again, with a chart of the last hours, until Ctrl-C."
)
def status(settings_file: Path, as_json: bool, watch: bool) -> None:
    """Say how the tank stands, and how old that knowledge is.

    Exit code: 0 healthy, 1 warning, 2 critical (also: the guard is silent), 3 unknown.
    """
    outcome = from_file(settings_file)
    path = runtime_directory(outcome) / status_file.FILE_NAME
    try:
        clock = open_clock()
    except ValueError as error:
        _unknown(str(error))
    if watch and as_json:
        _unknown("--watch is for eyes and --json for programs; mend: give one of them")
    if watch:
        _watch(path, clock, HistoryReader(state_directory(outcome)))
    report = look(path, clock)
    if as_json:
        click.echo(json.dumps(as_document(report), indent=1, ensure_ascii=False))
    else:
        # What graphing tools read stands on the first line, out of the way of a person at a terminal.
        click.echo(report.headline if sys.stdout.isatty() else f"{report.headline}{report.performance}")
        for line in _page(report):
            click.echo(line)
    if not report.status and isinstance(outcome, Bad):
        click.echo(
            f"\nThe settings cannot be used, so {path.parent} was looked in.\n{outcome.report}", err=True
        )
    sys.exit(report.condition)


def look(path: Path, clock: Clock) -> Report:
    """Read the status file and weigh it."""
    status = status_file.read(path)
    if isinstance(status, NoStatus):
        return Report(Condition.UNKNOWN, f"UNKNOWN - {status.why}", {}, None)
    written_s, sampling_s = status.get("written_s"), status.get("sampling_s")
    if not is_number(written_s) or not is_number(sampling_s):
        return Report(Condition.UNKNOWN, f"UNKNOWN - {path} says not when it was written", {}, None)
    if status.get("boot_id") != clock.boot_id():
        return Report(
            Condition.UNKNOWN, f"UNKNOWN - {path} is from before the last boot: no guard runs", status, None
        )
    age_s = clock.boot_s() - written_s
    if age_s < 0.0:
        return Report(
            Condition.UNKNOWN,
            f"UNKNOWN - {path} was written by a clock that runs otherwise than this one; "
            "mend: have REEFGUARD_BENCH and REEFGUARD_BENCH_SPEED here as they are for the guard",
            status,
            None,
        )
    if age_s > _SILENT_AFTER_SAMPLINGS * sampling_s:
        return Report(
            Condition.CRITICAL,
            f"CRITICAL - the guard has been silent for {span(age_s)}",
            status,
            age_s,
            silent=True,
        )
    return _weigh(status, age_s)


def _weigh(status: dict[str, Any], age_s: float) -> Report:
    """Weigh a fresh status by its findings."""
    findings = findings_of(status)
    critical = [one for one in findings if one.get("severity") == "critical"]
    if critical:
        condition, word = Condition.CRITICAL, "CRITICAL"
    elif findings:
        condition, word = Condition.WARNING, "WARNING"
    else:
        condition, word = Condition.HEALTHY, "OK"
    says = "".join(f": {worst.get('what')}" for worst in (critical or findings)[:1])
    return Report(condition, f"{word} - {_water(status)}{says}", status, age_s, _performance(status))


def _water(status: dict[str, Any]) -> str:
    warmest_c = table(status, "water").get("warmest_c")
    known = temperature(warmest_c, unit_of(status)) if is_number(warmest_c) else "not known"
    return f"water {known}, mode {status.get('mode')}"


def _performance(status: dict[str, Any]) -> str:
    """Return the values in °C, as graphing tools read them: 'label'=value;warning range;critical range."""
    band = table(status, "safe_band")
    low_c, high_c = band.get("low_c"), band.get("high_c")
    limits = f"{low_c}:{high_c}" if is_number(low_c) and is_number(high_c) else ""
    values = [
        f"'{name}'={probe['water_c']};{limits};{limits}"
        for name, probe in table(status, "probes").items()
        if isinstance(probe, dict) and is_number(probe.get("water_c"))
    ]
    return f" | {' '.join(values)}" if values else ""


def as_document(report: Report) -> dict[str, Any]:
    """Return the report as JSON values; the keys people rely on are there even without a guard."""
    bare: dict[str, Any] = {"mode": None, "water": None, "outputs": {}, "cutoff": None}
    return {
        **bare,
        **report.status,
        "condition": report.condition.name.lower(),
        "headline": report.headline,
        "age_s": None if report.age_s is None else round(report.age_s, 3),
    }


def _page(report: Report) -> Iterator[str]:
    """Yield what follows the headline, for a person."""
    if report.silent:
        yield "  mend: read `journalctl -u reefguard`, then `sudo systemctl restart reefguard`"
        yield "  what follows is how it was then"
    elif not report.status:
        yield "  mend: measure the water by hand; then see `systemctl status reefguard`"
    yield from lines(report.status, report.age_s)


def _watch(path: Path, clock: Clock, history: HistoryReader) -> NoReturn:
    zone = local_zone()
    drawn: tuple[str, ...] = ()
    drawn_s = -_DRAW_EVERY_S
    try:
        while True:
            report = look(path, clock)
            now_s = time.monotonic()
            if now_s - drawn_s >= _DRAW_EVERY_S:
                drawn, drawn_s = tuple(_chart(report.status, clock, history, zone)), now_s
            click.clear()
            click.echo(report.headline)
            for line in (*_page(report), "", *drawn):
                click.echo(line)
            time.sleep(1.0)
    except KeyboardInterrupt:
        sys.exit(look(path, clock).condition)


def _chart(status: dict[str, Any], clock: Clock, history: HistoryReader, zone: tzinfo) -> Iterator[str]:
    band = table(status, "safe_band")
    low_c, high_c = band.get("low_c"), band.get("high_c")
    known = (low_c, high_c) if is_number(low_c) and is_number(high_c) else None
    until_s = clock.wall().local.timestamp()
    try:
        past = history.past(until_s - _WATCHED_S, until_s, _MOST_SPANS)
    except NoHistory as error:
        yield f"  no chart: {error}"
    except Exception as error:  # noqa: BLE001  whatever is wrong with the past, the present is shown
        yield f"  no chart: the history cannot be read ({type(error).__name__})"
    else:
        columns = shutil.get_terminal_size().columns
        yield from chart(past, band_c=known, unit=unit_of(status), zone=zone, columns=columns)


def _unknown(sentence: str) -> NoReturn:
    click.echo(f"UNKNOWN - {sentence}")
    sys.exit(Condition.UNKNOWN)
