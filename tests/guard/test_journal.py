"""The log: one line for each transition, none for its repetition."""

import pytest
from builders import bench_settings, both, inputs, permitting

from reefguard.control.counters import Counter
from reefguard.control.findings import find
from reefguard.control.step import at_start, step
from reefguard.guard.day import Day
from reefguard.guard.journal import Journal, Priority, say
from reefguard.settings.model import Unit
from reefguard.vocabulary import CutoffReport, Finding, Severity, WaterEstimate

SETTINGS = bench_settings()


def _told(capfd: pytest.CaptureFixture[str], journal: Journal, findings: list[Finding]) -> list[str]:
    """Return what the journal says of some findings, the rest standing still."""
    _, decision = step(at_start(SETTINGS, 0.0), inputs(1.0, {}), SETTINGS)
    journal.tick(decision, findings, 1.0, Unit.CELSIUS)
    return capfd.readouterr().err.splitlines()


def test_a_day_in_the_water_is_told_in_its_transitions_only(capfd: pytest.CaptureFixture[str]) -> None:
    journal, memory, now_s = Journal(), at_start(SETTINGS, 0.0), 0.0
    for water_c in (25.0, 27.0, 27.5, 26.0):
        for _ in range(200):
            now_s += 5.0
            given = inputs(now_s, both(water_c, now_s), cutoff=permitting(now_s))
            memory, decision = step(memory, given, SETTINGS)
            journal.tick(decision, find(memory, decision, given, SETTINGS), now_s, SETTINGS.shown_in)
    said = capfd.readouterr().err.splitlines()
    outputs = [line.split(":")[0] for line in said if line.startswith(("fan1 ", "chiller "))]
    assert [line for line in outputs if line.startswith("fan1")] == [
        "fan1 on",
        "fan1 off",
        "fan1 on",
        "fan1 off",
    ]
    assert [line for line in outputs if line.startswith("chiller")] == ["chiller on", "chiller off"]
    assert said.count("mode: schedule") == said.count("mode: automatic") == 1
    assert len([line for line in said if "display reads 27.50 °C, at or above the cut-in" in line]) == 1


def test_a_demand_that_is_held_off_is_told_with_what_holds_it(capfd: pytest.CaptureFixture[str]) -> None:
    journal, memory, now_s = Journal(), at_start(SETTINGS, 0.0), 0.0
    for _ in range(200):
        now_s += 5.0
        given = inputs(now_s, both(27.5, now_s), cutoff=CutoffReport("held off", False, "starting", now_s))
        memory, decision = step(memory, given, SETTINGS)
        journal.tick(decision, (), now_s, SETTINGS.shown_in)
    held = [line for line in capfd.readouterr().err.splitlines() if line.startswith("chiller off: wanted")]
    assert len(held) == 1
    assert "but held off: the over-cool cutoff forbids it: starting" in held[0]


def test_a_finding_is_told_when_it_comes_when_it_grows_and_when_it_goes(
    capfd: pytest.CaptureFixture[str],
) -> None:
    journal = Journal()
    mild = Finding(Severity.WARNING, "cutoff holds", "it waits", "wait")
    _told(capfd, journal, [])
    assert _told(capfd, journal, [mild]) == ["it waits; mend: wait"]
    assert _told(capfd, journal, [Finding(Severity.WARNING, "cutoff holds", "it waits on", "wait")]) == []
    grave = Finding(Severity.CRITICAL, "cutoff holds", "it tripped", "see why")
    assert _told(capfd, journal, [grave]) == ["it tripped; mend: see why"]
    assert _told(capfd, journal, [grave]) == []
    assert _told(capfd, journal, []) == ["over: cutoff holds"]
    assert _told(capfd, journal, []) == []


def test_the_systems_journal_is_told_the_priority_of_every_line(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    # sd-daemon(3): a line's priority stands in front of it as <N>.
    say(Priority.CRITICAL, "first\nsecond\n")
    assert capfd.readouterr().err == "first\nsecond\n"
    monkeypatch.setenv("JOURNAL_STREAM", "8:1234")
    say(Priority.CRITICAL, "first\nsecond\n")
    assert capfd.readouterr().err == "<2>first\n<2>second\n"


def test_a_day_in_one_line() -> None:
    fan, chiller = Counter(False, 0.0), Counter(False, 0.0, 500.0, 3)
    day = Day(["fan1", "chiller"], [fan, chiller], 0.0)
    day.see(None)
    for water_c in (25.5, 27.25, 26.0):
        day.see(WaterEstimate(water_c, "display", water_c - 0.25, "sump", 0.0))
    ran = Counter(True, 3_600.0, 60.0, 3)
    said = day.close([ran, chiller], 7_200.0, Unit.CELSIUS)
    assert said == "water 25.25 °C to 27.25 °C; fan1 ran 1 h 1 min (3 changes); chiller did not run"
    # The next day begins where this one ended.
    assert day.close([ran, chiller], 7_260.0, Unit.CELSIUS) == (
        "the water was never known; fan1 ran 1 min (0 changes); chiller did not run"
    )
