"""What a person did and saw when commissioning, as one line of JSON each (`reefguard.commissioning/1`).

    {"schema": "reefguard.commissioning/1", "kind": "proof test", "subject": "cutoff",
     "at_wall": "2031-07-14T10:20:31+02:00", "clock_trusted": true, "who": "ann", "tank": "the reef",
     "outcome": "passed", "what": "the chiller stood still 3 s after ...", "details": {"seen_by": "feedback"}}

Keys are only ever added.  A line that cannot be understood is passed over by
readers and left alone by writers.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

from reefguard.vocabulary import ProofTests

SCHEMA: Final = "reefguard.commissioning/1"

PROOF_TEST: Final = "proof test"
EXERCISE: Final = "exercise"
CALIBRATION: Final = "calibration"
PROBES: Final = "probes"

PASSED: Final = "passed"
FAILED: Final = "failed"
INCONCLUSIVE: Final = "inconclusive"
STOPPED: Final = "stopped by the person"

# No record is of a year outside these; a day added to the last one of the calendar is no date any more.
_FIRST_YEAR: Final = 1970
_LAST_YEAR: Final = 9000


@dataclass(frozen=True, slots=True)
class Record:
    """One line.

    Attributes:
        kind: `proof test`, `exercise`, `calibration` or `probes`.
        subject: the output, the probe, or `cutoff`.
        at_wall: when, with its offset from UTC.
        clock_trusted: whether the wall clock was known to be right.
        who: the user name of the person.
        tank: its name in the settings.
        outcome: `passed`, `failed`, `inconclusive` or `stopped by the person`.
        what: a sentence for a person.
        details: numbers that belong to it, as JSON values.
    """

    kind: str
    subject: str
    at_wall: datetime
    clock_trusted: bool
    who: str
    tank: str
    outcome: str
    what: str
    details: Mapping[str, Any] = field(default_factory=dict)


def as_line(record: Record) -> str:
    """Return the record as it stands in the file, without its line end."""
    said = {
        "schema": SCHEMA,
        "kind": record.kind,
        "subject": record.subject,
        "at_wall": record.at_wall.isoformat(timespec="seconds"),
        "clock_trusted": record.clock_trusted,
        "who": record.who,
        "tank": record.tank,
        "outcome": record.outcome,
        "what": record.what,
        "details": dict(record.details),
    }
    line = json.dumps(said, ensure_ascii=False, allow_nan=False)
    # A user's name in the environment may be no text: its odd bytes must not cost the record.
    return line.encode(errors="replace").decode()


def from_line(line: str) -> Record | None:
    """Return the record in a line, or `None` when it holds none that can be understood."""
    try:
        said = json.loads(line)
    except (ValueError, RecursionError):
        return None
    if not isinstance(said, dict) or said.get("schema") != SCHEMA:
        return None
    texts = [said.get(key) for key in ("kind", "subject", "who", "tank", "outcome", "what")]
    if not all(isinstance(text, str) and _is_writable(text) for text in texts):
        return None
    at_wall = _when(said.get("at_wall"))
    details = said.get("details")
    if at_wall is None:
        return None
    return Record(
        kind=said["kind"],
        subject=said["subject"],
        at_wall=at_wall,
        clock_trusted=said.get("clock_trusted") is True,
        who=said["who"],
        tank=said["tank"],
        outcome=said["outcome"],
        what=said["what"],
        details=details if isinstance(details, dict) else {},
    )


def _is_writable(text: str) -> bool:
    """Return whether a text can be shown and written anywhere: JSON can hold halves of characters."""
    return not any("\ud800" <= char <= "\udfff" for char in text)


def _when(text: object) -> datetime | None:
    """Return a time with its offset, of a year that can be reckoned with; without these it says nothing."""
    try:
        at_wall = datetime.fromisoformat(text) if isinstance(text, str) else None
    except ValueError:
        return None
    if at_wall is None or at_wall.utcoffset() is None or not _FIRST_YEAR <= at_wall.year <= _LAST_YEAR:
        return None
    return at_wall


def proof_tests(records: Iterable[Record]) -> ProofTests:
    """Return what the records, in the order they were written, say of proof tests.

    What was inconclusive, or was stopped, neither proves nor disproves anything.
    """
    known = ProofTests()
    for record in records:
        if record.kind != PROOF_TEST:
            continue
        if record.outcome == PASSED:
            known = ProofTests(passed=record.at_wall)
        elif record.outcome == FAILED:
            known = known._replace(failed=record.at_wall)
    return known
