"""`reefguard check`, as a person runs it."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from settings_files import SHORTEST, WHOLE, changed, with_keys

from reefguard.cli.check import check

LIMITS = """\
probe: 28-0000000001ff
relay: {pin: GPIO23, polarity: active high}
limit: 25.0 °C
"""


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(check, [str(argument) for argument in arguments])


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "reefguard.yaml"
    path.write_text(WHOLE, encoding="utf-8")
    return path


def test_a_sound_file_ends_with_0(file: Path) -> None:
    result = run(file)
    assert (result.exit_code, result.output) == (0, f"{file}: no problems, no findings.\n")


def test_findings_end_with_1(file: Path) -> None:
    file.write_text(with_keys({"chiller.start_to_start": "none"}), encoding="utf-8")
    result = run(file)
    assert result.exit_code == 1
    assert "1 finding to weigh" in result.output


def test_problems_end_with_2(file: Path) -> None:
    file.write_text(changed("minimum_off: 5 min", "minimum_off: 5"), encoding="utf-8")
    result = run(file)
    assert result.exit_code == 2
    assert result.output.startswith(f"{file}: 1 problem; the guard would not take it.")
    assert "chiller.minimum_off: 5\n" in result.output


def test_nothing_is_written(file: Path) -> None:
    before = file.read_bytes()
    run(file)
    assert file.read_bytes() == before
    assert list(file.parent.iterdir()) == [file]


def test_bytes_that_are_no_text_are_a_problem(file: Path) -> None:
    file.write_bytes(WHOLE.encode("latin-1"))
    result = run(file)
    assert result.exit_code == 2
    assert "not UTF-8 text" in result.output


@pytest.mark.parametrize("missing", ["nowhere.yaml", "."])
def test_a_file_that_cannot_be_read_is_told_in_a_sentence(tmp_path: Path, missing: str) -> None:
    result = run(tmp_path / missing)
    assert result.exit_code == 2
    assert "cannot be read: " in result.output
    assert "Traceback" not in result.output


def test_a_limits_file_is_sent_to_its_own_command(file: Path) -> None:
    file.write_text(LIMITS, encoding="utf-8")
    result = run(file)
    assert result.exit_code == 2
    assert "a limits file of the cutoff" in result.output
    assert f"reefguard cutoff check {file}" in result.output


def test_the_schema_is_printed_whole() -> None:
    result = run("--schema")
    assert result.exit_code == 0
    assert json.loads(result.output)["title"] == "reefguard settings"


def test_a_sound_cutoff_adds_nothing(file: Path) -> None:
    limits = file.with_name("cutoff.yaml")
    limits.write_text(LIMITS, encoding="utf-8")
    assert run(file, "--cutoff", limits).exit_code == 0


def test_a_cutoff_inside_the_working_band_is_found(file: Path) -> None:
    limits = file.with_name("cutoff.yaml")
    limits.write_text(LIMITS.replace("25.0", "26.3").replace("GPIO23", "GPIO22"), encoding="utf-8")
    result = run(file, "--cutoff", limits)
    assert result.exit_code == 1
    assert "inside the working band" in result.output
    assert "the cutoff's relay is on the same pin, GPIO22" in result.output


@pytest.mark.parametrize("content", ["limit: cold\n", ""])
def test_a_limits_file_that_is_wrong_is_sent_to_its_own_command(file: Path, content: str) -> None:
    limits = file.with_name("cutoff.yaml")
    limits.write_text(content, encoding="utf-8")
    result = run(file, "--cutoff", limits)
    assert result.exit_code == 2
    assert f"reefguard cutoff check {limits}" in result.output


def test_a_limits_file_that_is_not_there_is_told(file: Path) -> None:
    result = run(file, "--cutoff", file.with_name("cutoff.yaml"))
    assert result.exit_code == 2
    assert "cutoff.yaml: cannot be read: " in result.output


def test_the_shortest_file_has_its_finding(file: Path) -> None:
    file.write_text(SHORTEST, encoding="utf-8")
    assert "only one probe in the water" in run(file).output
