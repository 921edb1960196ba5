"""`reefguard report`, as a keeper calls it: a real process on real records of an invented past."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from bench_rig import no_traceback
from click.testing import CliRunner, Result
from invented_records import write_records
from quiet_fortnight import quiet_fortnight

import reefguard.cli.report

SETTINGS = """\
tank: the reef by the stairs
state_directory: {state}
safe_band: {{low: 24.0 °C, high: 27.0 °C}}
water_probes:
  display: {{id: 28-000000000101}}
  sump: {{id: 28-000000000102}}
fans:
  cut_in: 26.0 °C
  cut_out: 25.6 °C
  units:
    fan1: {{pin: GPIO17, polarity: active high, contact: normally open, at_rest: stopped}}
    fan2: {{pin: GPIO27, polarity: active high, contact: normally open, at_rest: stopped}}
chiller:
  pin: GPIO22
  cut_in: 26.5 °C
  cut_out: 26.0 °C
  minimum_off: 5 min
lights: {{on: 10:00, off: 20:00, after_run: 60 min}}
"""
WEEK = ("--from", "2025-09-01", "--to", "2025-09-07")


@pytest.fixture(scope="module")
def fortnight(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a state directory that holds the fortnight."""
    state = tmp_path_factory.mktemp("fortnight")
    invented, settings = quiet_fortnight()
    write_records(state, invented, settings.safe_band)
    return state


@pytest.fixture
def settings(tmp_path: Path, fortnight: Path) -> Path:
    """Return settings whose state directory holds the fortnight."""
    state = tmp_path / "state"
    shutil.copytree(fortnight, state)
    file = tmp_path / "reefguard.yaml"
    file.write_text(SETTINGS.format(state=state), encoding="utf-8")
    return file


def history_of(settings: Path) -> Path:
    return settings.parent / "state" / "history.db"


def report(
    settings: Path, *arguments: str | Path, zone: str = "Europe/Rome"
) -> subprocess.CompletedProcess[str]:
    said = subprocess.run(
        [sys.executable, "-m", "reefguard", "report", "--settings", str(settings), *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
        env={**os.environ, "TZ": zone},
    )
    assert no_traceback(said.stdout + said.stderr)
    return said


def in_process(settings: Path, *arguments: str) -> Result:
    """Call the command without a process of its own: quicker, for what differs in a word only."""
    return CliRunner().invoke(reefguard.cli.report.report, ["--settings", str(settings), *arguments])


def test_the_week_is_told_and_drawn(settings: Path, tmp_path: Path) -> None:
    page = tmp_path / "week.html"
    said = report(settings, *WEEK, "--html", page, "--usual-highest", "26 °C")
    assert said.returncode == 0, said.stderr
    lines = said.stdout.splitlines()
    assert lines[0] == "the reef by the stairs: Mon 1 Sep to Sun 7 Sep 2025"
    assert "Degree heating weeks" in said.stdout
    assert "water high" in said.stdout
    assert max(map(len, lines)) <= 80
    assert page.read_text(encoding="utf-8").count("<svg") == 2
    assert sorted(one.name for one in tmp_path.iterdir()) == ["reefguard.yaml", "state", "week.html"]


def test_as_json_it_is_one_document(settings: Path) -> None:
    said = report(settings, *WEEK, "--json")
    assert said.returncode == 0, said.stderr
    document = json.loads(said.stdout)
    assert document["from"] == "2025-09-01T00:00:00+02:00"
    assert document["until"] == "2025-09-08T00:00:00+02:00"
    assert [one["raised"] for one in document["alarms"]] == [7, 1]


def test_what_ran_at_the_beginning_did_not_start_there(settings: Path) -> None:
    said = report(settings, "--from", "2025-09-02 12:00", "--to", "2025-09-02 15:00", "--json")
    assert said.returncode == 0, said.stderr
    fan1, *_ = json.loads(said.stdout)["outputs"]
    assert (fan1["ran_s"], fan1["starts"], fan1["shortest_run_s"]) == (10_800.0, 0, None)


def test_a_moment_is_by_the_keepers_clock_or_by_its_own_offset(settings: Path) -> None:
    pairs = (("2025-09-02 18:00", "2025-09-03 09:00"), ("2025-09-02T16:00Z", "2025-09-03T07:00+00:00"))
    first, second = (report(settings, "--from", a, "--to", b, "--json") for a, b in pairs)
    assert first.returncode == 0, first.stderr
    assert first.stdout == second.stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--from", "2026-02-30"), "it is no date of the calendar"),
        (("--from", "yesterday"), "it is no date of the calendar"),
        (("--from", "99999-01-01 00:00"), "it is no date of the calendar"),
        (("--from", "2025-09-03", "--to", "2025-09-02"), "not later than"),
        (("--from", "9000-01-01"), "it has not been yet"),
        (("--from", "0001-01-01"), ""),
        (("--from", "1990-01-01"), "more than ten years"),
        (("--to", "2025-09-03"), "--to alone"),
        (("--last", "7d", "--from", "2025-09-03"), "--last ends now"),
        (("--last", "a week"), "no number of hours or days"),
        (("--last", "0d"), "no number of hours or days"),
        (("--last", "9999d"), "more than ten years"),
        (("--usual-highest", "26", *WEEK), "--usual-highest 26"),
    ],
)
def test_what_cannot_be_taken_is_told_with_how_to_mend_it(
    settings: Path, arguments: tuple[str, ...], said: str
) -> None:
    told = in_process(settings, *arguments)
    assert told.exit_code == 2
    assert said in told.stderr
    assert "mend:" in told.stderr


@pytest.mark.parametrize("arguments", [("--from", "2025-09-03", "--to", "2999-12-31"), ("--last", "3650d")])
def test_what_has_not_been_yet_or_was_long_ago_is_only_not_known(
    settings: Path, arguments: tuple[str, ...]
) -> None:
    assert in_process(settings, *arguments).exit_code == 0


def test_a_wrong_date_never_shows_a_traceback(settings: Path) -> None:
    said = report(settings, "--from", "2025-02-30")
    assert said.returncode == 2
    assert said.stderr.splitlines()[0] == "--from 2025-02-30"


def test_of_an_empty_time_it_says_so_and_ends_with_1(settings: Path) -> None:
    said = report(settings, "--from", "2020-01-01", "--to", "2020-01-02")
    assert said.returncode == 1
    assert "Nothing is known of this time" in said.stdout.replace("\n  ", " ")


def test_without_a_history_it_tells_what_the_events_know_and_says_what_is_missing(settings: Path) -> None:
    history_of(settings).unlink()
    said = report(settings, *WEEK)
    assert said.returncode == 0, said.stderr
    told = said.stdout.replace("\n  ", " ")
    assert "The history cannot be told: " in told
    assert "history.db is not there" in "".join(told.split("\n"))
    assert "water high" in told
    assert "0 min" not in told.partition("ALARMS")[0]


def test_without_history_and_events_it_says_which_and_ends_with_1(settings: Path) -> None:
    (settings.parent / "state" / "events.db").unlink()
    history_of(settings).unlink()
    said = report(settings, *WEEK)
    assert said.returncode == 1
    assert "history.db is not there" in said.stderr
    assert "events.db is not there" in said.stderr
    assert said.stdout == ""


def test_events_that_are_no_database_do_not_hide_the_history(settings: Path) -> None:
    (settings.parent / "state" / "events.db").write_bytes(b"no database at all, by any means" * 40)
    said = report(settings, *WEEK)
    assert said.returncode == 0, said.stderr
    told = said.stdout.replace("\n  ", " ")
    assert "The events cannot be told" in told
    assert "27.7 °C at its hottest" in told


def test_a_page_that_cannot_be_written_is_told(settings: Path, tmp_path: Path) -> None:
    said = report(settings, *WEEK, "--html", tmp_path / "nowhere" / "week.html")
    assert said.returncode == 2
    assert "cannot be written" in said.stderr
    assert "mend:" in said.stderr
    assert report(settings, *WEEK, "--html", tmp_path).returncode == 2


def test_settings_that_cannot_be_read_are_told(settings: Path) -> None:
    settings.write_text("tank: [", encoding="utf-8")
    said = report(settings, *WEEK)
    assert said.returncode == 2
    assert "nothing was told" in said.stderr
    assert report(settings.parent / "none.yaml", *WEEK).returncode == 2
