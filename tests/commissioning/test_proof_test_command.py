"""`reefguard proof-test` at a terminal, over the real guard and the real cutoff."""

import json
import signal
import sys
from pathlib import Path
from typing import Any

import pytest
from bench_rig import Rig, no_traceback
from chiller_plant import FEEDBACK, ChillerPlant
from on_terminal import Terminal

from reefguard.commissioning.record import Record
from reefguard.records import commissioning_log
from reefguard.rehearsal.bench import CUTOFF

# Slow enough for a person, or a busy machine, to answer within the 2 minutes that the guard's contact waits.
SPEED = 20.0
FEEDBACK_WIRED = (
    "  start_to_start: none",
    f"  running_input: {{pin: GPIO{FEEDBACK}}}\n  start_to_start: none",
)


def on_record(rig: Rig) -> list[Record]:
    """Return what was put on record since the bench was made."""
    return list(commissioning_log.read(commissioning_log.directory_in(rig.bench.state)))[1:]


def proof_test(rig: Rig, *options: str) -> Terminal:
    command = (sys.executable, "-m", "reefguard", "proof-test", *options)
    return Terminal(*command, env=rig.environment())


def refused(rig: Rig, *options: str) -> str:
    """Return why a test is not made."""
    done = rig.command("proof-test", *options)
    assert done.returncode == 1, done
    assert no_traceback(done.stderr)
    return done.stderr


def test_with_the_running_feedback(tmp_path: Path) -> None:
    """Left at the first question, then passed; then a welded contact is found, and told."""
    with Rig(tmp_path, 30.0) as rig, ChillerPlant(rig) as plant:
        rig.settings(FEEDBACK_WIRED)
        rig.chilling()
        rig.until_status(lambda: rig.status()["chiller_feedback"]["running"], "the feedback is seen")

        with proof_test(rig) as terminal:
            terminal.read_until("Open the cutoff's contact now?")
            terminal.interrupt()
            assert terminal.close() == 130
        assert "the guard does with the chiller what the water asks for" in terminal.seen
        assert rig.chiller_has_power()
        assert on_record(rig) == []

        _stopped_by_its_own_thermostat_before(rig, plant)

        with proof_test(rig) as terminal:
            terminal.answer("Open the cutoff's contact now?", "perhaps")
            terminal.answer("Open the cutoff's contact now?", "y")
            terminal.read_until("nothing is latched")
            assert rig.pin(CUTOFF) == "0"
            assert terminal.close() == 0, terminal.seen
        assert "passed: the feedback showed the chiller standing" in terminal.seen
        assert no_traceback(terminal.seen)
        (record,) = on_record(rig)
        assert (record.kind, record.outcome, record.subject) == ("proof test", "passed", "cutoff")
        assert record.details == {"seen_by": "feedback"}
        assert record.at_wall.year == 2031
        assert "its contact is open for a proof test" in refused(rig)

        rig.until(rig.chiller_has_power, "the chiller comes back by itself")
        assert rig.cutoff_status()["state"] == "permitting"
        assert not [one for one in rig.status()["alarms"] if one["name"] != "cutoff holds"]

        plant.welded = {CUTOFF}
        with proof_test(rig) as terminal:
            terminal.answer("Open the cutoff's contact now?", "yes")
            assert terminal.close() == 2, terminal.seen
        assert "UNPLUG THE CHILLER" in terminal.seen
        assert [record.outcome for record in on_record(rig)] == ["passed", "failed"]
        rig.until(lambda: "proof test failed" in rig.findings(), "the guard tells of it")
        said = rig.command("status").stdout
        assert "proof test FAILED on 2031-07-14" in said

        _the_guard_dies_in_the_middle(rig)


def _stopped_by_its_own_thermostat_before(rig: Rig, plant: ChillerPlant) -> None:
    with proof_test(rig) as terminal:
        terminal.read_until("Open the cutoff's contact now?")
        plant.cold_enough = True
        rig.until_status(
            lambda: not rig.status()["chiller_feedback"]["running"], "its own thermostat stops it"
        )
        terminal.type("y\n")
        assert terminal.close() == 1, terminal.seen
    assert "meanwhile the running feedback says that the chiller stands" in terminal.seen
    assert rig.pin(CUTOFF) == "1"
    assert on_record(rig) == []
    plant.cold_enough = False
    rig.until_status(lambda: rig.status()["chiller_feedback"]["running"], "it runs again")


def _the_guard_dies_in_the_middle(rig: Rig) -> None:
    rig.until_status(rig.chiller_has_power, "the chiller comes back once more")
    with proof_test(rig) as terminal:
        terminal.answer("Open the cutoff's contact now?", "yes")
        terminal.read_until("nothing is latched")
        rig.end("guard", signal.SIGKILL)
        assert terminal.close() == 1, terminal.seen
    assert "the guard stopped telling what it sees" in terminal.seen
    assert [record.outcome for record in on_record(rig)] == ["passed", "failed", "inconclusive"]


def test_with_a_person_who_looks(tmp_path: Path) -> None:
    """Refused while the chiller stands; seen to stop by a person; then left in the middle of a test."""
    with Rig(tmp_path, SPEED) as rig:
        assert "the guard must be running" in refused(rig)
        # Warm enough to chill, and not warm enough to want it.
        rig.water(26.8)
        rig.cutoff()
        rig.guard()
        rig.until(lambda: rig.status() and rig.cutoff_status(), "both tell how they stand")
        assert "the cutoff's contact is open already" in refused(rig)
        rig.until_status(lambda: rig.cutoff_status()["permits"], "cooling may run")

        with proof_test(rig) as terminal:
            terminal.answer("Shall the guard start it for this test", "n")
            assert terminal.close() == 1
        assert "mend: come back when it runs" in terminal.seen

        with proof_test(rig) as terminal:
            terminal.answer("Shall the guard start it for this test", "y")
            terminal.read_until("Does its compressor run, now?")
            terminal.interrupt()
            assert terminal.close() == 130
        assert "the guard does with the chiller what the water asks for" in terminal.seen
        rig.until(lambda: rig.pins()["chiller"] == "0", "the chiller stops as the water wants it")
        rig.water(27.5)
        rig.until_status(rig.chiller_has_power, "the chiller runs")

        _left_before_anything_was_opened(rig)

        with proof_test(rig) as terminal:
            terminal.answer("Does its compressor run, now?", "y")
            terminal.answer("Open the cutoff's contact now?", "y")
            terminal.read_until("Does its compressor stand still?")
            assert rig.pins()["cutoff"] == "0"
            assert rig.pins()["chiller"] == "1"
            terminal.type("maybe\n")
            terminal.answer("mend: type stands or runs or cannot tell", "sta")
            assert terminal.close() == 0, terminal.seen
        assert [(one.outcome, one.details) for one in on_record(rig)] == [("passed", {"seen_by": "person"})]
        rig.until_status(rig.chiller_has_power, "the chiller comes back by itself")

        with proof_test(rig) as terminal:
            terminal.answer("Does its compressor run, now?", "y")
            terminal.answer("Open the cutoff's contact now?", "y")
            terminal.read_until("Does its compressor stand still?")
            # As a session that is closed does.
            terminal.program.send_signal(signal.SIGTERM)
            assert terminal.close() == 130
        assert on_record(rig)[-1].outcome == "stopped by the person"
        assert "the cutoff closes its contact again by its own rule" in terminal.seen
        assert no_traceback(terminal.seen)
        assert rig.cutoff_status()["cause"] == "proof test"


def _left_before_anything_was_opened(rig: Rig) -> None:
    for asked in [
        [("Does its compressor run, now?", "n")],
        [("Does its compressor run, now?", "y"), ("Open the cutoff's contact now?", "n")],
    ]:
        with proof_test(rig) as terminal:
            for question, answer in asked:
                terminal.answer(question, answer)
            assert terminal.close() == 1
        assert rig.chiller_has_power()
    assert on_record(rig) == []


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (("  cutoff: ", "  cutoff: elsewhere\n  # "), "stop the cutoff's service while the chiller runs"),
        (("status.json", "elsewhere/status.json"), "two cutoffs are meant"),
        (("minimum_on: 2 min", "minimum_on: 2"), "the settings cannot be used"),
    ],
)
def test_what_cannot_be_tested_is_told(tmp_path: Path, change: tuple[str, str], why: str) -> None:
    with Rig(tmp_path) as rig:
        rig.settings(change)
        assert why in refused(rig)


def test_limits_that_cannot_be_used_are_told(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        assert "reefguard cutoff check" in refused(rig, "--limits", str(tmp_path / "none.yaml"))


def test_a_record_that_cannot_be_kept_is_shown(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from reefguard.cli.running_tank import open_tank  # noqa: PLC0415  only this test needs it

    with Rig(tmp_path) as rig:
        tank = open_tank(rig.bench.settings)
        directory = commissioning_log.directory_in(rig.bench.state)
        (directory / commissioning_log.FILE_NAME).unlink()
        directory.rmdir()
        tank.put_on_record("proof test", "cutoff", "passed", "it stood")
    said = capsys.readouterr().err
    assert "could not be put on record" in said
    kept: dict[str, Any] = json.loads(said.splitlines()[-1])
    assert kept["outcome"] == "passed"
