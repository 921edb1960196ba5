"""What is wrong with a settings file, or worth a second thought, told to a person.

A `Problem` keeps the file from being used.  A `CheckFinding` does not: it
weighs a plan that can be carried out and says what is likely to go badly.
"""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where something stands in the file; both count from 1."""

    line: int
    column: int


TOP = Place(1, 1)


_LONGEST_VALUE = 60
_LONGEST_SENTENCE = 400
_MOST_TOLD = 50


def shown(text: str, longest: int) -> str:
    r"""Return `text` on one line, without control characters, cut to `longest` characters.

    >>> shown("5 min\x1b[2J\n", 60)
    '5 min\\x1b[2J\\n'
    """
    kept = text[: longest + 1]
    plain = "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in kept)
    return plain if len(plain) <= longest else plain[: longest - 1] + "…"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong, fit to be shown anywhere whatever the file holds.

    Attributes:
        place: where it stands.
        key: the path of the key, `chiller.minimum_off`; empty for the file as a whole.
        read: what was read there; empty when there was nothing to read.
        why: why it is wrong.
        mend: what to write instead.
    """

    place: Place
    key: str
    read: str
    why: str
    mend: str

    def __post_init__(self) -> None:
        for part, longest in _SHOWN:
            # The way past `frozen` that dataclasses themselves take.
            object.__setattr__(self, part, shown(getattr(self, part), longest))


_SHOWN = (
    ("key", _LONGEST_VALUE),
    ("read", _LONGEST_VALUE),
    ("why", _LONGEST_SENTENCE),
    ("mend", _LONGEST_SENTENCE),
)


@dataclass(frozen=True, slots=True)
class CheckFinding:
    """One thing that is allowed, and probably a mistake.

    Attributes:
        line: where it stands; for a key left to its default, where its section stands.
        key: the path of the key.
        what: what was found.
        why: why it matters, with its source.
        mend: what to do.
    """

    line: int
    key: str
    what: str
    why: str
    mend: str


def report(problems: Sequence[Problem], file_name: str, consequence: str = "nothing was changed") -> str:
    """Return the problems in words, one paragraph each, in the order of the file.

    Of a file that is something else altogether, the first fifty are told.

    Args:
        problems: what `read` refused the file for.
        file_name: as the person knows it.
        consequence: the state things are left in.
    """
    count = "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
    paragraphs = [f"{file_name}: {count}; {consequence}."]
    for problem in sorted(problems, key=lambda problem: problem.place)[:_MOST_TOLD]:
        what = ": ".join(part for part in (problem.key, problem.read) if part)
        where = f"line {problem.place.line}"
        if what:
            joint = ", " if problem.key else ": "
            where = f"{where}{joint}{what}"
        paragraphs.append(f"  {where}\n    {problem.why}\n    mend: {problem.mend}")
    if len(problems) > _MOST_TOLD:
        paragraphs.append(f"  and {len(problems) - _MOST_TOLD} more")
    return "\n\n".join(paragraphs) + "\n"


def report_findings(findings: Sequence[CheckFinding], file_name: str) -> str:
    """Return the findings in words, one paragraph each, in the order of the file."""
    if not findings:
        return f"{file_name}: no problems, no findings.\n"
    count = "1 finding" if len(findings) == 1 else f"{len(findings)} findings"
    paragraphs = [f"{file_name}: no problems; {count} to weigh."]
    paragraphs.extend(
        f"  line {finding.line}, {finding.key}\n"
        f"    {finding.what}\n    why: {finding.why}\n    mend: {finding.mend}"
        for finding in sorted(findings, key=lambda finding: finding.line)
    )
    return "\n\n".join(paragraphs) + "\n"
