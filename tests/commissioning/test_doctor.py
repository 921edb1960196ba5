"""`reefguard doctor`: nothing on a Pi in order, each fault that is planted, and nothing is changed."""

import errno
import json
import os
import struct
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import pytest
from bench_rig import Rig
from pi_root import BUS, PiRoot

from reefguard.cli.doctor import CHECKS, examined, worst
from reefguard.commissioning import boot_config
from reefguard.commissioning.host import Host
from reefguard.commissioning.unseen import unseen
from reefguard.hardware.line_info import holder_in, holders
from reefguard.rehearsal.bench import CUTOFF_ID, DISPLAY_ID, SUMP_ID


@pytest.fixture
def pi(tmp_path: Path) -> PiRoot:
    return PiRoot(tmp_path)


def found(pi: PiRoot) -> list[tuple[str, str]]:
    """Return what is found: the check, and the sentence."""
    return [(name, one.what) for name, findings in examined(pi.host()).items() for one in findings]


def test_nothing_is_found_on_a_pi_in_order(pi: PiRoot) -> None:
    assert found(pi) == []
    assert worst(examined(pi.host())) == 0


def units(pi: PiRoot, **state: str) -> None:
    pi.units["reefguard"] = "".join(
        f"{key}={value}\n"
        for key, value in (
            {"LoadState": "loaded", "ActiveState": "active", "UnitFileState": "enabled"} | state
        ).items()
    )


def not_installed(pi: PiRoot) -> None:
    pi.units = dict.fromkeys(pi.units, "LoadState=not-found\nActiveState=inactive\nUnitFileState=\n")


def volatile(pi: PiRoot) -> None:
    (pi.root / "var/log/journal").rmdir()
    (pi.root / "run/log/journal").mkdir(parents=True)


def one_bus(pi: PiRoot) -> None:
    pi.change(CONFIG, "dtoverlay=w1-gpio\ndtparam=gpiopin=26\n", "")
    pi.change(YAML, "[GPIO4, GPIO26]", "[GPIO4]")


CONFIG = "boot/firmware/config.txt"
YAML = "etc/reefguard/reefguard.yaml"

FAULTS: dict[str, tuple[Callable[[PiRoot], object], str, str, int]] = {
    "no overlay": (
        lambda pi: pi.change(CONFIG, "dtoverlay=w1-gpio,gpiopin=4\n", ""),
        "1-wire overlays",
        "name a 1-wire bus on GPIO4, and the boot configuration has none there",
        2,
    ),
    "overlay commented out": (
        lambda pi: pi.change(CONFIG, "dtoverlay=w1-gpio,gpiopin=4\n", "#dtoverlay=w1-gpio,gpiopin=4\n"),
        "1-wire overlays",
        "has none there",
        2,
    ),
    "overlay for another board": (
        lambda pi: pi.change(
            CONFIG, "dtoverlay=w1-gpio,gpiopin=4\n", "[pi5]\ndtoverlay=w1-gpio,gpiopin=4\n[all]\n"
        ),
        "1-wire overlays",
        "has none there",
        2,
    ),
    "a bus that the settings do not name": (
        lambda pi: pi.change(CONFIG, "[all]\n", "[all]\ndtoverlay=w1-gpio,gpiopin=16\n"),
        "1-wire overlays",
        "a 1-wire bus on GPIO16",
        2,  # the kernel has not got it yet, either
    ),
    "not restarted since": (
        lambda pi: (pi.root / BUS / "w1_bus_master2").rmdir(),
        "1-wire overlays",
        "asks for 2 1-wire buses, and the kernel has 1",
        2,
    ),
    "one bus for all": (
        one_bus,
        "1-wire bus of the cutoff",
        "one 1-wire bus",
        1,
    ),
    "no strict_gpiod": (
        lambda pi: pi.change(CONFIG, ",strict_gpiod", ""),
        "strict_gpiod",
        "would stay on",
        2,
    ),
    "strict_gpiod off": (
        lambda pi: pi.change(CONFIG, "strict_gpiod", "strict_gpiod=off"),
        "strict_gpiod",
        "would stay on",
        2,
    ),
    "active low on a pulled-down pin": (
        lambda pi: pi.change(YAML, "{pin: GPIO17}", "{pin: GPIO17, polarity: active low}"),
        "polarity and power-on pull",
        "GPIO17 (fan1) is pulled down",
        1,
    ),
    "cutoff active high on a pulled-up pin": (
        lambda pi: pi.change("etc/reefguard/cutoff.yaml", "GPIO23", "GPIO6"),
        "polarity and power-on pull",
        "GPIO6 (the cutoff's relay) is pulled up",
        1,
    ),
    "pin held by another": (
        lambda pi: pi.lines.update({22: "spi0 CS1"}),
        "pins taken by others",
        "held by `spi0 CS1`, not by the guard",
        2,
    ),
    "pin held while the guard is silent": (
        lambda pi: (pi.root / "run/reefguard/status.json").unlink(),
        "pins taken by others",
        "held by `lg`",
        2,
    ),
    "guard and cutoff on one pin": (
        lambda pi: pi.change("etc/reefguard/cutoff.yaml", "GPIO23", "GPIO22"),
        "pins taken by others",
        "would share one relay",
        2,
    ),
    "no chip": (
        lambda pi: (pi.root / "dev/gpiochip0").unlink(),
        "GPIO device and group",
        "is not there",
        2,
    ),
    "chip of root alone": (
        lambda pi: (pi.root / "dev/gpiochip0").chmod(0o600),
        "GPIO device and group",
        "with mode 600",
        2,
    ),
    "chip of another group": (
        lambda pi: pi.write("etc/group", f"gpio:x:9999:\nvideo:x:{os.getgid()}:\n"),
        "GPIO device and group",
        "belongs to the group `video`",
        2,
    ),
    "no group": (
        lambda pi: pi.write("etc/group", "root:x:0:\n"),
        "GPIO device and group",
        "no group `gpio`",
        2,
    ),
    "no watchdog": (lambda pi: setattr(pi, "watchdog", "0"), "hardware watchdog", "is off", 1),
    "watchdog too long": (lambda pi: setattr(pi, "watchdog", "1min"), "hardware watchdog", "set to 60 s", 1),
    "settings wrong": (lambda pi: pi.change(YAML, "tank:", "tonk:"), "settings", "no such key", 2),
    "no settings": (lambda pi: (pi.root / YAML).unlink(), "settings", "cannot be read", 2),
    "no bus": (
        lambda pi: (pi.root / BUS).rename(pi.root / "gone"),
        "probes",
        "the kernel has no 1-wire bus",
        2,
    ),
    "probe absent": (
        lambda pi: (pi.root / BUS / SUMP_ID).rename(pi.root / "gone"),
        "probes",
        f"sump ({SUMP_ID}) is on no bus",
        2,
    ),
    "probe unplugged, and listed still": (
        lambda pi: pi.write(f"{BUS}/{SUMP_ID}/w1_slave", ""),
        "probes",
        f"sump ({SUMP_ID}) gives no reading",
        2,
    ),
    "cutoff's probe absent": (
        lambda pi: (pi.root / BUS / CUTOFF_ID).rename(pi.root / "gone"),
        "probes",
        "the cutoff's probe",
        2,
    ),
    "parasite power": (
        lambda pi: pi.write(f"{BUS}/{DISPLAY_ID}/ext_power", "0\n"),
        "probes",
        "parasite power",
        1,
    ),
    "one probe for both": (
        lambda pi: pi.change("etc/reefguard/cutoff.yaml", CUTOFF_ID, DISPLAY_ID),
        "probes",
        "is the cutoff's too",
        2,
    ),
    "written by everybody": (
        lambda pi: (pi.root / YAML).chmod(0o666),
        "permissions",
        "may be written by everybody",
        2,
    ),
    "state of another user": (
        lambda pi: pi.write("etc/passwd", f"root:x:0:0::/:\nkeeper:x:{os.getuid()}:1::/:\n"),
        "permissions",
        "so reefguard cannot write there",
        2,
    ),
    "clock not set": (
        lambda pi: (pi.root / "run/systemd/timesync/synchronized").unlink(),
        "clock",
        "not known to be right",
        1,
    ),
    "journal in memory": (
        volatile,
        "journal",
        "kept in memory only",
        1,
    ),
    "unit dead": (lambda pi: units(pi, ActiveState="failed"), "services", "reefguard does not run", 2),
    "unit disabled": (
        lambda pi: units(pi, UnitFileState="disabled"),
        "services",
        "does not start with the Pi",
        1,
    ),
    "units not there": (not_installed, "services", "not installed", 2),
    "guard silent": (
        lambda pi: pi.says("run/reefguard/status.json", sampling_s=5.0, age_s=60.0),
        "guard",
        "silent for 1 min",
        2,
    ),
    "cutoff silent": (
        lambda pi: pi.says("run/reefguard-cutoff/status.json", state="permitting", age_s=20.0),
        "cutoff",
        "the cutoff is silent",
        2,
    ),
    "cutoff stopped": (
        lambda pi: pi.says("run/reefguard-cutoff/status.json", state="stopped"),
        "cutoff",
        "has been stopped",
        2,
    ),
    "cutoff of no time that can be": (
        lambda pi: pi.says("run/reefguard-cutoff/status.json", state="permitting", written_s=10**400),
        "cutoff",
        "the cutoff is silent",
        2,
    ),
    "cutoff never started": (
        lambda pi: (pi.root / "run/reefguard-cutoff/status.json").unlink(),
        "cutoff",
        "is not there",
        2,
    ),
    "cutoff's file wrong": (
        lambda pi: pi.write("etc/reefguard/cutoff.yaml", "limit: 24\n"),
        "cutoff",
        "cannot be used",
        2,
    ),
    "cutoff speaks elsewhere": (
        lambda pi: pi.change("etc/reefguard/cutoff.yaml", "probe:", "runtime_directory: /run/other\nprobe:"),
        "cutoff",
        "speaks at /run/other/status.json",
        2,
    ),
    "nobody is told": (
        lambda pi: pi.change(YAML, "link:\n  channels:\n    mail: {secret: mail}\n", ""),
        "channels",
        "nobody is told",
        1,
    ),
    "secret missing": (
        lambda pi: (pi.root / "etc/reefguard/secrets/mail").unlink(),
        "channels",
        "channel mail: ",
        2,
    ),
    "secret readable by all": (
        lambda pi: (pi.root / "etc/reefguard/secrets/mail").chmod(0o644),
        "channels",
        "can be read by others",
        2,
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_each_fault_is_found_with_a_mend(pi: PiRoot, fault: str) -> None:
    plant, check, what, code = FAULTS[fault]
    plant(pi)
    examination = examined(pi.host())
    says = [one for one in examination[check] if what in one.what]
    assert says, found(pi)
    assert all(one.mend for findings in examination.values() for one in findings)
    assert worst(examination) == code, found(pi)


def _cutoff_by_the_older_name_of_run(pi: PiRoot) -> None:
    (pi.root / "var" / "run").symlink_to("../run")
    pi.change("etc/reefguard/cutoff.yaml", "probe:", "runtime_directory: /var/run/reefguard-cutoff\nprobe:")


@pytest.mark.parametrize(
    "change",
    [
        lambda pi: pi.write("proc/cmdline", "quiet pinctrl_bcm2835.persist_gpio_outputs=n\n"),
        lambda pi: setattr(pi, "watchdog", "15s"),
        lambda pi: pi.change(YAML, "{pin: GPIO17}", "{pin: GPIO5, polarity: active low}"),
        lambda pi: pi.lines.update({17: None, 27: "somebody else"}),
        lambda pi: pi.write(f"{BUS}/28-00000000ffff/ext_power", "0\n"),
        lambda pi: pi.change(YAML, "lights:", "clock: always right\nlights:"),
        _cutoff_by_the_older_name_of_run,
    ],
)
def test_what_is_in_order_in_another_way_is_no_finding(
    pi: PiRoot, change: Callable[[PiRoot], object]
) -> None:
    change(pi)
    assert found(pi) == []


def test_a_cutoff_elsewhere_is_not_missed(pi: PiRoot) -> None:
    pi.change(YAML, "cut_out: 26.6 °C,", "cut_out: 26.6 °C, cutoff: elsewhere,")
    (pi.root / "etc/reefguard/cutoff.yaml").unlink()
    assert found(pi) == []


def test_a_link_that_nobody_asked_for_is_not_missed(pi: PiRoot) -> None:
    asked_for = "link:\n  channels:\n    mail: {secret: mail}\n"
    pi.units["reefguard-link"] = "LoadState=loaded\nActiveState=inactive\nUnitFileState=disabled\n"
    said = [what for check, what in found(pi) if check == "services"]
    assert said == [
        "reefguard-link does not run",
        "reefguard-link does not start with the Pi: after a power cut nobody would be told",
    ]
    pi.change(YAML, asked_for, "")
    assert [check for check, _ in found(pi)] == ["channels"]


def test_a_disk_that_fails_or_fills_is_found(pi: PiRoot, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.statvfs(pi.root)
    for flag, free, what in [(os.ST_RDONLY, real.f_bavail, "read-only"), (0, 10, "MB left")]:
        odd = os.statvfs_result((*real[:4], free, *real[5:8], flag, *real[9:]))
        monkeypatch.setattr(os, "statvfs", lambda _, odd=odd: odd)
        assert [said for check, said in found(pi) if check == "disk" and what in said]


def test_it_changes_nothing(pi: PiRoot) -> None:
    before = fingerprints(pi.root)
    examined(pi.host())
    assert fingerprints(pi.root) == before


def fingerprints(root: Path) -> dict[str, tuple[str, int, int]]:
    files = [path for path in sorted(root.rglob("*")) if path.is_file()]
    return {
        str(path): (sha256(path.read_bytes()).hexdigest(), path.stat().st_mtime_ns, path.stat().st_mode)
        for path in files
    }


def test_without_a_service_manager_nothing_of_it_is_judged(pi: PiRoot) -> None:
    pi.watchdog = None
    assert found(pi) == []
    assert unseen(pi.host()) == {"services", "hardware watchdog"}


def test_all_is_seen_on_a_pi_in_order(pi: PiRoot) -> None:
    assert unseen(pi.host()) == frozenset()


def test_without_settings_hardly_anything_is_said_to_be_in_order(pi: PiRoot) -> None:
    (pi.root / YAML).unlink()
    assert frozenset(CHECKS) - unseen(pi.host()) == {
        "settings", "permissions", "clock", "journal", "services", "strict_gpiod", "hardware watchdog",
        "pins taken by others", "GPIO device and group",
    }  # fmt: skip


def test_each_check_that_may_see_nothing_is_a_check() -> None:
    assert unseen(Host()) <= frozenset(CHECKS)


def test_where_this_person_may_not_look_nothing_is_judged_and_nothing_fails(
    pi: PiRoot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Directories that only others may enter; root, who may run this, could enter any."""
    pi.change(YAML, "tank: the reef", "tank: the reef\nstate_directory: /srv/locked/state")
    pi.change(YAML, "link:", "link:\n  secrets_directory: /srv/locked/secrets")
    stat_of, may = Path.stat, os.access

    def locked(path: Path, **how: bool) -> os.stat_result:
        if "locked" in path.parts or path.name == "journal":
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return stat_of(path, **how)

    monkeypatch.setattr(Path, "stat", locked)
    monkeypatch.setattr(os, "access", lambda path, mode: "locked" not in path.parts and may(path, mode))
    assert found(pi) == []
    assert {"disk", "journal", "channels"} <= unseen(pi.host())


def test_a_chip_of_another_machine_is_not_judged(pi: PiRoot) -> None:
    """Many computers have one that only root may use."""
    pi.write("proc/device-tree/model", "")
    (pi.root / CONFIG).unlink()
    pi.label = "INTC1055:00"
    (pi.root / "dev/gpiochip0").chmod(0o600)
    pi.write("etc/group", "root:x:0:\n")
    assert found(pi) == []


def test_a_pi_with_another_chip_only_is_told_that_its_own_is_not_there(pi: PiRoot) -> None:
    pi.label = "mcp23017"
    assert [what for check, what in found(pi) if check == "GPIO device and group"] == [
        "the header's GPIO chip is not there"
    ]


def test_on_another_machine_nothing_of_the_board_is_judged(pi: PiRoot) -> None:
    pi.write("proc/device-tree/model", "")
    (pi.root / CONFIG).unlink()
    (pi.root / "dev/gpiochip0").unlink()
    not_installed(pi)
    pi.watchdog = "0"
    assert found(pi) == []


@pytest.mark.parametrize(
    ("text", "model", "pins", "strict"),
    [
        ("dtoverlay=w1-gpio", "Raspberry Pi 4 Model B", (4,), False),
        ("dtoverlay=w1-gpio-pullup,gpiopin=5,extpullup=6", "Raspberry Pi 3", (5,), False),
        ("dtoverlay=w1-gpio,gpiopin=4\ndtparam=strict_gpiod", "Raspberry Pi 4", (4,), True),
        ("dtoverlay=w1-gpio\ndtoverlay=\ndtparam=strict_gpiod=on", "Raspberry Pi 4", (4,), True),
        ("[pi4]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi 4 Model B", (), True),
        ("[pi4]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi 5 Model B", (), False),
        ("[none]\ndtparam=strict_gpiod", "Raspberry Pi 5 Model B", (), False),
        ("[pi02]\ndtoverlay=w1-gpio", "Raspberry Pi Zero 2 W Rev 1.0", (4,), False),
        ("dtparam=strict_gpiod=0\n garbage \n=\n[", "Raspberry Pi 4", (), False),
        (f"dtoverlay=w1-gpio,gpiopin={'1' * 5_000}", "Raspberry Pi 4", (4,), False),
        # Raspberry Pi documentation, config.txt, "Model Filters".
        ("[pi4]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi 400 Rev 1.0", (), True),
        ("[pi400]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi 400 Rev 1.0", (), True),
        ("[pi400]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi 4 Model B Rev 1.5", (), False),
        ("[pi4]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi Compute Module 4 Rev 1.1", (), True),
        ("[cm4]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi Compute Module 4 Rev 1.1", (), True),
        ("[cm4]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi Compute Module 4S Rev 1.0", (), False),
        ("[pi5]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi Compute Module 5 Lite Rev 1.0", (), True),
        ("[pi5]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi 500 Rev 1.0", (), True),
        ("[pi3+]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi 3 Model B Rev 1.2", (), False),
        ("[pi3+]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi 3 Model B Plus Rev 1.3", (), True),
        ("[pi3]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi 3 Model B Plus Rev 1.3", (), True),
        ("[pi02]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi Zero W Rev 1.1", (), False),
        ("[pi0w]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi Zero 2 W Rev 1.0", (), True),
        ("[pi1]\ndtparam=strict_gpiod\n[all]", "Raspberry Pi Model B Plus Rev 1.2", (), True),
    ],
)
def test_the_boot_configuration_is_read_as_the_firmware_does(
    text: str, model: str, pins: tuple[int, ...], strict: bool
) -> None:
    config = boot_config.read(text, model)
    assert config.one_wire_pins() == pins
    assert config.is_on("strict_gpiod") is strict


def test_who_holds_a_line_is_read_as_the_kernel_writes_it() -> None:
    # struct gpio_v2_line_info of <linux/gpio.h>: name, consumer, offset, attributes, flags, ...
    def info(consumer: bytes, flags: int) -> bytes:
        return struct.pack("<32s32sIIQ160s16s", b"GPIO17", consumer, 17, 0, flags, b"", b"")

    assert len(info(b"", 0)) == 256
    assert holder_in(info(b"", 0b1000)) is None
    assert holder_in(info(b"lg", 0b1001)) == "lg"
    assert holder_in(info(b"", 1)) == ""


def test_a_device_that_is_no_chip_is_told(tmp_path: Path) -> None:
    (tmp_path / "gpiochip0").touch()
    with pytest.raises(OSError, match="ioctl"):
        holders(tmp_path / "gpiochip0")


def test_on_the_bench(tmp_path: Path) -> None:
    """With both programs at work, a bench lacks nothing but somebody who is told."""
    with Rig(tmp_path) as rig:
        dead = rig.command("doctor")
        assert dead.returncode == 2
        assert "guard: " in dead.stdout
        rig.cutoff()
        rig.guard()
        rig.until(lambda: rig.status() and rig.cutoff_status(), "both tell how they stand")
        said = json.loads(rig.command("doctor", "--json").stdout)
        unwell = {one["check"] for one in said["checks"] if one["findings"]}
        assert unwell <= {"channels", "journal"}, said
        sent = rig.command("doctor", "--send")
        assert sent.returncode == 2
        assert "no section" in sent.stderr or "link" in sent.stderr
