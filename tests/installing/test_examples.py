"""The example settings switch nothing, and become a keeper's own by filling in what is marked."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from bench_rig import Rig

from reefguard.cutoff.limits import Setup
from reefguard.cutoff.limits import read as read_limits
from reefguard.settings.outcome import Accepted, Rejected
from reefguard.settings.reading import read

EXAMPLES = Path(__file__).parents[2] / "systemd" / "examples"
SETTINGS = (EXAMPLES / "reefguard.yaml").read_text(encoding="utf-8")
LIMITS = (EXAMPLES / "cutoff.yaml").read_text(encoding="utf-8")
MARK = "YOURS"

FILLED = [
    *("28-000000000101", "28-000000000102"),
    *("GPIO17", "active high", "GPIO27", "active high", "GPIO22", "active high"),
]


def _values(text: str) -> str:
    return "\n".join(line.partition("#")[0] for line in text.splitlines())


def test_each_mark_is_refused_at_its_line_and_nothing_else_is() -> None:
    outcome = read(SETTINGS)
    assert isinstance(outcome, Rejected)
    assert {problem.read for problem in outcome.problems} == {MARK}
    assert len(outcome.problems) == _values(SETTINGS).count(MARK) == len(FILLED)
    refused = read_limits(LIMITS)
    assert isinstance(refused, list)
    assert len(refused) == _values(LIMITS).count(MARK)


def test_every_pin_and_every_probe_is_marked() -> None:
    for text in (SETTINGS, LIMITS):
        assert set(re.findall(r"\b(?:pin|polarity|id|probe): ([^,}\s]+)", _values(text))) == {MARK}


def test_filled_in_it_is_accepted() -> None:
    text = SETTINGS
    for value in FILLED:
        before, mark, after = _split_at_a_value(text)
        text = before + value + after
        assert mark
    assert isinstance(read(text), Accepted)
    limits = LIMITS
    for value in ("28-000000000201", "GPIO23", "active high"):
        before, mark, after = _split_at_a_value(limits)
        limits = before + value + after
    assert isinstance(read_limits(limits), Setup)


def _split_at_a_value(text: str) -> tuple[str, str, str]:
    """Split at the first mark that is a value, not a word of a comment."""
    place = re.search(rf"(?<=: ){MARK}", text)
    assert place is not None
    return text[: place.start()], MARK, text[place.end() :]


@pytest.mark.parametrize(
    ("name", "arguments"),
    [("reefguard.yaml", ("guard", "--settings")), ("cutoff.yaml", ("cutoff", "--limits"))],
)
def test_started_on_the_example_a_program_drives_no_pin_and_says_what_is_left(
    tmp_path: Path, name: str, arguments: tuple[str, str]
) -> None:
    with Rig(tmp_path) as rig:
        environment = rig.environment() | {"STATE_DIRECTORY": str(tmp_path / "state")}
        command = [sys.executable, "-m", "reefguard", *arguments, str(EXAMPLES / name)]
        ran = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
        assert ran.returncode == 78, ran.stderr
        assert MARK in ran.stderr + ran.stdout
        assert list((rig.bench.directory / "gpio").iterdir()) == []
