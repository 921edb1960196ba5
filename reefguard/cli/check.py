"""`reefguard check`: is the settings file right, and is the plan wise?"""

import sys
from pathlib import Path

import click

from reefguard.cli import places
from reefguard.cli.named_files import WRONG, content_of, stop
from reefguard.cutoff import limits
from reefguard.cutoff.limits import Setup
from reefguard.settings.cutoff_findings import CutoffPlan, cutoff_findings
from reefguard.settings.findings import findings
from reefguard.settings.outcome import Rejected
from reefguard.settings.problems import report, report_findings
from reefguard.settings.reading import read_bytes, top_level_keys
from reefguard.settings.schema import schema_text

_IN_ORDER, _TO_WEIGH = 0, 1
# Two of these tell a limits file of the cutoff from a settings file, which has none.
_LIMITS_KEYS = {"limit", "relay", "probe"}


@click.command()
@click.argument("file", type=click.Path(path_type=Path), default=places.settings_file)
@click.option(
    "--limits",
    "--cutoff",
    "limits_file",
    type=click.Path(path_type=Path),
    help="Weigh the settings against the cutoff's limits file too.",
)
@click.option("--schema", is_flag=True, help="Print the JSON Schema for editors, and read nothing.")
def check(file: Path, limits_file: Path | None, *, schema: bool) -> None:
    """Check a settings file and weigh its plan; change nothing.

    Without FILE, the one the guard reads: /etc/reefguard/reefguard.yaml.

    Ends with 0 when all is in order, 1 when there are findings to weigh, 2 when
    the guard would not take the file.
    """
    if schema:
        click.echo(schema_text(), nl=False)
        return
    content = content_of(file)
    _refuse_limits_file(file, content)
    outcome = read_bytes(content)
    if isinstance(outcome, Rejected):
        click.echo(report(outcome.problems, str(file), "the guard would not take it"), nl=False)
        sys.exit(WRONG)
    found = findings(outcome)
    if limits_file is not None:
        found += cutoff_findings(outcome, cutoff_plan(_setup(limits_file)))
    click.echo(report_findings(found, str(file)), nl=False)
    sys.exit(_TO_WEIGH if found else _IN_ORDER)


def _refuse_limits_file(file: Path, content: bytes) -> None:
    keys = top_level_keys(content.decode(errors="replace"))
    if len(keys & _LIMITS_KEYS) >= 2:
        stop(f"{file}: this is a limits file of the cutoff\n  mend: reefguard cutoff check {file}")


def _setup(file: Path) -> Setup:
    setup = limits.read(content_of(file).decode(errors="replace"))
    if isinstance(setup, list):
        stop(f"{file}: the cutoff would not take this limits file\n  mend: reefguard cutoff check {file}")
    return setup


def cutoff_plan(setup: Setup) -> CutoffPlan:
    """Return what the weighing of a plan needs of a limits file."""
    return CutoffPlan(
        limit_c=setup.limits.limit_c,
        recovered_c=setup.limits.recovered_c,
        relay_pin=setup.relay.pin,
        probe=setup.probe,
    )
