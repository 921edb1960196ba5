"""`reefguard rehearse`, as a keeper runs it."""

import json
import os
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pvlib
import pytest
from rehearsed import LIMITS_TEXT, SETTINGS_TEXT

SHORT = """\
says: Two hours in which nothing breaks.
lasts: 2 h
begins: 12:00
limits:
  above_band: 0.5 °C
  below_band: 0 °C
"""
GREENSBORO = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"


def rehearse(place: Path, *options: str | Path) -> subprocess.CompletedProcess[str]:
    environment = {name: value for name, value in os.environ.items() if not name.startswith("REEFGUARD")}
    # A bench without files: no settings of this machine are found.
    environment["REEFGUARD_BENCH"] = str(place / "no-bench")
    return subprocess.run(
        [sys.executable, "-m", "reefguard", "rehearse", *map(str, options)],
        cwd=place,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def short(tmp_path: Path) -> Path:
    path = tmp_path / "short.yaml"
    path.write_text(SHORT, encoding="utf-8")
    return path


def test_every_drill_that_comes_with_the_program_passes_on_the_example(tmp_path: Path) -> None:
    done = rehearse(tmp_path, "--json")
    runs = json.loads(done.stdout)["runs"]
    assert [run["name"] for run in runs if run["outcome"] != "passed"] == []
    assert done.returncode == 0
    assert len(runs) > 70


def test_the_list_says_what_each_does(tmp_path: Path) -> None:
    done = rehearse(tmp_path, "--list")
    assert done.returncode == 0
    assert "muggy-night" in done.stdout
    assert "only a chiller helps" in done.stdout


def test_one_that_is_shown_can_be_changed_and_run(tmp_path: Path) -> None:
    shown = rehearse(tmp_path, "--show", "muggy-night").stdout
    (tmp_path / "mine.yaml").write_text(shown.replace("lasts: 14 h", "lasts: 2 h"), encoding="utf-8")
    done = rehearse(tmp_path, "mine.yaml")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "1 passed, 0 failed" in done.stdout


def test_a_keepers_own_files_are_rehearsed(tmp_path: Path, short: Path) -> None:
    (tmp_path / "mine.yaml").write_text(SETTINGS_TEXT, encoding="utf-8")
    (tmp_path / "limits.yaml").write_text(LIMITS_TEXT, encoding="utf-8")
    done = rehearse(tmp_path, short, "--settings", "mine.yaml", "--limits", "limits.yaml")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Settings: mine.yaml" in done.stdout
    assert "Cutoff:   limits.yaml" in done.stdout


def test_without_files_it_says_whose_settings_are_rehearsed(tmp_path: Path, short: Path) -> None:
    done = rehearse(tmp_path, short)
    assert "the example's settings are rehearsed" in done.stdout
    assert "the example's 340 litres" in done.stdout


def test_without_a_limits_file_the_cutoff_is_left_out_and_it_says_so(tmp_path: Path, short: Path) -> None:
    (tmp_path / "mine.yaml").write_text(SETTINGS_TEXT, encoding="utf-8")
    done = rehearse(tmp_path, short, "chiller-relay-welded", "--settings", "mine.yaml")
    assert "left out" in done.stdout
    assert "there is no cutoff" in done.stdout
    assert "1 passed, 0 failed, 1 do not apply" in done.stdout
    assert done.returncode == 0


def test_a_drill_that_fails_says_what_broke_on_which_tank_and_ends_with_1(tmp_path: Path) -> None:
    (tmp_path / "hard.yaml").write_text(
        SHORT.replace("above_band: 0.5 °C", "starts: 0\n  told: [no water]"), encoding="utf-8"
    )
    done = rehearse(tmp_path, "hard.yaml", "ordinary-hot-day")
    assert done.returncode == 1
    assert "broke: never told: no water" in done.stdout
    assert "tank: volume" in done.stdout
    assert "1 passed, 1 failed" in done.stdout


def test_the_document_has_its_schema_and_units(tmp_path: Path, short: Path) -> None:
    document = json.loads(rehearse(tmp_path, short, "--json").stdout)
    assert document["schema"] == "reefguard.rehearsal/1"
    (run,) = document["runs"]
    assert run["outcome"] == "passed"
    assert 20.0 < run["coldest_c"] <= run["hottest_c"] < 30.0
    assert run["lasted_s"] == 7_200.0


def test_the_page_stands_alone(tmp_path: Path, short: Path) -> None:
    done = rehearse(tmp_path, short, "chiller-relay-welded", "--html", "drawn.html")
    assert done.returncode == 0, done.stdout + done.stderr
    text = (tmp_path / "drawn.html").read_text(encoding="utf-8")
    assert text.count("<svg") == 2
    assert "<script" not in text
    assert "src=" not in text
    for drawing in text.split("<svg")[1:]:
        ET.fromstring("<svg" + drawing.split("</svg>")[0] + "</svg>")  # noqa: S314  our own drawing


def test_a_page_that_cannot_be_written_is_told(tmp_path: Path, short: Path) -> None:
    done = rehearse(tmp_path, short, "--html", "nowhere/drawn.html")
    assert done.returncode == 2
    assert "cannot be written" in done.stderr


@pytest.mark.parametrize("tanks", ["0", "2"])
def test_several_tanks_or_the_planned_one(tmp_path: Path, short: Path, tanks: str) -> None:
    done = rehearse(tmp_path, short, "--tanks", tanks)
    assert f"{max(1, int(tanks))} passed" in done.stdout


def test_a_year_of_hours_is_lived_through_at_its_hottest(tmp_path: Path) -> None:
    """NREL's typical year of Greensboro NC, as pvlib packages it: its hottest days lie in summer."""
    (tmp_path / "days.yaml").write_text(SHORT.replace("lasts: 2 h", "lasts: 60 h"), encoding="utf-8")
    hot = rehearse(tmp_path, "days.yaml", "--weather", GREENSBORO, "--tanks", "0", "--json")
    assert hot.returncode in (0, 1), hot.stderr
    (run,) = json.loads(hot.stdout)["runs"]
    assert run["compressor_starts"] > 0


def test_a_drill_may_name_its_own_weather_beside_it(tmp_path: Path) -> None:
    (tmp_path / "greensboro.csv").write_bytes(GREENSBORO.read_bytes())
    mine = SHORT.replace("limits:", "weather: {file: greensboro.csv}\nlimits:")
    (tmp_path / "mine.yaml").write_text(mine, encoding="utf-8")
    done = rehearse(tmp_path, tmp_path / "mine.yaml")
    assert "1 passed" in done.stdout, done.stdout + done.stderr


WRONG = [
    (("nonesuch",), "no drill is called `nonesuch`"),
    (("missing.yaml",), "cannot be read"),
    (("--show", "nonesuch"), "no drill is called `nonesuch`"),
    (("bad.yaml",), "line 2, lasts: 2"),
    (("short.yaml", "--settings", "bad.yaml"), "the guard would not take it"),
    (
        ("short.yaml", "--settings", "good.yaml", "--limits", "bad.yaml"),
        "the cutoff would not take it",
    ),
    (("short.yaml", "--limits", "good.yaml"), "needs --settings"),
    (("short.yaml", "--plan", "bad.yaml"), "nothing was rehearsed"),
    (("short.yaml", "--weather", "bad.yaml"), "bad.yaml"),
    (("rear.yaml",), "which the settings do not have"),
]


@pytest.mark.parametrize(("options", "words"), WRONG, ids=lambda value: str(value)[:40])
def test_what_cannot_be_used_is_told_and_ends_with_2(
    tmp_path: Path, short: Path, options: tuple[str, ...], words: str
) -> None:
    (tmp_path / "bad.yaml").write_text(SHORT.replace("2 h", "2"), encoding="utf-8")
    (tmp_path / "good.yaml").write_text(SETTINGS_TEXT, encoding="utf-8")
    rear = "events:\n  it: {part: probe, which: rear, is: empty, from: 1 h}\nlimits:"
    (tmp_path / "rear.yaml").write_text(SHORT.replace("limits:", rear), encoding="utf-8")
    done = rehearse(tmp_path, *options)
    assert done.returncode == 2, done.stdout + done.stderr
    assert words in done.stderr
    assert "Traceback" not in done.stderr
