"""`reefguard plan`, as a keeper calls it: real files, a real process."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from bench_rig import no_traceback


def plan(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    said = subprocess.run(
        [sys.executable, "-m", "reefguard", "plan", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
    )
    assert no_traceback(said.stdout + said.stderr)
    return said


@pytest.fixture
def example(tmp_path: Path) -> Path:
    """Return a file with the example the command prints."""
    said = plan("--example")
    assert said.returncode == 0
    file = tmp_path / "tank.yaml"
    file.write_text(said.stdout, encoding="utf-8")
    return file


def test_the_example_is_planned_and_the_verdict_stands_first(example: Path) -> None:
    said = plan(example)
    assert said.returncode == 0, said.stderr
    assert said.stderr == ""
    lines = said.stdout.splitlines()
    assert lines[0].startswith("Plan for ")
    assert max(map(len, lines)) <= 80
    verdict = " ".join(lines[2:8])
    assert "fans" in verdict.lower()


def test_as_json_it_is_one_document(example: Path) -> None:
    said = plan(example, "--json")
    assert said.returncode == 0, said.stderr
    document = json.loads(said.stdout)
    assert document["schema"] == "reefguard.plan/1"
    assert document["nothing"]["peak_c"] > 20.0


def test_the_page_is_written_beside_the_text(example: Path, tmp_path: Path) -> None:
    page = tmp_path / "plan.html"
    said = plan(example, "--html", page)
    assert said.returncode == 0, said.stderr
    assert said.stdout.startswith("Plan for ")
    assert page.read_text(encoding="utf-8").count("<svg") == 2
    assert sorted(file.name for file in tmp_path.iterdir()) == ["plan.html", "tank.yaml"]


def test_a_page_that_cannot_be_written_is_told(example: Path, tmp_path: Path) -> None:
    said = plan(example, "--html", tmp_path / "nowhere" / "plan.html")
    assert said.returncode == 2
    assert "cannot be written" in said.stderr


def test_without_a_file_it_says_what_to_give() -> None:
    said = plan()
    assert said.returncode == 2
    assert "--example" in said.stderr
    assert "--ask" in said.stderr


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    said = plan(tmp_path / "none.yaml")
    assert said.returncode == 2
    assert "cannot be read" in said.stderr


def test_all_that_is_wrong_with_a_file_is_told_with_its_line(example: Path) -> None:
    example.write_text(example.read_text(encoding="utf-8") + "\ncolour: blue\n", encoding="utf-8")
    said = plan(example)
    assert said.returncode == 2
    assert "colour" in said.stderr
    assert "line " in said.stderr
    assert "nothing was planned" in said.stderr


def test_a_measured_top_off_calibrates(example: Path) -> None:
    said = plan(example, "--measured-topoff", "3 L/day", "--json")
    assert said.returncode == 0, said.stderr
    document = json.loads(said.stdout)
    assert document["nothing"]["evaporation_l_day"] == pytest.approx(3.0, rel=0.01)
    assert document["calibration"]["uncertainty"] == 0.1


@pytest.mark.parametrize("written", ["2.4", "2,4 L/day", "2.4 L", "-1 L/day", "0 L/day", "much"])
def test_a_top_off_without_sense_is_refused_with_a_way_to_mend_it(example: Path, written: str) -> None:
    said = plan(example, f"--measured-topoff={written}")
    assert said.returncode == 2
    assert "mend: " in said.stderr
    assert written in said.stderr
