"""Promise 12. A bad settings file never replaces a good one.

Reload keeps the running settings and says so.  A start runs on the last good
copy, with a critical finding; with none it exits 78 with every error listed
and all outputs off.
"""

import signal
from pathlib import Path

import pytest
from bench_rig import Rig
from hypothesis import given, settings
from hypothesis import strategies as st
from settings_files import WHOLE

from reefguard.guard.settings_source import COPY_NAME, Bad, Good, directory_named, from_file
from reefguard.records import safe_levels
from reefguard.rehearsal.bench import CHILLER, FAN_1

TWO_ERRORS = (("cut_in: 26.6 °C", "cut_in: 26.6"), ("minimum_on: 2 min", "minimum_onn: 2 min"))


def _running(rig: Rig, water_c: float = 26.0) -> None:
    rig.water(water_c)
    rig.guard()
    rig.until(lambda: rig.mode() == "automatic", "the guard is at work")


def _reload(rig: Rig) -> None:
    rig.programs["guard"].send_signal(signal.SIGHUP)


def test_a_good_change_counts_at_once_and_repeats_nothing_in_the_log(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        _running(rig)
        assert rig.pin(FAN_1) == "0"
        rig.settings(("cut_in: 26.6 °C\n  cut_out: 26.2 °C", "cut_in: 25.9 °C\n  cut_out: 25.5 °C"))
        _reload(rig)
        rig.until(lambda: rig.pin(FAN_1) == "1", "the fans follow the new cut-in")
        rig.until(
            lambda: (rig.bench.state / COPY_NAME).read_bytes() == rig.bench.settings.read_bytes(),
            "it is the last good copy",
        )
        assert rig.log().count("mode: automatic") == 1
        assert rig.log().count("settings taken from") == 1

        # What a clean-up after it needs is kept anew as well.
        rig.settings(
            (
                "fan1: {pin: GPIO17, polarity: active high, contact: normally open, at_rest: stopped}",
                "fan1: {pin: GPIO17, polarity: active high, contact: normally open, at_rest: running}",
            )
        )
        _reload(rig)
        rig.until(lambda: rig.log().count("settings taken from") == 2, "the second change is taken")
        rig.until(
            lambda: {one.output: one.load_on for one in safe_levels.load(rig.bench.state)}["fan1"],
            "the safe levels follow",
        )
        rig.end("guard", signal.SIGKILL)
        rig.command("guard", "--safe-levels", "--settings", str(rig.bench.settings))
        assert rig.pin(FAN_1) == "1"


def test_a_bad_file_changes_nothing_and_is_told_with_all_its_errors(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        _running(rig, 27.0)
        rig.until(lambda: rig.pin(FAN_1) == "1", "the fans run")
        good = rig.bench.settings.read_bytes()
        rig.settings(*TWO_ERRORS)
        _reload(rig)
        rig.until(lambda: "settings not taken" in rig.findings(), "the refusal is a finding")
        finding = rig.findings()["settings not taken"]
        assert finding["severity"] == "critical"
        assert "2 problems" in finding["what"]
        assert "26.6" in rig.log()
        assert "minimum_onn" in rig.log()
        assert rig.pin(FAN_1) == "1"
        assert (rig.bench.state / COPY_NAME).read_bytes() == good
        assert rig.command("status", "--settings", str(rig.bench.settings)).returncode == 2

        rig.bench.settings.write_bytes(good)
        _reload(rig)
        rig.until(lambda: "settings not taken" not in rig.findings(), "once mended, it is taken")
        assert rig.log().count("over: settings not taken") == 1


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ("GPIO27, polarity", "GPIO5, polarity", "fans.units"),
        ("pin: GPIO22\n  polarity: active high", "pin: GPIO22\n  polarity: active low", "chiller"),
        ("sump: {id: 28-000000000102}", "sump: {id: 28-000000000109}", "water_probes"),
        ("cutoff/status.json", "other/status.json", "chiller"),
        ("sampling: 5 s", "sampling: 4 s", "sampling"),
        ("lights:\n", "lights:\n  sense: {pin: GPIO16, active: high}\n", "lights.sense"),
    ],
)
def test_what_names_other_devices_waits_for_a_restart_and_says_so(
    tmp_path: Path, old: str, new: str, named: str
) -> None:
    with Rig(tmp_path) as rig:
        _running(rig)
        rig.settings((old, new))
        _reload(rig)
        rig.until(lambda: "settings not taken" in rig.findings(), "the refusal is a finding")
        finding = rig.findings()["settings not taken"]
        assert f"in order, but {named} can change at a start only" in finding["what"]
        assert "systemctl restart reefguard" in finding["mend"]


def test_a_start_on_a_bad_file_runs_on_the_last_good_copy_until_the_file_is_mended(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        _running(rig)
        assert rig.end("guard") == 0
        good = rig.bench.settings.read_bytes()
        rig.settings(*TWO_ERRORS)
        rig.guard()
        rig.until(lambda: rig.mode() == "automatic", "it runs all the same")
        finding = rig.findings()["running on previous settings"]
        assert finding["severity"] == "critical"
        assert "2 problems" in finding["what"]
        rig.water(27.0)
        rig.until(lambda: rig.pin(FAN_1) == "1", "it holds the tank by the last good copy")
        assert (rig.bench.state / COPY_NAME).read_bytes() == good

        rig.bench.settings.write_bytes(good)
        _reload(rig)
        rig.until(lambda: "running on previous settings" not in rig.findings(), "it runs on the file again")


def test_without_a_last_good_copy_it_ends_with_78_every_error_and_all_outputs_off(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.chilling()
        rig.end("guard", signal.SIGKILL)
        assert (rig.pin(CHILLER), rig.pin(FAN_1)) == ("1", "1")
        (rig.bench.state / COPY_NAME).unlink()
        rig.settings(*TWO_ERRORS)
        refused = rig.command("guard", "--settings", str(rig.bench.settings))
        assert refused.returncode == 78
        assert "2 problems" in refused.stderr
        assert "minimum_onn" in refused.stderr
        assert "no last good copy" in refused.stderr
        assert (rig.pin(CHILLER), rig.pin(FAN_1)) == ("0", "0")


def test_a_last_good_copy_that_is_not_good_any_more_is_none(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.settings(*TWO_ERRORS)
        (rig.bench.state / COPY_NAME).write_text("tank: [", encoding="utf-8")
        assert rig.command("guard", "--settings", str(rig.bench.settings)).returncode == 78
        assert rig.pins()["chiller"] == ""


@pytest.mark.parametrize("place", ["a directory", "a pipe", "nothing"])
def test_what_is_no_file_is_refused_in_words(tmp_path: Path, place: str) -> None:
    with Rig(tmp_path) as rig:
        rig.bench.settings.unlink()
        if place == "a directory":
            rig.bench.settings.mkdir()
        elif place == "a pipe":
            rig.display.hang()
            (rig.bench.bus / "28-000000000101" / "w1_slave").rename(rig.bench.settings)
        refused = rig.command("guard", "--settings", str(rig.bench.settings))
        assert refused.returncode == 78
        assert str(rig.bench.settings) in refused.stderr
        assert "mend: " in refused.stderr


WHOLE_BYTES = WHOLE.encode()


@given(
    st.one_of(
        st.binary(max_size=200),
        st.builds(lambda cut: WHOLE_BYTES[:cut], st.integers(0, len(WHOLE_BYTES))),
        st.builds(
            lambda at, byte: WHOLE_BYTES[:at] + bytes([byte]) + WHOLE_BYTES[at + 1 :],
            st.integers(0, len(WHOLE_BYTES) - 1),
            st.integers(0, 255),
        ),
    )
)
@settings(max_examples=100, deadline=None)
def test_any_bytes_are_settings_or_a_report_in_words(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "any.yaml"
    path.write_bytes(content)
    outcome = from_file(path)
    assert isinstance(outcome, Good | Bad)
    if isinstance(outcome, Bad):
        assert outcome.first_line.startswith(f"{path}: ")
        assert "mend: " in outcome.report


@given(st.text(alphabet="state_directory:\"' /#\nab"))
@settings(deadline=None)
def test_looking_for_a_directory_in_a_broken_text_never_fails(text: str) -> None:
    found = directory_named("state_directory", text)
    assert found is None or str(found) in text
