"""`reefguard fleet`: every tank on a broker, as each says it stands."""

import json
import os
import shutil
import sys
import time
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final, NoReturn
from urllib.parse import unquote, urlsplit

import click

from reefguard.cli.fleet_table import as_document, headline, rows, screenful
from reefguard.cli.monitoring import Condition, MonitoringCommand
from reefguard.link.fleet import Tank, gravity

if TYPE_CHECKING:
    from reefguard.link.fleet_watch import FleetWatch
    from reefguard.link.mqtt_session import Access

PASSWORD_VARIABLE: Final = "REEFGUARD_BROKER_PASSWORD"  # noqa: S105  where a password is, not one

_HEARD_WITHIN_S: Final = 30.0
_LOOK_EVERY_S: Final = 0.05
_REDRAW_EVERY_S: Final = 1.0
_PORTS: Final = {"mqtt": 1883, "mqtts": 8883}
_CONDITIONS: Final = (Condition.HEALTHY, Condition.WARNING, Condition.UNKNOWN, Condition.CRITICAL)


@click.command(cls=MonitoringCommand)
@click.option(
    "--broker",
    required=True,
    metavar="mqtt[s]://[USER@]HOST[:PORT]",
    help="The MQTT broker that the tanks report to; mqtts is encrypted.",
)
@click.option(
    "--password-file",
    type=click.Path(path_type=Path, dir_okay=False),
    help=f"A file that holds the password; else it is taken from {PASSWORD_VARIABLE}, or asked for.",
)
@click.option(
    "--ca-file",
    type=click.Path(path_type=Path, dir_okay=False),
    help="The authority that signed the broker's certificate, when it is your own.",
)
@click.option("--once", is_flag=True, help="Print the table once, and end.")
@click.option("--json", "as_json", is_flag=True, help="Print the tanks once as JSON, and end.")
def fleet(broker: str, password_file: Path | None, ca_file: Path | None, once: bool, as_json: bool) -> None:
    """Show every tank on a broker, those to look at first on top, until Ctrl-C.

    Water, mode and condition are shown of tanks that can be believed only: a LOST one
    has gone from the broker, a SILENT one's guard has not spoken for minutes.

    Exit code: that of the worst tank: 0 healthy, 1 warning, 2 critical (also: lost, or silent),
    3 unknown (also: no tanks, or no broker).
    """
    try:
        # Here, because a machine without the network side can still run the other commands.
        from reefguard.link.fleet_watch import FleetWatch  # noqa: PLC0415  see above
        from reefguard.link.mqtt_session import unreachable  # noqa: PLC0415  see above
    except ModuleNotFoundError as error:
        _unknown(f"{error.name} is not installed; mend: pip install 'reefguard[link]'")
    access = _access(broker, password_file, ca_file)
    try:
        watch = FleetWatch(access)
    except (OSError, ValueError) as error:
        _unknown(unreachable(error, access))
    try:
        _hear_everything(watch)
        if once or as_json or not sys.stdout.isatty():
            tanks = watch.tanks(_now())
            _print(tanks, access.where, as_json=as_json)
        else:
            tanks = _live(watch, access.where)
    finally:
        watch.close()
    sys.exit(worst(tanks))


def worst(tanks: Sequence[Tank]) -> Condition:
    """Return what the tanks come to: the worst of them; unknown without any."""
    return _CONDITIONS[max(map(gravity, tanks))] if tanks else Condition.UNKNOWN


def _access(broker: str, password_file: Path | None, ca_file: Path | None) -> "Access":
    from reefguard.link.mqtt_session import Access  # noqa: PLC0415  as above

    try:
        at = urlsplit(broker)
        port = at.port
    except ValueError as error:
        _unknown(f"--broker is no address: {error}; mend: write mqtts://broker.example")
    if at.password is not None:
        _unknown(
            "a password in an address can be read by everybody on this machine; "
            f"mend: use --password-file or {PASSWORD_VARIABLE}, and change that password"
        )
    if at.scheme not in _PORTS or not at.hostname or at.path.strip("/") or at.query or at.fragment:
        _unknown(f"{broker} is no broker's address; mend: write it as mqtts://broker.example:8883")
    tls = at.scheme == "mqtts"
    if ca_file is not None and not tls:
        _unknown("a CA file is for an encrypted connection; mend: write mqtts:// instead of mqtt://")
    user = None if at.username is None else unquote(at.username)
    return Access(
        at.hostname,
        port or _PORTS[at.scheme],
        tls=tls,
        ca_file=None if ca_file is None else str(ca_file),
        user=user,
        password=None if user is None else _password(user, password_file),
    )


def _password(user: str, password_file: Path | None) -> str | None:
    if password_file is not None:
        try:
            open_to_others = password_file.stat().st_mode & 0o077
            lines = password_file.read_text(encoding="utf-8").splitlines()
        except (OSError, UnicodeDecodeError) as error:
            why = error.strerror if isinstance(error, OSError) else "it is not text"
            _unknown(f"{password_file} cannot be read: {why}")
        if open_to_others:
            _unknown(f"{password_file} can be read by others; mend: chmod 600 {password_file}")
        return lines[0] if lines else ""
    given = os.environ.get(PASSWORD_VARIABLE)
    if given is None and sys.stdin.isatty():
        given = click.prompt(f"Password of {user}", hide_input=True, err=True)
    return given


def _hear_everything(watch: "FleetWatch") -> None:
    """Wait until the broker has told all it keeps."""
    end_s = time.monotonic() + _HEARD_WITHIN_S
    while not watch.settled:
        if watch.trouble is not None:
            _unknown(watch.trouble)
        if time.monotonic() > end_s:
            _unknown("the broker does not answer in time")
        time.sleep(_LOOK_EVERY_S)


def _print(tanks: Sequence[Tank], where: str, *, as_json: bool) -> None:
    if as_json:
        click.echo(json.dumps(as_document(tanks, where), indent=1, ensure_ascii=False))
        return
    click.echo(headline(tanks, where))
    for row in rows(tanks) if tanks else ():
        click.echo(row)


def _live(watch: "FleetWatch", where: str) -> tuple[Tank, ...]:
    tanks = watch.tanks(_now())
    try:
        while True:
            tanks = watch.tanks(_now())
            lines = [headline(tanks, where)]
            if watch.trouble is not None:
                lines.append(f"NOT CONNECTED, what follows is how it was: {watch.trouble}")
            lines += ["", *rows(tanks)]
            columns, height = shutil.get_terminal_size()
            click.clear()
            click.echo("\n".join(screenful(lines, columns, height - 1)))
            time.sleep(_REDRAW_EVERY_S)
    except KeyboardInterrupt:
        return tanks


def _now() -> datetime:
    return datetime.now(UTC)


def _unknown(sentence: str) -> NoReturn:
    click.echo(f"UNKNOWN - {sentence}", err=True)
    sys.exit(Condition.UNKNOWN)
