"""`reefguard plan --ask`: the interview, as a keeper answers it."""

import re
import sys
from pathlib import Path

import click
import pytest
from bench_rig import no_traceback
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from on_terminal import Terminal

from reefguard.cli import plan_interview
from reefguard.cli.plan_questions import GROUPS, NAME
from reefguard.settings.declaration import Field
from reefguard.settings.fields import every_key
from reefguard.settings.model import SafeBand, Unit
from reefguard.settings.plan_fields import PLAN_FILE
from reefguard.settings.plan_model import ChillerPlace, Over, Switch, SwitchPlan, TankPlan
from reefguard.settings.plan_reading import AcceptedPlan, read_plan

# More than there are questions: an answer left out is the one in brackets.
ENTER = "\n" * 100


def asked(*answers: str, rest: str = ENTER) -> tuple[Result, TankPlan | None]:
    """Return what was said, and the plan; after `answers`, each question is answered with Enter."""
    made: list[TankPlan] = []

    @click.command()
    def ask() -> None:
        made.append(plan_interview.interview())

    result = CliRunner().invoke(ask, input="".join(f"{answer}\n" for answer in answers) + rest, color=True)
    return result, made[0] if made else None


def plan_of(*answers: str) -> TankPlan:
    result, plan = asked(*answers)
    assert plan is not None, result.output
    return plan


def kept(file: Path) -> TankPlan:
    outcome = read_plan(file.read_bytes())
    assert isinstance(outcome, AcceptedPlan), outcome
    return outcome.plan


def questions_before_the_last() -> int:
    """Return how many questions a keeper is asked who answers each with Enter."""
    return len(re.findall(r"(?:\]|\(Enter: [^)]*\)|measured\)): ", asked()[0].output)) - 1


UNITS, NAMED = "C", "the reef"
DISPLAY = ("120 cm", "50 cm", "55 cm", "glass", "10 mm", "0 %", "rippled")
NO_SUMP, NO_STAND = "n", "n"
BEFORE_VOLUME = (UNITS, NAMED, *DISPLAY, NO_SUMP, NO_STAND)
WATER = ("297 L", "35", "")


def test_enter_to_everything_is_a_plan() -> None:
    plan = plan_of()
    assert (plan.tank, plan.litres, plan.shown_in) == ("the reef", 297.0, Unit.CELSIUS)
    assert plan.safe_band == SafeBand(24.0, 27.8)
    assert (plan.sump, plan.stand, plan.switch, plan.price) == (None, None, None, None)


def test_enter_to_everything_in_american_units_is_a_plan() -> None:
    plan = plan_of("f")
    assert plan.shown_in is Unit.FAHRENHEIT
    assert plan.display.length_m == pytest.approx(48 * 0.0254)
    assert plan.litres == pytest.approx(78 * 3.785411784)  # nine tenths of 48 x 20 x 21 / 231 gal
    assert plan.hold_c == pytest.approx((79 - 32) / 1.8)


def test_a_yes_to_everything_asks_for_everything() -> None:
    result, plan = asked(
        *(UNITS, NAMED, *DISPLAY, "y", "80 cm", "40 cm", "25 cm", "y", "20 m3/h"),
        *("340 L", "35 ppt", "2.4 L/day", "24 °C", "27.5 °C", "26 °C"),
        *("200 W", "09:00", "21:00", "50 W", "3", "2 m/s", "4 W", "sump"),
        *("y", "1/4 hp", "stand", "2.1 A", "y", "contactor", "16 A", "y", "150 W", "25 °C"),
        *("40 m3", "1 /h", "20 °C", "35 °C", "24 °C", "50 %", "0.32 EUR/kWh", ""),
        rest="",
    )
    assert plan is not None, result.output
    assert plan.sump is not None
    assert plan.stand is not None
    assert (plan.litres, plan.sump.depth_m, plan.stand.vented_m3_h) == (340.0, 0.25, 20.0)
    assert (plan.fans.count, plan.fans.over, plan.chiller.from_label_hp) == (3, Over.SUMP, True)
    assert (plan.chiller.place, plan.chiller.running_current_a) == (ChillerPlace.STAND, 2.1)
    assert plan.switch == SwitchPlan(Switch.CONTACTOR, 16.0)
    assert (plan.room.heated_to_c, plan.measured_topoff_l_day) == (20.0, 2.4)
    assert plan.price is not None


def test_a_wrong_answer_is_explained_as_the_file_reader_does_and_asked_again() -> None:
    result, plan = asked(UNITS, NAMED, "120 kg", "1,2 m", "-5 cm", "130 cm")
    assert "120 kg: `kg` is no unit of a length\n  mend: write `120 cm`" in result.output
    assert "1,2 m: a decimal comma" in result.output
    assert "-5 cm: below 5 cm: no tank is so small" in result.output
    assert plan is not None
    assert plan.display.length_m == 1.3


def test_a_bare_number_is_taken_in_the_unit_in_brackets_and_that_is_said() -> None:
    result, plan = asked(UNITS, NAMED, "130")
    assert "taken as 130 cm" in result.output
    assert plan is not None
    assert plan.display.length_m == 1.3


def test_a_bare_number_that_was_meant_in_the_other_scale_is_noticed() -> None:
    result, plan = asked(*BEFORE_VOLUME, *WATER, "75", "75 °F", "82 F")
    assert "taken as 75 °C" in result.output
    assert "did you mean `75 °F` (23.9 °C)?" in result.output
    assert plan is not None
    assert plan.safe_band.high_c == pytest.approx((82 - 32) / 1.8)


def test_a_bare_number_where_no_unit_is_suggested_is_asked_again() -> None:
    result, plan = asked(*BEFORE_VOLUME, "297 L", "35", "2.4", "2.4 L/day")
    assert "2.4: a bare number; its unit is missing\n  mend: write `2.4 L/day`" in result.output
    assert plan is not None
    assert plan.measured_topoff_l_day == 2.4


def test_answers_that_do_not_fit_each_other_are_asked_again_together() -> None:
    result, plan = asked(*BEFORE_VOLUME, *WATER, "24 °C", "23 °C", "26 °C", "22 °C", "", "22.5 °C")
    assert "24 °C: not below `safe_band.high` (23 °C)\n" in result.output
    assert "The warmest [23 °C]:" in result.output
    assert plan is not None
    assert (plan.safe_band, plan.hold_c) == (SafeBand(22.0, 23.0), 22.5)


def test_a_volume_the_sizes_cannot_hold_is_told_at_once() -> None:
    result, plan = asked(*BEFORE_VOLUME, "3400 L", "35", "", "300 L")
    assert "3400 L: that does not fit the sizes: display 120 cm x 50 cm x 55 cm holds 330 L" in result.output
    assert "Its temperature" not in result.output.partition("does not fit")[0]
    assert plan is not None
    assert plan.litres == 300.0


def test_a_chiller_in_a_stand_that_is_not_there_is_told() -> None:
    until = (*BEFORE_VOLUME, *WATER, "", "", "", "", "", "", "", "", "", "", "y", "500 W", "stand", "")
    result, plan = asked(*until, "500 W", "outside")
    assert "stand: there is no stand in this plan" in result.output
    assert plan is not None
    assert plan.chiller.place is ChillerPlace.OUTSIDE


@pytest.mark.parametrize("name", ["\x1b[2J", "x" * 61, "\udcff"])
def test_a_name_that_is_no_line_of_text_is_refused_and_cannot_write_on_the_screen(name: str) -> None:
    text = name.encode(errors="surrogateescape").decode(errors="replace")
    result, plan = asked(UNITS, text, "mine")
    assert plan is not None
    assert "\x1b" not in result.output.replace(f": {text}\n", "")  # what the terminal itself echoes


@pytest.mark.parametrize("answers", [(), (UNITS, NAMED, "120 cm")])
def test_the_end_of_the_input_ends_it_quietly(answers: tuple[str, ...]) -> None:
    result, plan = asked(*answers, rest="")
    assert plan is None
    assert result.exit_code == 130
    assert result.output.endswith("stopped; nothing was planned, and nothing was written\n")


def test_the_answers_are_kept_in_a_file_that_says_the_same(tmp_path: Path) -> None:
    file = tmp_path / "tank.yaml"
    result, plan = asked(*[""] * questions_before_the_last(), str(file), rest="")
    assert plan is not None
    assert f"kept in {file}" in result.output
    assert kept(file) == plan


def last_answered(monkeypatch: pytest.MonkeyPatch, *answers: str) -> tuple[Result, TankPlan | None]:
    """Return an interview about a usual tank whose last question is answered so."""
    said = {
        question.key: question.usual
        for group in (NAME, *GROUPS)
        for question in group.questions
        if question.usual and not group.first and question.key != "fans.over"
    }
    monkeypatch.setattr(plan_interview, "ask", lambda: said)
    return asked(*answers, rest="")


def test_a_file_that_is_there_is_replaced_only_when_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "tank.yaml"
    file.write_text("mine\n")
    result, plan = last_answered(monkeypatch, str(file), "n", "")
    assert plan is not None, result.output
    assert file.read_text() == "mine\n"
    result, plan = last_answered(monkeypatch, str(file), "y")
    assert kept(file) == plan


@pytest.mark.parametrize("name", ["/", ".", "nowhere/tank.yaml", "x" * 300, "a\0b"])
def test_a_file_that_cannot_be_is_told_and_asked_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.chdir(tmp_path)
    result, plan = (
        last_answered(monkeypatch, name, "y", "") if name in "/." else (last_answered(monkeypatch, name, ""))
    )
    assert plan is not None, result.output
    assert "cannot be written: " in result.output
    assert list(tmp_path.iterdir()) == []


def test_every_question_goes_to_a_key_and_suggests_what_can_be_read() -> None:
    kinds = {key: part.kind for key, part in every_key(PLAN_FILE) if isinstance(part, Field)}
    questions = [question for group in (NAME, *GROUPS) for question in group.questions]
    assert len({question.key for question in questions}) == len(questions)
    for question in questions:
        assert question.key in kinds, question
    required = {key for key, part in every_key(PLAN_FILE) if isinstance(part, Field) and part.required}
    optional_sections = ("sump.", "switch.", "electricity.")
    asked_keys = {question.key for question in questions}
    assert {key for key in required if not key.startswith(optional_sections)} <= asked_keys


names = st.text(st.characters(codec="utf-8"), min_size=1, max_size=60)


@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(
    names.filter(lambda name: name.strip() == name and name.isprintable()),
    st.integers(60, 300),
    st.sampled_from(["cm", "in"]),
    st.floats(24.0, 27.0).map(lambda value: f"{value:.2f} °C") | st.integers(76, 81).map(lambda f: f"{f} °F"),
)
def test_what_was_said_is_what_is_planned_and_kept(
    tmp_path_factory: pytest.TempPathFactory, name: str, length: int, unit: str, hold: str
) -> None:
    """Any name a keeper may give, and sizes and temperatures in either unit."""
    file = tmp_path_factory.mktemp("kept") / "tank.yaml"
    said = (UNITS, name, f"{length} {unit}", *DISPLAY[1:], NO_SUMP, NO_STAND, "", "", "", "", "", hold)
    result, plan = asked(*said, *[""] * (questions_before_the_last() - len(said)), str(file), rest="")
    assert plan is not None, result.output
    assert plan.tank == name
    assert plan.display.length_m == pytest.approx(length * (0.01 if unit == "cm" else 0.0254))
    assert kept(file) == plan


_PROGRAM = """
import click
from reefguard.cli.plan_interview import interview
click.command()(lambda: print("planned", interview().litres, "L"))()
"""
ASK = (sys.executable, "-c", _PROGRAM)


def test_on_a_terminal_it_asks_and_plans(tmp_path: Path) -> None:
    terminal = Terminal(*ASK)
    terminal.read_until("(write F)? [C]:")
    terminal.type("C\n")
    terminal.read_until("[the reef]:")
    terminal.type("Ann's reef\n")
    terminal.read_until("Length [120 cm]:")
    terminal.type("130\n")
    terminal.read_until("taken as 130 cm")
    file = tmp_path / "tank.yaml"
    terminal.type("\n" * (questions_before_the_last() - 3))
    terminal.read_until("Its name (Enter: no): ")
    terminal.type(f"{file}\n")
    assert terminal.close() == 0
    assert "planned" in terminal.seen
    assert kept(file).tank == "Ann's reef"
    assert no_traceback(terminal.seen)


def test_an_interrupt_on_a_terminal_ends_it_quietly() -> None:
    with Terminal(*ASK) as terminal:
        terminal.read_until("(write F)? [C]:")
        terminal.interrupt()
        assert terminal.close() == 130
    assert "stopped; nothing was planned" in terminal.seen
    assert no_traceback(terminal.seen)
