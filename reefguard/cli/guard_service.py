"""What `reefguard guard` does once it has been called: settings, devices, loop, and every way it can end."""

import os
import sys
import traceback
from contextlib import suppress
from pathlib import Path
from typing import NoReturn

import click

from reefguard.cli.clocks import open_clock
from reefguard.cli.devices import open_world
from reefguard.cli.last_resort import EX_UNAVAILABLE, known_levels, make_safe
from reefguard.cli.status_page import lines
from reefguard.cli.zone import local_zone
from reefguard.guard.alarm_memory import NAME as ALARMS
from reefguard.guard.chores import Chores
from reefguard.guard.command_socket import CommandSocket
from reefguard.guard.journal import Priority, say
from reefguard.guard.lock import AlreadyRunning, only_one
from reefguard.guard.loop import Guard
from reefguard.guard.recall import recalled
from reefguard.guard.reload import reload
from reefguard.guard.settings_source import Bad, Good, directory_named, from_file, last_good
from reefguard.guard.signals import Signals
from reefguard.hardware.ports import Clock
from reefguard.hardware.unavailable import HardwareUnavailable
from reefguard.records import guard_memory, safe_levels, status_file
from reefguard.records.event_queue import EventQueue
from reefguard.records.guard_memory import Kept, Unreadable
from reefguard.records.history_queue import HistoryQueue
from reefguard.records.safe_levels import SafeLevel
from reefguard.vocabulary import Finding, Severity

DEFAULT_STATE_DIRECTORY = "/var/lib/reefguard"

# After events or history could not be written, the next attempt.
_RETRY_AFTER_S = 10.0

# sysexits.h: configuration error; internal software error.
EX_CONFIG, EX_SOFTWARE = 78, 70


def hold(settings_file: Path, given: Path | None, *, once: bool, keepers: str | None = None) -> None:
    """Hold the tank until asked to stop; exit with the reason's code where it cannot.

    Args:
        settings_file: the tank's settings, absolute.
        given: the state directory somebody named, should the settings not be readable.
        once: make a single tick only.
        keepers: the group whose members may give commands; the guard's own if none is named.
    """
    good, finding = _settings(settings_file, given)
    try:
        clock = open_clock(always_right=good.settings.clock_always_right)
    except ValueError as error:
        _refuse(EX_CONFIG, str(error))
    try:
        _run(good, finding, settings_file, clock, once=once, keepers=keepers)
    except AlreadyRunning as error:
        _refuse(EX_UNAVAILABLE, str(error))
    except HardwareUnavailable as error:
        state = Path(good.settings.state_directory)
        make_safe(_levels(state, good), state)
        _refuse(EX_UNAVAILABLE, str(error))


def make_safe_by_settings(settings_file: Path, given: Path | None) -> int:
    """Drive the safe levels, looking for them in the settings when nobody says where they are kept."""
    outcome = from_file(settings_file)
    state = given or _state_directory(outcome)
    return make_safe(_levels(state, outcome), state)


def _levels(state: Path, outcome: Good | Bad) -> tuple[SafeLevel, ...]:
    """Return those the last guard kept, for the settings may have changed since; else the settings'."""
    return known_levels(state) or (safe_levels.of(outcome.settings) if isinstance(outcome, Good) else ())


def _settings(settings_file: Path, given: Path | None) -> tuple[Good, Finding | None]:
    """Return the settings to run on, and what is to be said of them; without any, exit."""
    outcome = from_file(settings_file)
    if isinstance(outcome, Good):
        return outcome, None
    click.echo(outcome.report, err=True)
    directory = given or _state_directory(outcome)
    copy = last_good(directory)
    if copy is None:
        make_safe(_levels(directory, outcome), directory)
        _refuse(EX_CONFIG, f"there is no last good copy in {directory} either: nothing is switched on")
    finding = Finding(
        Severity.CRITICAL,
        "running on previous settings",
        f"running on the last good copy of the settings: {outcome.first_line}",
        "see `reefguard check FILE`, mend it, then reload",
    )
    say(Priority.CRITICAL, f"{finding.what}; mend: {finding.mend}")
    return copy, finding


def _run(
    good: Good,
    finding: Finding | None,
    settings_file: Path,
    clock: Clock,
    *,
    once: bool,
    keepers: str | None,
) -> None:
    settings = good.settings
    runtime, state = Path(settings.runtime_directory), Path(settings.state_directory)
    for directory in (runtime, state):
        with suppress(OSError):
            directory.mkdir(parents=True, exist_ok=True)
    with suppress(OSError):
        # lgpio makes a pipe in the working directory.
        os.chdir(runtime)
    lock = only_one(runtime)
    signals = Signals()
    world = open_world(settings, clock)
    kept = _remembered(state)
    memory = recalled(kept, settings, now_s=clock.boot_s(), boot_id=clock.boot_id())
    retry_after_s = clock.real_seconds(_RETRY_AFTER_S)
    zone = local_zone()
    running = Guard(
        good,
        memory,
        world,
        chores=Chores(zone),
        settings_file=settings_file,
        events=EventQueue(state, retry_after_s=retry_after_s, remember=ALARMS),
        history=HistoryQueue(state, retry_after_s=retry_after_s),
        zone=zone,
    )
    running.set_trouble("last good copy", finding)
    try:
        running.first_tick()
        if once:
            _show(runtime)
        else:
            commands = _listening(runtime, running, keepers)
            world.service.ready()
            running.run(signals, lambda: reload(running, settings_file), commands)
            if commands is not None:
                commands.close()
    except Exception as error:  # noqa: BLE001  whatever broke, the outputs come to rest and a person reads why
        where = traceback.extract_tb(error.__traceback__)[-1]
        _leave_crash_report(state)
        running.stop(crashed=True)
        _refuse(
            EX_SOFTWARE,
            f"an error of the program itself: {type(error).__name__}: {error} "
            f"({where.filename}, line {where.lineno}); every output is at rest; please report this line",
        )
    running.stop()
    del lock


def _listening(runtime: Path, running: Guard, keepers: str | None) -> CommandSocket | None:
    """Listen for persons' commands; a guard that cannot still guards."""
    try:
        return CommandSocket(runtime, running.answer, group=keepers)
    except OSError as error:
        finding = Finding(
            Severity.WARNING,
            "commands not taken",
            f"no commands are taken in {runtime}: {error.strerror or error}; alarms cannot be acknowledged",
            "see who may write there, and that the group exists; then restart the guard",
        )
        running.set_trouble("commands", finding)
        say(Priority.WARNING, f"{finding.what}; mend: {finding.mend}")
        return None


def _show(runtime: Path) -> None:
    """Print what the one tick saw."""
    status = status_file.read(runtime / status_file.FILE_NAME)
    if isinstance(status, dict):
        for line in lines(status, age_s=None):
            click.echo(line)


def _remembered(state: Path) -> Kept | None:
    kept = guard_memory.load(state)
    if isinstance(kept, Unreadable):
        aside = f"; it is set aside as {kept.set_aside}" if kept.set_aside else ""
        say(Priority.WARNING, f"the memory in {state} cannot be used: {kept.why}{aside}; counters begin at 0")
        return None
    return kept


def _state_directory(outcome: Good | Bad) -> Path:
    """Return the state directory: the one the settings name, in order or not, else the service manager's."""
    if isinstance(outcome, Good):
        return Path(outcome.settings.state_directory)
    named = directory_named("state_directory", outcome.text)
    return named or Path(os.environ.get("STATE_DIRECTORY") or DEFAULT_STATE_DIRECTORY)


def _leave_crash_report(state: Path) -> None:
    with suppress(OSError):
        (state / "last-crash.txt").write_text(traceback.format_exc(), encoding="utf-8")


def _refuse(code: int, sentence: str) -> NoReturn:
    click.echo(f"reefguard guard: {sentence}", err=True)
    sys.exit(code)
