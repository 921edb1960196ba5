"""Every reason can be read aloud."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.control.words import because, explain, span, temperature
from reefguard.settings.model import Unit
from reefguard.vocabulary import Command, Reason, Why

NUMBERED = {
    Reason.WARM,
    Reason.STILL_COOLING,
    Reason.COOL_ENOUGH,
    Reason.NOT_WARM,
    Reason.COLD_WATER,
    Reason.WOULD_HEAT,
}
TIMED = {Reason.AFTER_RUN, Reason.MINIMUM_OFF, Reason.START_TO_START, Reason.MINIMUM_ON}


@pytest.mark.parametrize("reason", Reason)
def test_each_reason_is_a_sentence_with_all_its_numbers(reason: Reason) -> None:
    why = Why(reason, water_c=26.5, limit_c=27.25, until_s=1_200.0, detail="sump")
    sentence = because(why, 1_000.0, Unit.CELSIUS)
    assert len(sentence.split()) >= 4
    assert not sentence.endswith(".")
    assert "{" not in sentence
    if reason in NUMBERED:
        assert "27.25 °C" in sentence
        assert "26.50 °C" in sentence
    if reason in TIMED:
        assert "3 min 20 s" in sentence


def test_each_reason_has_a_sentence_of_its_own() -> None:
    sentences = {because(Why(reason), 0.0, Unit.CELSIUS) for reason in Reason}
    assert len(sentences) == len(Reason)


@pytest.mark.parametrize("reason", Reason)
def test_a_reason_without_its_numbers_still_says_no_none(reason: Reason) -> None:
    sentence = because(Why(reason), 0.0, Unit.FAHRENHEIT)
    assert sentence.strip()
    assert "None" not in sentence


def test_a_held_off_demand_says_both_what_is_wanted_and_what_holds() -> None:
    command = Command(
        "chiller",
        0.0,
        Why(Reason.WARM, 27.5, 27.2, detail="sump"),
        Why(Reason.MINIMUM_OFF, until_s=130.0),
    )
    assert explain(command, 10.0, Unit.CELSIUS) == (
        "wanted (sump reads 27.50 °C, at or above the cut-in of 27.20 °C), "
        "but held off: the compressor rests for another 2 min (minimum off time)"
    )
    cutoff = Why(Reason.CUTOFF_HOLDS, detail="the cutoff has just started; the relay rests for another 295 s")
    said = explain(command._replace(blocked=cutoff), 10.0, Unit.CELSIUS)
    assert said.partition("but ")[2] == (
        "held off: the over-cool cutoff forbids it: "
        "the cutoff has just started; the relay rests for another 295 s"
    )


def test_a_demand_that_is_met_says_only_why() -> None:
    command = Command("fan1", 1.0, Why(Reason.WARM, 27.5, 27.2, detail="sump"))
    assert explain(command, 10.0, Unit.FAHRENHEIT) == (
        "sump reads 81.50 °F, at or above the cut-in of 80.96 °F"
    )


# NIST Special Publication 811 (2008), appendix B.8: t/°C = (t/°F - 32)/1.8.  The fixed points of
# ice and steam are the scale's old definition; the two others are that formula's, worked by hand.
@pytest.mark.parametrize(
    ("celsius", "shown"),
    [
        (0.0, "32.00 °F"),
        (100.0, "212.00 °F"),
        (-40.0, "-40.00 °F"),
        (37.0, "98.60 °F"),
        ((82.0 - 32.0) / 1.8, "82.00 °F"),
        (26.5625, "79.81 °F"),
    ],
)
def test_fahrenheit_is_that_of_nist(celsius: float, shown: str) -> None:
    assert temperature(celsius, Unit.FAHRENHEIT) == shown


@settings(deadline=None)
@given(st.integers(32_00, 122_00))
def test_fahrenheit_comes_back_as_it_went_in(hundredths_f: int) -> None:
    fahrenheit = hundredths_f / 100.0
    assert temperature((fahrenheit - 32.0) / 1.8, Unit.FAHRENHEIT) == f"{fahrenheit:.2f} °F"


def test_celsius_is_shown_as_it_is() -> None:
    assert temperature(26.0625, Unit.CELSIUS) == "26.06 °C"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (-1.0, "0 s"),
        (0.0, "0 s"),
        (0.4, "0 s"),
        (1.0, "1 s"),
        (59.4, "59 s"),
        (59.6, "1 min"),
        (60.0, "1 min"),
        (61.0, "1 min 1 s"),
        (3_599.0, "59 min 59 s"),
        (3_600.0, "1 h"),
        (3_659.0, "1 h"),
        (3_660.0, "1 h 1 min"),
        (90_000.0, "25 h"),
    ],
)
def test_spans_have_at_most_two_units(seconds: float, words: str) -> None:
    assert span(seconds) == words
