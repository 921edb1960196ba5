"""Where the guard keeps and says things: as the settings say, in order or not, else the usual places."""

from pathlib import Path

from reefguard.guard.settings_source import Bad, Good, directory_named

USUAL_RUNTIME = Path("/run/reefguard")
USUAL_STATE = Path("/var/lib/reefguard")


def runtime_directory(outcome: Good | Bad) -> Path:
    """Return where its status file and its socket are."""
    if isinstance(outcome, Good):
        return Path(outcome.settings.runtime_directory)
    return directory_named("runtime_directory", outcome.text) or USUAL_RUNTIME


def state_directory(outcome: Good | Bad) -> Path:
    """Return where its events are."""
    if isinstance(outcome, Good):
        return Path(outcome.settings.state_directory)
    return directory_named("state_directory", outcome.text) or USUAL_STATE
