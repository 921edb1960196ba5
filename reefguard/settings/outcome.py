"""What becomes of a settings file: accepted whole, or rejected whole."""

from collections.abc import Mapping
from dataclasses import dataclass

from reefguard.settings.model import Settings
from reefguard.settings.problems import CheckFinding, Problem


@dataclass(frozen=True, slots=True)
class Accepted:
    """The settings, and where they stand.

    Attributes:
        lines: by the path of the key; a default stands where its section does.
        pins: the key that takes each GPIO.
    """

    settings: Settings
    lines: Mapping[str, int]
    pins: Mapping[int, str]

    def finding(self, key: str, what: str, why: str, mend: str) -> CheckFinding:
        """Return a finding about a key, with its line."""
        return CheckFinding(self.lines[key], key, what, why, mend)

    def start_key(self, stage: str) -> str:
        """Return the key that says where a stage starts."""
        return f"{stage}.cut_in" if f"{stage}.cut_in" in self.lines else f"{stage}.differential"

    def stop_key(self, stage: str) -> str:
        """Return the key that says where a stage stops."""
        return f"{stage}.cut_out" if f"{stage}.cut_out" in self.lines else f"{stage}.setpoint"


@dataclass(frozen=True, slots=True)
class Rejected:
    """Everything that is wrong, in the order of the file; at least one problem."""

    problems: tuple[Problem, ...]
