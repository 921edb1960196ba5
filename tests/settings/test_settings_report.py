"""Problems and findings are told so that a person knows where to look and what to write."""

from hypothesis import given, settings
from hypothesis import strategies as st
from settings_files import WHOLE, accepted, changed, problems, with_keys

from reefguard.settings.findings import findings
from reefguard.settings.problems import TOP, CheckFinding, Place, Problem, report, report_findings, shown

FILE = "/etc/reefguard/reefguard.yaml"


def test_a_report_reads_like_this() -> None:
    text = changed("minimum_off: 5 min", "minimum_off: 30 s").replace("  staging:", "  stagin:")
    assert report(problems(text), FILE) == (
        """\
/etc/reefguard/reefguard.yaml: 2 problems; nothing was changed.

  line 28, fans: stagin
    no such key
    mend: did you mean `staging`?

  line 43, chiller.minimum_off: 30 s
    shorter than 3 min: the compressor would restart under pressure
    mend: use the figure in the chiller's manual (3 min to 1 h)
"""
    )


def test_one_problem_is_one_problem_and_says_what_follows() -> None:
    told = report((Problem(Place(1, 1), "", "", "why", "how"),), "x.yaml", "the guard runs on")
    assert told == "x.yaml: 1 problem; the guard runs on.\n\n  line 1\n    why\n    mend: how\n"


def test_of_too_many_problems_the_first_fifty_are_told() -> None:
    many = [Problem(Place(line, 1), "", "", "w", "m") for line in range(1, 53)]
    told = report(many, "x")
    assert told.startswith("x: 52 problems; ")
    assert "line 50\n" in told
    assert "line 51\n" not in told
    assert told.endswith("\n\n  and 2 more\n")
    assert "more" not in report(many[:50], "x")


def test_a_key_a_value_and_both_are_told_apart() -> None:
    place = Place(7, 1)
    told = report((Problem(place, "", "word", "w", "m"), Problem(place, "a.b", "", "w", "m")), "x")
    assert "line 7: word\n" in told
    assert "line 7, a.b\n" in told


def test_findings_read_like_this() -> None:
    text = with_keys({"chiller.start_to_start": "none"})
    told = report_findings(findings(accepted(text)), FILE)
    assert told == (
        """\
/etc/reefguard/reefguard.yaml: no problems; 1 finding to weigh.

  line 55, chiller.start_to_start
    no limit on starts an hour
    why: each start heats the motor; Danfoss FRCC.PC.007 allows its compressors 12 an hour at most
    mend: write 10 min, unless the chiller's manual allows more
"""
    )


def test_several_findings_are_counted_and_ordered() -> None:
    told = report_findings((CheckFinding(9, "b", "x", "y", "z"), CheckFinding(2, "a", "x", "y", "z")), "f")
    assert told.startswith("f: no problems; 2 findings to weigh.\n\n  line 2, a\n")


def test_no_findings_is_said_too() -> None:
    assert report_findings(findings(accepted(WHOLE)), "f") == "f: no problems, no findings.\n"


@settings(deadline=None)
@given(st.text(max_size=500), st.text(max_size=500))
def test_a_problem_is_fit_to_be_shown_whatever_the_file_holds(text: str, more: str) -> None:
    problem = Problem(TOP, text, more, text, more)
    assert (problem.key + problem.read + problem.why + problem.mend).isprintable()
    assert len(problem.key) <= 60
    assert len(problem.why) <= 400


@settings(deadline=None)
@given(st.text(max_size=200))
def test_what_is_shown_is_one_line_of_bounded_length(text: str) -> None:
    line = shown(text, 60)
    assert line.isprintable()
    assert len(line) <= 60
    if text.isprintable() and len(text) <= 60:
        assert line == text
