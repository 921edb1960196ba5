"""Weigh a plan that breaks no rule: what is likely to go badly, and why."""

from reefguard.settings import control_findings, wiring_findings
from reefguard.settings.outcome import Accepted
from reefguard.settings.problems import CheckFinding

WEIGHED = (*control_findings.WEIGHED, *wiring_findings.WEIGHED)


def findings(accepted: Accepted) -> tuple[CheckFinding, ...]:
    """Return what is worth a second thought, in the order of the file."""
    found = [finding for weigh in WEIGHED for finding in weigh(accepted)]
    return tuple(sorted(found, key=lambda finding: finding.line))
