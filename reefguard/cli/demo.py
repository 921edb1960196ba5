"""`reefguard demo`: a hot day on a bench, held by the real programs."""

import math
import shutil
import signal
import socket
import sys
import tempfile
import time
from contextlib import closing, suppress
from datetime import datetime, timedelta
from importlib.util import find_spec
from pathlib import Path
from typing import Any, NoReturn

import click

from reefguard.cli.status_page import ruler
from reefguard.control.words import span
from reefguard.cutoff.latch import write_clear_latch
from reefguard.records import status_file
from reefguard.rehearsal.bench import FIRST_WATER_C, Bench, by_hand, commission, prepare
from reefguard.rehearsal.demonstration import SAFE_HIGH_C, SAFE_LOW_C, Demonstration, Ended, in_words

_REFRESH_S = 0.2  # stopwatch seconds
_PAGE_PORT = 8377  # the link's own default
_LINE_EVERY_S = 1_800.0  # simulated seconds, where the output is no terminal


class _Number(click.FloatRange):
    """A number in a range; `nan`, which is in every range to click, is none."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:  # noqa: ANN401  click's own signature
        number = super().convert(value, param, ctx)
        if math.isnan(number):
            self.fail(f"{value} is no number.", param, ctx)
        return number


@click.command()
@click.option(
    "--prepare",
    "prepare_only",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Only make a bench in DIR, and say how to start each program on it by hand.",
)
@click.option("--speed", type=_Number(1.0, 600.0), default=60.0, show_default=True)
@click.option("--hours", type=_Number(min=0.0, min_open=True), help="Stop after so many simulated hours.")
def demo(prepare_only: Path | None, speed: float, hours: float | None) -> None:
    """Show a hot day: a simulated tank, and the guard and the cutoff that hold it."""
    if prepare_only is not None:
        try:
            click.echo(by_hand(_prepared(prepare_only)), nl=False)
        except OSError as error:
            _give_up(f"no bench can be made in {prepare_only}", error)
        return
    page = _page_port()
    try:
        directory = Path(tempfile.mkdtemp(prefix="reefguard-demo-"))
        demonstration = Demonstration(_prepared(directory), speed, FIRST_WATER_C, page_port=page)
    except OSError as error:
        _give_up("no bench can be made for it", error, "set TMPDIR to a directory that may be written")
    try:
        code = _show(demonstration, hours, _page_in_words(page))
    except BrokenPipeError:
        raise  # whoever read our output has gone: click ends quietly
    except OSError as error:
        _give_up(f"the bench in {directory} went away under it", error, "start it again")
    if code == 0:
        shutil.rmtree(directory, ignore_errors=True)
    else:
        click.echo(f"the bench is left for you to look at: {directory}")
    sys.exit(code)


def _page_port() -> int | None:
    """Return a port that is free for the page, `None` where what serves one is not installed."""
    if find_spec("flask") is None or find_spec("waitress") is None:
        return None
    for port in (_PAGE_PORT, 0):
        with suppress(OSError), closing(socket.socket()) as tried:
            tried.bind(("127.0.0.1", port))
            return int(tried.getsockname()[1])
    return None


def _page_in_words(port: int | None) -> str:
    if port is None:
        return "For a page of it in your browser: pip install 'reefguard[link]'"
    return f"See it unfold in your browser: http://127.0.0.1:{port}"


def _give_up(what: str, error: OSError, mend: str = "name a directory that may be written") -> NoReturn:
    click.echo(f"reefguard demo: {what}: {error.strerror or error}; mend: {mend}", err=True)
    sys.exit(1)


def _prepared(directory: Path) -> Bench:
    bench = prepare(directory)
    now = datetime.now().astimezone()
    write_clear_latch(bench.cutoff_state, now.isoformat(timespec="seconds"))
    # The demonstration begins this morning: what was tested must lie before it, and within a day of it.
    commission(bench, now - timedelta(days=1))
    return bench


def _show(demonstration: Demonstration, hours: float | None, page: str) -> int:
    """Run the day; return the exit code."""
    click.echo(
        f"A tank of 340 litres on a hot day, {demonstration.speed:g} times faster than life.\n"
        f"Guard and cutoff run as the real programs, on a bench in {demonstration.bench.directory}.\n"
        f"{page}\n"
        "Ctrl-C ends it."
    )
    ended: Ended | None = None
    # A kill, and a terminal that is closed, end it as Ctrl-C does: it leaves no program behind.
    for asked in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(asked, signal.default_int_handler)
    try:
        demonstration.start()
        _follow(demonstration, hours, page)
    except KeyboardInterrupt:
        click.echo()
    except Ended as error:
        ended = error
    finally:
        codes = demonstration.stop()
    click.echo("\n".join(["", *in_words(demonstration.tally)]))
    click.echo("stopped          " + ", ".join(f"{name} (exit {code})" for name, code in codes.items()))
    if ended is not None:
        click.echo(
            f"\n{ended.program} ended by itself (exit {ended.code}); its last words:\n{ended.last_words}"
        )
        return 1
    return 0 if not any(codes.values()) else 1


def _follow(demonstration: Demonstration, hours: float | None, page: str) -> None:
    """Let the day pass, and show it."""
    live = sys.stdout.isatty()
    begun_s = demonstration.clock.boot_s()
    said_s = float("-inf")
    while hours is None or demonstration.clock.boot_s() - begun_s < hours * 3_600.0:
        demonstration.advance()
        now_s = demonstration.clock.boot_s()
        if live:
            click.clear()
            click.echo("\n".join([*_screen(demonstration), "", page]))
        elif now_s - said_s >= _LINE_EVERY_S:
            said_s = now_s
            click.echo(_line(demonstration))
        time.sleep(_REFRESH_S if live else _REFRESH_S / 2.0)


def _screen(demonstration: Demonstration) -> list[str]:
    """Return the live view."""
    status = status_file.read(demonstration.bench.run / "status.json")
    cutoff = status_file.read(demonstration.bench.cutoff_run / "status.json")
    water_c = demonstration.water_c
    lights = "on" if demonstration.lights_on() else "off"
    rows = [
        (
            f"{demonstration.local():%a %H:%M}   room {demonstration.room_c():.1f} °C   lights {lights}   "
            f"{demonstration.speed:g} times faster than life   Ctrl-C ends it"
        ),
        "",
        f"water     {water_c:.2f} °C  {SAFE_LOW_C} {ruler(water_c, SAFE_LOW_C, SAFE_HIGH_C)} {SAFE_HIGH_C}",
    ]
    if isinstance(status, dict):
        rows += [f"mode      {status.get('mode')}", ""]
        outputs = status.get("outputs", {})
        rows += [
            f"{name:<10}{'on' if output['on'] else 'off':<5}{output['why']}"
            for name, output in outputs.items()
        ]
    else:
        rows += ["guard     starting"]
    if isinstance(cutoff, dict):
        rows += [f"{'cutoff':<10}{cutoff.get('state')}: {cutoff.get('why')}"]
    else:
        rows += ["cutoff    starting"]
    if isinstance(status, dict):
        coming = status.get("next")
        if coming:
            rows += [f"{'next':<10}{coming['what']} in {span(coming['in_s'])}"]
        rows += [""] + [f"{one['severity']}: {one['what']}" for one in status.get("findings", [])]
    return rows


def _line(demonstration: Demonstration) -> str:
    """Return the moment in one line, for an output that is no terminal."""
    running = demonstration.running()
    return (
        f"{demonstration.local():%H:%M}  water {demonstration.water_c:.2f} °C  "
        f"room {demonstration.room_c():.1f} °C  lights {'on ' if running.lights else 'off'}  "
        f"fans {running.fans}  chiller {'on' if running.chiller else 'off'}"
    )
