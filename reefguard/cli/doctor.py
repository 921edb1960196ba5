"""`reefguard doctor`: what commonly goes wrong with an installation, and how to mend it."""

import json
import sys
from pathlib import Path
from typing import Final

import click

from reefguard.cli.clocks import open_clock
from reefguard.cli.file_options import limits_option, settings_option
from reefguard.cli.host_facts import Gatherer
from reefguard.commissioning import checks_of_board, checks_of_system
from reefguard.commissioning.host import Host
from reefguard.commissioning.unseen import unseen
from reefguard.vocabulary import Finding, Severity

CHECKS: Final = {**checks_of_board.CHECKS, **checks_of_system.CHECKS}


@click.command()
@settings_option
@limits_option
@click.option("--send", is_flag=True, help="Also send a message marked TEST through every channel.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_context
def doctor(ctx: click.Context, settings_file: Path, limits_file: Path, send: bool, as_json: bool) -> None:
    """Look for what commonly goes wrong, and say how to mend it.  Changes nothing.

    Some of it only root may see: run it with sudo once.
    Exit code: 0 nothing found, 1 worth a second thought, 2 must be mended.
    """
    try:
        clock = open_clock()
    except ValueError as error:
        click.echo(f"reefguard doctor: {error}", err=True)
        sys.exit(2)
    host = Gatherer(Path("/"), settings_file.absolute(), limits_file.absolute(), clock).host()
    found = examined(host)
    if as_json:
        click.echo(json.dumps(_as_document(found, unseen(host)), indent=1, ensure_ascii=False))
    else:
        _show(host, found)
    code = worst(found)
    if send:
        code = max(code, _sent(ctx, settings_file))
    sys.exit(code)


def examined(host: Host) -> dict[str, list[Finding]]:
    """Return what each check finds."""
    return {name: list(check(host)) for name, check in CHECKS.items()}


def worst(found: dict[str, list[Finding]]) -> int:
    """Return the exit code."""
    severities = {finding.severity for findings in found.values() for finding in findings}
    return 2 if Severity.CRITICAL in severities else 1 if severities else 0


def _show(host: Host, found: dict[str, list[Finding]]) -> None:
    if not host.is_pi:
        click.echo("This is no Raspberry Pi: boot configuration, pins and watchdog are not looked at.\n")
    not_seen = unseen(host)
    for name, findings in found.items():
        if not findings:
            click.echo(f"  {'not seen' if name in not_seen else 'ok':<9} {name}")
        for finding in findings:
            click.echo(f"  {finding.severity.value:<9} {name}: {finding.what}")
            click.echo(f"            mend: {finding.mend}")
    count = sum(map(len, found.values()))
    click.echo("\nNothing was found." if not count else f"\n{count} found; nothing was changed.")
    if not_seen:
        click.echo(
            "What is not seen could not be looked at: on this machine, or by this user (sudo sees more)."
        )


def _as_document(found: dict[str, list[Finding]], not_seen: frozenset[str]) -> dict[str, object]:
    return {
        "schema": "reefguard.doctor/1",
        "checks": [
            {
                "check": name,
                "seen": name not in not_seen,
                "findings": [
                    {"severity": one.severity.value, "what": one.what, "mend": one.mend} for one in findings
                ],
            }
            for name, findings in found.items()
        ],
    }


def _sent(ctx: click.Context, settings_file: Path) -> int:
    """Send the test messages; return 2 when one was not taken."""
    from reefguard.cli.alert_test import alert_test  # noqa: PLC0415  it loads the network side

    try:
        ctx.invoke(alert_test, settings_file=settings_file, channel=None)
    except SystemExit as ended:
        return 2 if ended.code else 0
    return 0
