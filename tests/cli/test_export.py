"""`reefguard export`, and the history of a real guard, killed and stopped."""

import csv
import io
import json
import subprocess
import zipfile
from pathlib import Path

import pytest
from bench_rig import DEADLINE_S, Rig, no_traceback

from reefguard.records.history import Series
from reefguard.records.history_reader import HistoryReader, NoHistory

FOREVER = (0.0, 4e9, 1_000_000_000)


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Rig:
    """Return a bench on which a guard was killed, another one stopped."""
    with Rig(tmp_path_factory.mktemp("kept"), speed=300.0) as rig:
        rig.water(27.5)
        guard = rig.guard()
        rig.until(lambda: (rig.bench.state / "history.db").exists() and minutes(rig), "a batch is kept")
        guard.kill()
        guard.wait(DEADLINE_S)
        rig.water(26.0)
        guard = rig.guard()
        rig.until(lambda: seen(rig) == 26.0, "it has seen the water")
        guard.terminate()
        guard.wait(DEADLINE_S)
    return rig


def seen(rig: Rig) -> float | None:
    """Return what the display's probe reads, once it is trusted; the other may be so sooner."""
    display = rig.status().get("probes", {}).get("display", {})
    return None if display.get("water_c") is None else float(display["water_c"])


def minutes(rig: Rig) -> int:
    try:
        past = HistoryReader(rig.bench.state).past(*FOREVER)
    except NoHistory:  # it is being made
        return 0
    return len(past.series.get(Series("display", "water"), ()))


def export(rig: Rig, *options: str) -> subprocess.CompletedProcess[str]:
    said = rig.command("export", "--settings", str(rig.bench.settings), *options)
    assert no_traceback(said.stdout + said.stderr)
    return said


def test_a_killed_guard_loses_its_last_batch_and_a_stopped_one_nothing(kept: Rig) -> None:
    past = HistoryReader(kept.bench.state).past(*FOREVER)
    spans = past.series[Series("display", "water")]
    assert spans[0].mean == 27.5
    assert spans[-1].mean == 26.0
    assert not any(interval.running for interval in past.intervals)
    starts = [span.from_s for span in spans]
    assert starts == sorted(set(starts))
    ran_s = sum(one.until_s - one.from_s for one in past.intervals if one.output == "fan1")
    days = HistoryReader(kept.bench.state).days("2000-01-01", "2100-01-01")
    assert sum(day.ran_s["fan1"] for day in days) == pytest.approx(ran_s, abs=30.0)


def test_a_table_goes_to_standard_output(kept: Rig) -> None:
    said = export(kept, "-", "--last", "9d", "--every", "1m")
    assert said.returncode == 0
    rows = list(csv.DictReader(io.StringIO(said.stdout)))
    assert {row["series"] for row in rows} == {"display", "sump", "room"}
    assert len([row for row in rows if row["series"] == "display"]) == minutes(kept)


def test_a_package_has_everything_and_is_whole_or_not_there(kept: Rig, tmp_path: Path) -> None:
    file = tmp_path / "reef.zip"
    assert export(kept, str(file), "--package", "--last", "9d").returncode == 0
    with zipfile.ZipFile(file) as archive:
        package = json.loads(archive.read("datapackage.json"))
        assert {one["path"] for one in package["resources"]} == set(archive.namelist()) - {"datapackage.json"}
        assert b"started" in archive.read("events.csv")
    assert [path.name for path in tmp_path.iterdir()] == ["reef.zip"]


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (["-", "--package"], "a package is no text"),
        (["/nowhere/reef.csv"], "cannot be written"),
        (["-", "--last", "soon"], "no number of hours or days"),
        (["-", "--from", "2031-02-30"], "no date of the calendar"),
    ],
)
def test_what_cannot_be_done_is_said(kept: Rig, options: list[str], why: str) -> None:
    said = export(kept, *options)
    assert said.returncode == 2
    assert why in said.stderr
    assert said.stdout == ""


def test_without_a_history_it_says_so(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        said = export(rig, "-")
    assert said.returncode == 2
    assert "no guard has run with these settings" in said.stderr
