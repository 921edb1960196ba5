"""`systemd/install`: it puts everything in its place, again and again, and takes nothing of the keeper's."""

import os
import stat
import subprocess
from pathlib import Path

import pytest
from installed_root import CHECKOUT, Root, needs_service_manager
from setting_up import program, system
from setting_up.machine import write

UNITS = {"reefguard.service", "reefguard-cutoff.service", "reefguard-link.service"}


@pytest.fixture(name="root")
def _root(tmp_path: Path) -> Root:
    if not needs_service_manager():
        assert not os.environ.get("CI"), "systemctl or systemd-sysusers is missing"
        pytest.skip("needs systemctl and systemd-sysusers")
    return Root(tmp_path / "root")


def test_everything_is_put_in_its_place(root: Root, capsys: pytest.CaptureFixture[str]) -> None:
    assert root.install() == 0
    for unit in UNITS:
        source = CHECKOUT / "systemd" / unit
        assert root.at(f"/etc/systemd/system/{unit}").read_bytes() == source.read_bytes()
    link = root.at("/opt/reefguard/bin/reefguard")
    assert str(link.readlink()) == "../releases/1/bin/reefguard"
    assert subprocess.run([link, "--version"], capture_output=True, check=False).returncode == 0
    assert str(root.at("/usr/local/bin/reefguard").readlink()) == "/opt/reefguard/bin/reefguard"
    rules = root.at("/etc/udev/rules.d/60-reefguard.rules").read_text(encoding="utf-8")
    assert 'KERNEL=="28-*", ATTR{features}="1"' in rules
    assert stat.S_IMODE(root.at("/etc/reefguard/secrets").stat().st_mode) == 0o700
    # The services' users read the settings, and write nothing there.
    assert stat.S_IMODE(root.at("/etc/reefguard/reefguard.yaml").stat().st_mode) == 0o644
    wanted = root.at("/etc/systemd/system/multi-user.target.wants")
    assert {one.name for one in wanted.iterdir()} == UNITS - {"reefguard-link.service"}
    said = capsys.readouterr().out
    assert "nothing is switched before" in said
    assert "until then nobody is told" in said
    assert "sudo systemctl restart reefguard-cutoff" in said


def test_each_user_is_in_the_groups_it_needs_and_in_no_other(root: Root) -> None:
    root.install()
    users = {
        fields[0] for fields in _rows(root.at("/etc/passwd")) if fields[0].startswith("reefguard")
    }  # fmt: skip
    members = {fields[0]: set(filter(None, fields[3].split(","))) for fields in _rows(root.at("/etc/group"))}
    assert users == {"reefguard", "reefguard-cutoff", "reefguard-link"}
    assert members["gpio"] == {"reefguard", "reefguard-cutoff"}
    # The link has the network: it may not acknowledge, and not reset.
    assert members["reefguard-keeper"] == {"reefguard"}
    assert members["reefguard-cutoff"] == set()
    unit = (CHECKOUT / "systemd" / "reefguard-link.service").read_text(encoding="utf-8").splitlines()
    assert [line for line in unit if line.startswith("SupplementaryGroups")] == [
        "SupplementaryGroups=reefguard"
    ]


def _rows(path: Path) -> list[list[str]]:
    return [line.split(":") for line in path.read_text(encoding="utf-8").splitlines()]


def test_a_second_time_nothing_changes(root: Root, capsys: pytest.CaptureFixture[str]) -> None:
    root.install()
    before, count = root.files(), len(root.ran)
    capsys.readouterr()
    assert root.install() == 0
    assert root.files() == before
    assert "Everything was in place; nothing was changed." in capsys.readouterr().out
    assert not [words for words in root.ran[count:] if "pip" in words or "venv" in words]


def test_a_dry_run_says_each_change_and_makes_none(root: Root, capsys: pytest.CaptureFixture[str]) -> None:
    before = root.files()
    assert root.install("--dry-run") == 0
    assert root.files() == before
    dry = [line for line in capsys.readouterr().out.splitlines() if line.startswith("would ")]
    root.install()
    wet = capsys.readouterr().out.splitlines()
    assert [line.removeprefix("would ") for line in dry] == wet[: len(dry)]
    assert root.install("--dry-run", "--remove") == 0
    assert root.at("/opt/reefguard/bin/reefguard").exists()


def test_what_is_the_keepers_is_never_overwritten(root: Root, capsys: pytest.CaptureFixture[str]) -> None:
    root.install()
    capsys.readouterr()
    own = {
        "/etc/reefguard/reefguard.yaml": "tank: mine\nlink:\n",
        "/etc/reefguard/cutoff.yaml": "limit: 24.5 °C\n",
        "/etc/reefguard/secrets/phone": "an address\n",
        "/var/lib/reefguard/memory.json": "{}",
        "/var/lib/reefguard-cutoff/latch": "tripped",
    }
    for place, text in own.items():
        write(root.at(place), text.encode())
    write(root.at("/etc/systemd/system/reefguard.service"), b"# of an older version\n")
    assert root.install() == 0
    assert {place: root.at(place).read_text(encoding="utf-8") for place in own} == own
    assert "nobody is told" not in capsys.readouterr().out
    # The settings speak of a link now, so it is started too.
    wanted = root.at("/etc/systemd/system/multi-user.target.wants")
    assert {one.name for one in wanted.iterdir()} == UNITS


def test_removal_keeps_settings_records_and_latch_and_says_so(
    root: Root, capsys: pytest.CaptureFixture[str]
) -> None:
    root.install()
    kept = (
        "/etc/reefguard/reefguard.yaml",
        "/var/lib/reefguard/events.db",
        "/var/lib/reefguard-cutoff/latch",
    )
    for place in kept[1:]:
        write(root.at(place), b"kept")
    capsys.readouterr()
    assert root.install("--remove") == 0
    said = capsys.readouterr().out
    for place in ("/etc/reefguard", "/var/lib/reefguard", "/var/lib/reefguard-cutoff", "latch"):
        assert place in said
    assert all(root.at(place).exists() for place in kept)
    left = {
        name for name in root.files()
        if "reefguard" in name and not name.startswith(("etc/reefguard/", "var/lib/"))
    }  # fmt: skip
    assert left == set()
    # Twice is no error, and it can come back.
    assert root.install("--remove") == 0
    assert root.install() == 0


def _as_if_older(root: Root) -> Path:
    """Have the release that runs look like another version's; return its directory."""
    running = root.at("/opt/reefguard/bin/reefguard").resolve().parents[1]
    write(running / "complete", b"another version\n")
    return running


def test_an_upgrade_keeps_the_version_before_it_and_no_older_one(root: Root) -> None:
    root.install()
    for _ in range(3):
        _as_if_older(root)
        assert root.install() == 0
    assert root.releases() == ["3", "4"]
    assert str(root.at("/opt/reefguard/bin/reefguard").readlink()) == "../releases/4/bin/reefguard"


@pytest.mark.parametrize("broken", ["venv", "pip", "compileall", "--version"])
def test_an_upgrade_that_fails_leaves_the_version_that_runs(
    root: Root, broken: str, capsys: pytest.CaptureFixture[str]
) -> None:
    root.install()
    running = _as_if_older(root)
    root.broken = broken
    capsys.readouterr()
    assert root.install() == 1
    said = capsys.readouterr().out
    assert "No space left on device" in said
    assert "Traceback" not in said
    assert root.at("/opt/reefguard/bin/reefguard").resolve().parents[1] == running
    # What is unfinished is not taken for a version, and goes the next time.
    root.broken = None
    assert root.install() == 0
    assert len(root.releases()) == 2
    assert all((root.at("/opt/reefguard/releases") / name / "complete").exists() for name in root.releases())


def test_an_upgrade_that_would_refuse_the_running_settings_does_not_happen(
    root: Root, capsys: pytest.CaptureFixture[str]
) -> None:
    root.install()
    running = _as_if_older(root)
    # The old version takes them; this one finds what YOURS stands for.
    (running / "bin" / "reefguard").write_text("#!/bin/sh\nexit 0\n", encoding="utf-8")
    assert root.install() == 1
    said = capsys.readouterr().out
    assert "does not accept" in said
    assert "mend: read" in said
    assert root.at("/opt/reefguard/bin/reefguard").resolve().parents[1] == running


def test_somebody_elses_command_of_that_name_is_left_alone(
    root: Root, capsys: pytest.CaptureFixture[str]
) -> None:
    write(root.at("/usr/local/bin/reefguard"), b"something else")
    assert root.install() == 1
    assert "not ours; mend:" in capsys.readouterr().out
    assert root.at("/usr/local/bin/reefguard").read_bytes() == b"something else"


def test_without_a_network_it_installs_from_a_directory(root: Root, tmp_path: Path) -> None:
    assert root.install("--wheels", str(tmp_path / "wheels")) == 0
    *_, pip = [words for words in root.ran if "pip" in words]
    assert not [words for words in root.ran if "pip" in words and "--no-index" not in words]
    assert pip[-4:-1] == ["--no-index", "--find-links", str(tmp_path / "wheels")]
    assert pip[-1] == f"reefguard[link]=={program.version_of(CHECKOUT)}"


def test_another_python_is_another_version(monkeypatch: pytest.MonkeyPatch) -> None:
    here = program.fingerprint_of(CHECKOUT)
    assert program.fingerprint_of(CHECKOUT) == here
    monkeypatch.setattr("sys.version_info", (3, 99))
    assert program.fingerprint_of(CHECKOUT) != here


def test_it_runs_as_a_command_and_says_what_it_takes() -> None:
    script = CHECKOUT / "systemd" / "install"
    ran = subprocess.run([script, "--help"], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    for option in ("--dry-run", "--remove", "--wheels", "--cutoff-bus"):
        assert option in ran.stdout


def test_every_service_that_is_installed_is_a_unit_of_ours() -> None:
    assert {service.unit for service in system.SERVICES} == UNITS
    assert {path.name for path in (CHECKOUT / "systemd").glob("*.service")} == UNITS
