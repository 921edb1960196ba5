"""What the cutoff says: every state and every answer, in the unit of its limits file."""

from pathlib import Path

import pytest

from reefguard.cutoff import words
from reefguard.cutoff.ds18b20 import Failed, Fault, Measured, Sample
from reefguard.cutoff.limits import Setup, read
from reefguard.cutoff.quantities import written_span
from reefguard.cutoff.status import Outcome, document, publish, read_status, stopped
from reefguard.cutoff.trip import Answer, Cause, Cutoff, HeldOff, Hold, Permitting, Tripped, at_start, step


def made(limit: str = "24.5 °C") -> Setup:
    outcome = read(f"probe: 28-000000000201\nrelay: {{pin: GPIO23, polarity: active high}}\nlimit: {limit}\n")
    assert isinstance(outcome, Setup)
    return outcome


SETUP = made()


def lived(*readings: tuple[float, float], start: Cutoff | None = None) -> Cutoff:
    """Return a cutoff that was told readings, each after some seconds."""
    cutoff = start or at_start(None, now_s=0.0)
    for wait_s, water_c in readings:
        cutoff, _ = step(
            cutoff,
            sample=Measured(water_c),
            reset_requested=False,
            now_s=cutoff.seen_s + wait_s,
            limits=SETUP.limits,
        )
    return cutoff


def in_state(state: HeldOff | Permitting | Tripped, *readings: tuple[float, float]) -> Cutoff:
    return lived(*readings)._replace(state=state)


SENTENCES = {
    "starting, nothing read": (
        lived(),
        None,
        (
            "cooling is held off: the cutoff has just started; no good reading (the probe is silent); "
            "it must stay at 25.00 °C or above for 60 s"
        ),
    ),
    "starting, resting": (
        lived((5.0, 25.5)),
        None,
        "cooling is held off: the cutoff has just started; the relay rests for another 295 s",
    ),
    "starting, proving": (
        lived((300.0, 25.5), (20.0, 25.5625)),
        None,
        (
            "cooling is held off: the cutoff has just started; "
            "the water must stay at 25.00 °C or above for another 40 s"
        ),
    ),
    "proven, but not by a fresh reading": (
        lived((5.0, 25.5), (55.0, 25.0), (55.0, 25.0625))._replace(seen_s=310.0, off_since_s=0.0),
        None,
        "cooling is held off: the cutoff has just started; it takes one more good reading",
    ),
    "probe lost": (
        in_state(HeldOff(Hold.PROBE_LOST)),
        Failed(Fault.CRC),
        (
            "cooling is held off: its probe gave no good reading for too long; "
            "no good reading (the checksum does not match: the line is disturbed); "
            "it must stay at 25.00 °C or above for 60 s"
        ),
    ),
    "reset": (
        in_state(HeldOff(Hold.RESET), (5.0, 24.75)),
        Measured(24.75),
        (
            "cooling is held off: it has been reset; the water is 24.75 °C, above the limit of 24.50 °C; "
            "it must stay at 25.00 °C or above for 60 s"
        ),
    ),
    "clock": (
        in_state(HeldOff(Hold.CLOCK), (5.0, 24.5)),
        Measured(24.5),
        (
            "cooling is held off: the clock ran backwards; the water is 24.50 °C, at or below the limit of "
            "24.50 °C; it must stay at 25.00 °C or above for 60 s"
        ),
    ),
    "permitting": (
        in_state(Permitting(), (5.0, 26.0)),
        Measured(26.0),
        "cooling may run: the water is 26.00 °C, above the limit of 24.50 °C",
    ),
    "permitting, frozen": (
        in_state(Permitting(), (5.0, 26.0))._replace(seen_s=86_405.0),
        Measured(26.0),
        "cooling may run: no good reading (the probe has repeated one value for too long)",
    ),
    "too cold": (
        in_state(Tripped(Cause.TOO_COLD, 24.3125)),
        None,
        (
            "cooling is held off until a person resets it: "
            "the water was 24.31 °C, at or below the limit of 24.50 °C"
        ),
    ),
    "too cold, reading unknown": (
        in_state(Tripped(Cause.TOO_COLD)),
        None,
        "cooling is held off until a person resets it: the water was at or below the limit of 24.50 °C",
    ),
    "too many releases": (
        in_state(Tripped(Cause.TOO_MANY_RELEASES))._replace(losses_s=(1.0, 2.0, 3.0, 4.0)),
        None,
        "cooling is held off until a person resets it: its probe was lost 4 times in 24 h",
    ),
    "latch unreadable": (
        in_state(Tripped(Cause.LATCH_UNREADABLE)),
        None,
        (
            "cooling is held off until a person resets it: its latch file is missing or damaged, "
            "so whether it had tripped is not known"
        ),
    ),
}


@pytest.mark.parametrize(("cutoff", "latest", "said"), SENTENCES.values(), ids=SENTENCES.keys())
def test_each_state_in_words(cutoff: Cutoff, latest: Sample | None, said: str) -> None:
    assert words.sentence(cutoff, latest, SETUP) == said


def test_fahrenheit_for_who_reads_fahrenheit() -> None:
    cutoff = in_state(Permitting(), (5.0, 25.0))
    said = words.sentence(cutoff, Measured(25.0), made("76 °F"))
    assert said == "cooling may run: the water is 77.0 °F, above the limit of 76.0 °F"


ANSWERS = {
    "accepted": (
        Answer.ACCEPTED,
        (
            "reset: cooling may run once the water has stayed at 25.00 °C or above for 60 s "
            "and the relay has rested for 5 min"
        ),
    ),
    "not tripped": (
        Answer.NOT_TRIPPED,
        "there is no trip to reset: cooling may run: the water is 24.75 °C, above the limit of 24.50 °C",
    ),
    "not recovered": (
        Answer.NOT_RECOVERED,
        (
            "not reset: the water is 24.75 °C, above the limit of 24.50 °C, and must first reach 25.00 °C; "
            "find out what cooled it, let it warm up, then reset again"
        ),
    ),
}


@pytest.mark.parametrize(("answer", "said"), ANSWERS.values(), ids=ANSWERS.keys())
def test_each_answer_in_words(answer: Answer, said: str) -> None:
    assert words.answer_sentence(answer, in_state(Permitting(), (5.0, 24.75)), None, SETUP) == said


def test_a_reset_without_a_reading_in_words() -> None:
    said = words.answer_sentence(Answer.NO_GOOD_READING, lived(), Failed(Fault.ABSENT), SETUP)
    assert said == (
        "not reset: no good reading (there is no such probe on the 1-wire bus); "
        "find out why, then reset again"
    )


@pytest.mark.parametrize(
    ("span_s", "said"),
    [(0.0, "0 s"), (0.1, "1 s"), (119.0, "119 s"), (120.0, "2 min"), (3600.0, "60 min"), (7200.0, "2 h")],
)
def test_spans_in_words(span_s: float, said: str) -> None:
    assert written_span(span_s) == said


def said_of(cutoff: Cutoff, last_reset: Outcome | None = None) -> dict[str, object]:
    return document(
        cutoff, latest=None, setup=SETUP, boot_id="boot", last_reset=last_reset, faults=["a fault"]
    )


@pytest.mark.parametrize(("cutoff", "latest", "said"), SENTENCES.values(), ids=SENTENCES)
def test_beside_the_states_name_nothing_is_said_twice(
    cutoff: Cutoff, latest: Sample | None, said: str
) -> None:
    beside = f"{words.state_name(cutoff)}: {words.grounds(cutoff, latest, SETUP)}"
    assert said.partition(": ")[2] in beside
    assert "cooling" not in beside
    assert beside.count("held off") == isinstance(cutoff.state, HeldOff)
    assert ("a person must reset it" in beside) == isinstance(cutoff.state, Tripped)


def test_the_status_of_a_cutoff_that_permits() -> None:
    cutoff = in_state(Permitting(), (5.0, 26.0))._replace(losses_s=(1.0,))
    assert said_of(cutoff) == {
        "schema": "reefguard.cutoff/1",
        "state": "permitting",
        "permits": True,
        "why": "the water is 26.00 °C, above the limit of 24.50 °C",
        "cause": None,
        "water_c": 26.0,
        "limit_c": 24.5,
        "recovery_c": 25.0,
        "boot_id": "boot",
        "written_s": 5.0,
        "since_s": 0.0,
        "self_releases": 1,
        "proof_test_since_s": None,
        "last_reset": None,
        "last_test": None,
        "faults": ["a fault"],
    }


@pytest.mark.parametrize(
    ("state", "name", "cause"),
    [
        (HeldOff(Hold.PROBE_LOST), "held off", "probe lost"),
        (Tripped(Cause.TOO_COLD, 24.0), "tripped", "too cold"),
    ],
)
def test_the_status_of_a_cutoff_that_does_not(state: HeldOff | Tripped, name: str, cause: str) -> None:
    status = said_of(in_state(state), Outcome(False, "no", "alex", "r1"))
    assert (status["state"], status["permits"], status["cause"]) == (name, False, cause)
    assert status["last_reset"] == {"accepted": False, "why": "no", "who": "alex", "request": "r1"}


def test_an_old_reading_is_not_in_the_status() -> None:
    assert said_of(lived((5.0, 26.0))._replace(seen_s=64.9))["water_c"] == 26.0
    assert said_of(lived((5.0, 26.0))._replace(seen_s=65.0))["water_c"] is None


def test_a_stopped_cutoff_permits_nothing() -> None:
    status = stopped(said_of(in_state(Permitting(), (5.0, 26.0))))
    assert (status["state"], status["permits"], status["water_c"]) == ("stopped", False, 26.0)


def test_the_status_is_for_everybody_to_read(tmp_path: Path) -> None:
    assert publish(tmp_path, said_of(lived())) is None
    assert read_status(tmp_path) == said_of(lived())
    assert (tmp_path / "status.json").stat().st_mode & 0o777 == 0o644
    assert [path.name for path in tmp_path.iterdir()] == ["status.json"]


@pytest.mark.parametrize("content", ["", "[]", '{"schema": "reefguard.guard/1"}'])
def test_what_is_no_status_is_not_taken_for_one(tmp_path: Path, content: str) -> None:
    (tmp_path / "status.json").write_text(content, encoding="utf-8")
    with pytest.raises(ValueError, match=r"no status|Expecting"):
        read_status(tmp_path)


def test_a_status_that_cannot_be_written_is_said_in_words() -> None:
    said = publish(Path("/nowhere"), said_of(lived()))
    assert said == "the status file cannot be written (No such file or directory)"
