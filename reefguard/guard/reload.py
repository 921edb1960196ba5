"""Read the settings again under a running guard.

A bad file changes nothing and raises a finding.  So does one that names other
devices: they are taken at a start only, when every output is at rest.
"""

from pathlib import Path

from reefguard.guard.journal import Priority, say
from reefguard.guard.loop import Guard
from reefguard.guard.settings_source import Bad, from_file, needs_restart
from reefguard.vocabulary import Finding, Severity

_NAME = "settings not taken"


def reload(guard: Guard, settings_file: Path) -> bool:
    """Take the file's settings if they can be taken; return whether they were."""
    outcome = from_file(settings_file)
    if isinstance(outcome, Bad):
        say(Priority.CRITICAL, outcome.report)
        _refuse(guard, f"{settings_file} has errors, so the running settings are kept: {outcome.first_line}")
        return False
    changed = needs_restart(guard.settings, outcome.settings)
    if changed:
        _refuse(
            guard,
            f"{settings_file} is in order, but {' and '.join(changed)} can change at a start only, "
            "so the running settings are kept",
            mend="restart the guard: `systemctl restart reefguard`",
        )
        return False
    guard.apply(outcome)
    guard.set_trouble(_NAME, None)
    guard.set_trouble("last good copy", None)
    say(Priority.NOTICE, f"settings taken from {settings_file}")
    return True


def _refuse(guard: Guard, what: str, mend: str = "see `reefguard check FILE`, mend it, reload again") -> None:
    guard.set_trouble(_NAME, Finding(Severity.CRITICAL, _NAME, what, mend))
