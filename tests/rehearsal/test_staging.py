"""From a drill and a keeper's files to runs."""

from collections.abc import Iterable
from dataclasses import replace

import pytest
from rehearsed import HOT, LIMITS_TEXT, PLANT, SETTINGS, SETTINGS_TEXT, drill

from reefguard.cutoff.limits import Setup
from reefguard.rehearsal.drills.drill import CUTOFFS, EACH, CutoffMust, Event, Expected, Part, Turn
from reefguard.rehearsal.drills.life import Stage
from reefguard.rehearsal.drills.mistakes import with_mistakes
from reefguard.rehearsal.drills.runs import run, run_all
from reefguard.rehearsal.drills.staging import FIRST, LAST, Circumstances, DrillDoesNotFitError, rows_of
from reefguard.settings.findings import findings
from reefguard.settings.outcome import Accepted
from reefguard.settings.problems import CheckFinding
from reefguard.settings.reading import read


def weigh(accepted: Accepted, setup: Setup | None) -> Iterable[CheckFinding]:
    del setup
    return findings(accepted)


AROUND = Circumstances(SETTINGS_TEXT, LIMITS_TEXT, PLANT, HOT, {}, 1, weigh)
WITHOUT_CHILLER = "\n".join(
    line for line in SETTINGS_TEXT.split("chiller:")[0].splitlines()
) + "\nlights:" + SETTINGS_TEXT.split("lights:")[1]  # fmt: skip


def probe(which: str) -> Event:
    return Event("it", Part.PROBE, Turn.EMPTY, 60.0, which=which)


def test_each_is_a_run_for_every_probe_of_the_guard() -> None:
    rows = rows_of(drill(probe(EACH)), AROUND)
    assert [row.name for row in rows] == ["a drill: display", "a drill: sump"]
    assert [row.drill.events[0].which for row in rows] == ["display", "sump"]


def test_each_is_a_run_for_every_fan() -> None:
    rows = rows_of(drill(Event("it", Part.FAN, Turn.DEAD, 0.0, which=EACH)), AROUND)
    assert [row.drill.events[0].which for row in rows] == ["fan1", "fan2"]


def test_first_and_last_are_names() -> None:
    rows = rows_of(drill(probe(FIRST), probe(LAST), probe(CUTOFFS)), AROUND)
    assert [event.which for event in rows[0].drill.events] == ["display", "sump", CUTOFFS]


def test_a_probe_that_is_not_there_is_named_with_those_that_are() -> None:
    with pytest.raises(DrillDoesNotFitError, match=r"`rear`.*`display`, `sump`"):
        rows_of(drill(probe("rear")), AROUND)


def test_several_tanks_are_rows_of_their_own_and_deviate_differently() -> None:
    rows = rows_of(drill(), replace(AROUND, tanks=3))
    assert [row.name for row in rows] == ["a drill (tank 1)", "a drill (tank 2)", "a drill (tank 3)"]
    stages = [row.stage for row in rows]
    assert all(isinstance(one, Stage) for one in stages)
    volumes = {one.deviation.volume for one in stages if isinstance(one, Stage)}
    assert len(volumes) == 3
    assert all(0.7 <= volume <= 1.3 for volume in volumes)


def test_no_tanks_is_the_tank_as_planned() -> None:
    (row,) = rows_of(drill(), replace(AROUND, tanks=0))
    assert isinstance(row.stage, Stage)
    assert row.stage.deviation.of(PLANT) == PLANT


MISSING = [
    (drill(Event("it", Part.CHILLER, Turn.DEAD, 0.0)), WITHOUT_CHILLER, LIMITS_TEXT, "there is no chiller"),
    (drill(Event("it", Part.CUTOFF, Turn.KILLED, 0.0)), SETTINGS_TEXT, None, "there is no cutoff"),
    (drill(probe(CUTOFFS)), SETTINGS_TEXT, None, "there is no cutoff"),
    (
        replace(drill(), bounds=replace(drill().bounds, cutoff=CutoffMust.TRIP)),
        SETTINGS_TEXT,
        None,
        "there is no cutoff",
    ),
    (
        drill(probe(LAST)),
        SETTINGS_TEXT.replace("  sump: {id: 28-000000000102}\n", ""),
        LIMITS_TEXT,
        "there is one probe only",
    ),
]


@pytest.mark.parametrize(("of", "text", "limits_text", "why"), MISSING)
def test_what_the_settings_do_not_have_is_not_rehearsed(
    of: object, text: str, limits_text: str | None, why: str
) -> None:
    around = replace(AROUND, settings_text=text, limits_text=limits_text)
    (row,) = rows_of(of, around)  # type: ignore[arg-type]  # a drill
    assert row.stage == why
    assert run(row).judgement.outcome.value == "does not apply"


def test_settings_without_a_chiller_are_rehearsed_without_one() -> None:
    (row,) = rows_of(drill(lasts_h=0.5), replace(AROUND, settings_text=WITHOUT_CHILLER))
    result = run(row)
    assert result.record is not None
    assert result.record.starts_s == ()


def test_a_mistake_the_reader_refuses_is_not_run() -> None:
    wrong = replace(drill(), mistakes=(("fans.cut_in", "25 °C"),))
    (row,) = rows_of(wrong, AROUND)
    assert row.said is Expected.REFUSED
    assert run(row).judgement.outcome.value == "FAILED"


def test_a_mistake_that_check_warns_of_is_run_all_the_same() -> None:
    wrong = replace(
        drill(lasts_h=0.1), mistakes=(("chiller.cut_in", "26.65 °C"), ("chiller.cut_out", "26.6 °C"))
    )
    (row,) = rows_of(wrong, AROUND)
    assert row.said is Expected.WARNED
    assert isinstance(row.stage, Stage)
    assert row.stage.settings.chiller is not None
    assert row.stage.settings.chiller.cut.cut_in_c == pytest.approx(26.65)


def test_a_change_that_is_no_mistake_is_said_nothing_of() -> None:
    (row,) = rows_of(replace(drill(), mistakes=(("chiller.minimum_off", "6 min"),)), AROUND)
    assert row.said is None


def test_a_mistake_under_a_value_is_told() -> None:
    with pytest.raises(DrillDoesNotFitError, match="`tank` has no keys under it"):
        rows_of(replace(drill(), mistakes=(("tank.name", "x"),)), AROUND)


def test_a_file_without_mistakes_stays_what_it_was() -> None:
    outcome = read(with_mistakes(SETTINGS_TEXT, ()))
    assert isinstance(outcome, Accepted)
    assert outcome.settings == SETTINGS


def test_runs_on_several_cores_come_out_as_on_one() -> None:
    rows = rows_of(drill(probe(EACH), lasts_h=0.3), AROUND)
    assert dict(run_all(rows, cores=2)) == dict(run_all(rows, cores=1))
