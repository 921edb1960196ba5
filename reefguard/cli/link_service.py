"""What `reefguard link` does once it has been called: settings, outbox, rounds, and every way it can end."""

import logging
import os
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path
from typing import Final, NoReturn

import click

from reefguard.cli.clocks import open_clock
from reefguard.guard.journal import Priority, say
from reefguard.guard.settings_source import Bad, from_file
from reefguard.guard.signals import Signals
from reefguard.hardware.ports import Clock
from reefguard.hardware.service import NotifySocket
from reefguard.link.carrier import Answer, AppriseCarrier, Carrier, Letter
from reefguard.link.lock import AlreadyRunning, only_one
from reefguard.link.notes import Now
from reefguard.link.outbox import Outbox, opened
from reefguard.link.ports import Outlet
from reefguard.link.secrets import NoSecret, Secrets
from reefguard.link.service import Link, Surroundings
from reefguard.settings.link_model import LinkSettings
from reefguard.settings.model import Settings

# sysexits.h: configuration error; a service cannot be had.
EX_CONFIG: Final = 78
EX_UNAVAILABLE: Final = 69

_ROUND_S: Final = 1.0
_NO_APPRISE: Final = "Apprise is not installed; mend: pip install 'reefguard[link]'"


def run(settings_file: Path) -> None:
    """Carry alarms until asked to stop; exit with the reason's code where it cannot."""
    log_to_the_journal()
    settings, link = link_settings(settings_file)
    try:
        clock = open_clock(always_right=settings.clock_always_right)
        lock = only_one(Path(link.state_directory))
        outbox, aside = opened(Path(link.state_directory))
    except ValueError as error:
        refuse(EX_CONFIG, str(error))
    except AlreadyRunning as error:
        refuse(EX_UNAVAILABLE, str(error))
    except (OSError, sqlite3.Error) as error:
        refuse(EX_UNAVAILABLE, f"{link.state_directory} cannot be used: {error}")
    if aside is not None:
        say(Priority.WARNING, f"{aside}; alarms that stand are told once more")
    with suppress(OSError):
        Path(link.runtime_directory).mkdir(parents=True, exist_ok=True)
    signals, manager = Signals(), NotifySocket()
    ready = False
    while not signals.stop:
        try:
            work = Link(settings, link, _surroundings(settings, link, outbox, clock))
        except sqlite3.Error as error:
            refuse(EX_UNAVAILABLE, f"the outbox in {link.state_directory} cannot be read: {error}")
        if not ready:
            manager.ready()
            ready = True
        settings, link = _rounds(work, (settings, link), settings_file, signals, manager)
        work.close()
    manager.stopping()
    outbox.close()
    os.close(lock)


def link_settings(settings_file: Path) -> tuple[Settings, LinkSettings]:
    """Return the settings; without any that can be used, exit."""
    outcome = from_file(settings_file)
    if isinstance(outcome, Bad):
        click.echo(outcome.report, err=True)
        sys.exit(EX_CONFIG)
    if outcome.settings.link is None:
        refuse(
            EX_CONFIG,
            f"{settings_file} says nothing of a link\n  mend: write `link:` and under it `channels:`, "
            "each with the name of its secret",
        )
    return outcome.settings, outcome.settings.link


def refuse(code: int, sentence: str) -> NoReturn:
    """Say why it cannot be, and exit."""
    click.echo(f"reefguard link: {sentence}", err=True)
    sys.exit(code)


def log_to_the_journal() -> None:
    """Let everything that is logged go where the service manager collects it."""
    root = logging.getLogger()
    root.handlers[:] = [_Journal()]
    root.setLevel(logging.INFO)


def _rounds(
    work: Link,
    settings: tuple[Settings, LinkSettings],
    settings_file: Path,
    signals: Signals,
    manager: NotifySocket,
) -> tuple[Settings, LinkSettings]:
    """Make rounds until asked to stop, or until there are other settings; return the ones to go on with."""
    while not signals.stop:
        sentence = work.round()
        manager.status(sentence)
        manager.healthy()
        signals.wait(_ROUND_S)
        if signals.reload:
            signals.reload = False
            read = _read_again(settings_file, settings)
            if read is not None:
                return read
    return settings


def _read_again(
    settings_file: Path, before: tuple[Settings, LinkSettings]
) -> tuple[Settings, LinkSettings] | None:
    outcome = from_file(settings_file)
    if isinstance(outcome, Bad):
        say(Priority.WARNING, f"{outcome.report}\ngoing on with the settings as they were")
        return None
    link = outcome.settings.link
    if link is None or link.state_directory != before[1].state_directory:
        say(
            Priority.WARNING,
            "no `link:`, or another `state_directory`: that needs a restart; going on as before",
        )
        return None
    say(Priority.NOTICE, "settings read again")
    return outcome.settings, link


def _surroundings(settings: Settings, link: LinkSettings, outbox: Outbox, clock: Clock) -> Surroundings:
    secrets = Secrets(Path(link.secrets_directory))
    return Surroundings(
        outbox=outbox,
        carrier=carrier() if link.channels else _NoCarrier(),
        now=lambda: present(clock),
        outlets=tuple(_outlets(settings, link, secrets)),
    )


def present(clock: Clock) -> Now:
    """Return the present by both clocks."""
    wall = clock.wall()
    return Now(clock.boot_s(), clock.boot_id(), wall.local, wall.trusted)


def carrier() -> AppriseCarrier:
    """Return what carries letters; without it, exit."""
    try:
        return AppriseCarrier()
    except ImportError:
        refuse(EX_UNAVAILABLE, _NO_APPRISE)


class _NoCarrier(Carrier):
    """Stands where there is no channel."""

    def carry(self, letter: Letter, address: str) -> Answer:
        del letter, address
        return Answer(taken=False, said="there is no channel")


def _outlets(settings: Settings, link: LinkSettings, secrets: Secrets) -> Iterator[Outlet]:
    """Open what shows the tank elsewhere; one that cannot be opened is told, and the alarms go on."""
    for name, opening in (
        ("broker", lambda: _broker(link, secrets)),
        ("metrics", lambda: _metrics(settings, link)),
    ):
        outlet = _opened(name, opening)
        if outlet is not None:
            yield outlet


def _opened(name: str, opening: Callable[[], Outlet | None]) -> Outlet | None:
    try:
        return opening()
    except ImportError as error:
        say(Priority.WARNING, f"no {name}: {error}; mend: pip install 'reefguard[link]'")
    except (OSError, NoSecret) as error:
        say(Priority.WARNING, f"no {name}: {error}")
    return None


def _broker(link: LinkSettings, secrets: Secrets) -> Outlet | None:
    if link.broker is None:
        return None
    from reefguard.link.broker import BrokerOutlet  # noqa: PLC0415  loaded only where there is a broker

    password = None if link.broker.secret is None else secrets.one(link.broker.secret)
    return BrokerOutlet(link.broker, password)


def _metrics(settings: Settings, link: LinkSettings) -> Outlet | None:
    if link.metrics is None:
        return None
    from reefguard.link.metrics_outlet import MetricsOutlet  # noqa: PLC0415  loaded only where they are wanted

    return MetricsOutlet(link.metrics, settings.tank, version("reefguard"))


class _Journal(logging.Handler):
    """One line for each record, with the priority the system's journal understands."""

    def emit(self, record: logging.LogRecord) -> None:
        if record.levelno >= logging.ERROR:
            priority = Priority.CRITICAL
        elif record.levelno >= logging.WARNING:
            priority = Priority.WARNING
        else:
            priority = Priority.INFO
        say(priority, record.getMessage())
