"""One read of one probe: the data sheet's numbers, and every failure by its name."""

import os
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reefguard.hardware.one_wire import read_probe
from reefguard.rehearsal.bench_wire import BenchProbe, scratchpad, w1_slave
from reefguard.vocabulary import Cause

# Only after `one_wire`, which keeps it from running modprobe.
w1thermsensor = import_module("w1thermsensor")

ROM_ID = "28-0b1c2d3e4f50"

# DS18B20 data sheet (19-7487 Rev 6), Table 1, "Temperature/Data Relationship": every row.
DATA_SHEET_TABLE_1 = [
    (+125.0, 0x07D0),
    (+85.0, 0x0550),
    (+25.0625, 0x0191),
    (+10.125, 0x00A2),
    (+0.5, 0x0008),
    (0.0, 0x0000),
    (-0.5, 0xFFF8),
    (-10.125, 0xFF5E),
    (-25.0625, 0xFE6F),
    (-55.0, 0xFC90),
]


@pytest.fixture
def wire(tmp_path: Path) -> BenchProbe:
    return BenchProbe(tmp_path, ROM_ID)


def stock_sensor(directory: Path | str) -> Any:
    """Return the library's own sensor, as anybody would make it, under `directory`."""
    stock = type("Stock", (w1thermsensor.W1ThermSensor,), {"BASE_DIRECTORY": directory})
    return stock(w1thermsensor.Sensor.DS18B20, ROM_ID.removeprefix("28-"))


def signed(register: int) -> int:
    return register - 0x10000 if register & 0x8000 else register


@pytest.mark.parametrize(("celsius", "register"), DATA_SHEET_TABLE_1)
def test_decodes_every_row_of_the_data_sheet_table(
    wire: BenchProbe, tmp_path: Path, celsius: float, register: int
) -> None:
    wire.write(w1_slave(scratchpad(signed(register))).encode())
    assert read_probe(tmp_path, ROM_ID) == celsius


def test_decodes_every_register_the_chip_can_hold(wire: BenchProbe, tmp_path: Path) -> None:
    for register in range(-55 * 16, 128 * 16):
        wire.write(w1_slave(scratchpad(register)).encode())
        assert read_probe(tmp_path, ROM_ID) == register / 16


def test_reads_the_kernels_own_example(wire: BenchProbe, tmp_path: Path) -> None:
    # Linux, Documentation/w1/slaves/w1_therm.rst.
    wire.write(b"72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01 4b 46 7f ff 0e 10 57 t=23125\n")
    assert read_probe(tmp_path, ROM_ID) == 23.125


@pytest.mark.parametrize(
    ("configuration", "celsius"),
    # Data sheet, Figure 10 and Table 2: the configuration byte, and 0x0197 without its undefined bits.
    [(0x7F, 25.4375), (0x5F, 25.375), (0x3F, 25.25), (0x1F, 25.0)],
)
def test_drops_the_bits_a_lower_resolution_leaves_undefined(
    wire: BenchProbe, tmp_path: Path, configuration: int, celsius: float
) -> None:
    content = bytes([0x97, 0x01, 0x4B, 0x46, configuration, 0xFF, 0x09, 0x10, 0x00])
    wire.write(f"{content.hex(' ')} : crc=00 YES\n{content.hex(' ')} t=25437\n".encode())
    assert read_probe(tmp_path, ROM_ID) == celsius


def test_takes_the_kernels_number_for_a_chip_with_another_register(tmp_path: Path) -> None:
    # A DS18S20 (family 10) counts halves; only the kernel knows its remainder.
    wire = BenchProbe(tmp_path, "10-000802824e58")
    wire.write(b"32 00 4b 46 ff ff 02 10 c5 : crc=c5 YES\n32 00 4b 46 ff ff 02 10 c5 t=25125\n")
    assert read_probe(tmp_path, "10-000802824e58") == pytest.approx(25.125)


def test_passes_on_the_power_on_value_for_others_to_judge(wire: BenchProbe, tmp_path: Path) -> None:
    wire.lose_power()
    assert read_probe(tmp_path, ROM_ID) == 85.0


def test_passes_on_the_failed_conversion_for_others_to_judge(wire: BenchProbe, tmp_path: Path) -> None:
    wire.fail_conversion()
    assert read_probe(tmp_path, ROM_ID) == 127.9375


def test_the_library_alone_would_not_give_85_but_would_give_127_94(wire: BenchProbe, tmp_path: Path) -> None:
    wire.lose_power()
    stock = stock_sensor(tmp_path)
    with pytest.raises(w1thermsensor.ResetValueError):
        stock.get_temperature()
    wire.fail_conversion()
    assert stock.get_temperature() == 127.9375


def test_a_probe_that_is_not_there_is_absent(tmp_path: Path) -> None:
    assert read_probe(tmp_path, ROM_ID) is Cause.ABSENT


def test_a_failed_read_is_an_empty_file(wire: BenchProbe, tmp_path: Path) -> None:
    wire.show_nothing()
    assert read_probe(tmp_path, ROM_ID) is Cause.EMPTY


def test_a_wrong_checksum_is_told(wire: BenchProbe, tmp_path: Path) -> None:
    wire.show(25.0)
    wire.fail_checksum()
    assert read_probe(tmp_path, ROM_ID) is Cause.CRC


def test_nine_zeros_are_a_shorted_line_though_their_checksum_is_right(
    wire: BenchProbe, tmp_path: Path
) -> None:
    wire.short_line()
    assert read_probe(tmp_path, ROM_ID) is Cause.ZEROS


def test_zero_degrees_is_a_temperature(wire: BenchProbe, tmp_path: Path) -> None:
    wire.show(0.0)
    assert read_probe(tmp_path, ROM_ID) == 0.0


def test_a_directory_in_the_files_place_is_unreadable(tmp_path: Path) -> None:
    (tmp_path / ROM_ID / "w1_slave").mkdir(parents=True)
    assert read_probe(tmp_path, ROM_ID) is Cause.UNREADABLE


@pytest.mark.parametrize(
    "content",
    [
        b"\n",
        b"YES\n",
        b"72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n",
        b"72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01\n",
        b"72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01 4b 46 7f ff 0e 10 57 t=\n",
        b"zz 01 4b 46 7f ff 0e 10 57 : crc=57 YES\nzz 01 4b 46 7f ff 0e 10 57 t=23125\n",
        b"72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n50 05 4b 46 7f ff 0c 10 1c t=85000\n",
        b"\xff" * 80,
    ],
    ids=["newline", "verdict only", "one line", "cut", "no number", "no hex", "two minds", "no text"],
)
def test_anything_else_is_malformed(wire: BenchProbe, tmp_path: Path, content: bytes) -> None:
    wire.write(content)
    assert read_probe(tmp_path, ROM_ID) is Cause.MALFORMED


@pytest.mark.parametrize("rom_id", ["", "28", "28-", "zz-0b1c2d3e4f50", "99-0b1c2d3e4f50", "28-../28-other"])
def test_a_name_that_is_no_probes_is_a_cause_not_an_error(tmp_path: Path, rom_id: str) -> None:
    assert isinstance(read_probe(tmp_path, rom_id), Cause)


@pytest.mark.parametrize(
    ("error", "cause"),
    [
        (IndexError(), Cause.MALFORMED),
        (ValueError(), Cause.MALFORMED),
        (FileNotFoundError(2, "No such file"), Cause.ABSENT),
        (OSError(19, "No such device"), Cause.ABSENT),
        (PermissionError(13, "Permission denied"), Cause.UNREADABLE),
        (OSError(5, "Input/output error"), Cause.UNREADABLE),
        (w1thermsensor.UnsupportedUnitError(), Cause.MALFORMED),
        (MemoryError(), Cause.MALFORMED),
    ],
    ids=repr,
)
def test_whatever_the_library_lets_out_is_a_cause(
    wire: BenchProbe, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception, cause: Cause
) -> None:
    wire.show(25.0)

    def fails(_: object) -> float:
        raise error

    monkeypatch.setattr(w1thermsensor.W1ThermSensor, "get_temperature", fails)
    assert read_probe(tmp_path, ROM_ID) is cause


def test_the_library_alone_gives_one_error_for_three_causes(wire: BenchProbe, tmp_path: Path) -> None:
    wire.show(25.0)
    stock = stock_sensor(tmp_path)
    for fault in (wire.show_nothing, wire.fail_checksum, wire.short_line):
        fault()
        with pytest.raises(w1thermsensor.SensorNotReadyError):
            stock.get_temperature()


def test_a_probe_pulled_and_plugged_in_again_is_read_again(wire: BenchProbe, tmp_path: Path) -> None:
    wire.show(25.0)
    assert read_probe(tmp_path, ROM_ID) == 25.0
    wire.vanish()
    assert read_probe(tmp_path, ROM_ID) is Cause.ABSENT
    wire.show(26.0)
    assert read_probe(tmp_path, ROM_ID) == 26.0


def test_the_library_needs_its_directory_as_a_path(wire: BenchProbe, tmp_path: Path) -> None:
    wire.show(25.0)
    with pytest.raises(TypeError):
        stock_sensor(str(tmp_path))


W1_SLAVE_LIKE = st.one_of(
    st.binary(max_size=120),
    st.text(alphabet="0123456789abcdefYESNO:=ctr -\n", max_size=120).map(str.encode),
    st.builds(
        lambda measured, kept, verdict, number: (
            f"{measured.hex(' ')} : crc={measured[-1]:02x} {verdict}\n{kept.hex(' ')} t={number}\n".encode()
        ),
        st.binary(min_size=9, max_size=9),
        st.binary(min_size=9, max_size=9),
        st.sampled_from(["YES", "NO"]),
        st.integers(),
    ),
    st.binary(min_size=9, max_size=9).map(lambda sent: w1_slave(sent).encode()),
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(content=W1_SLAVE_LIKE, family=st.sampled_from(["28", "10", "22", "3b", "42"]))
def test_no_content_of_the_file_is_ever_an_error(tmp_path: Path, content: bytes, family: str) -> None:
    rom_id = f"{family}-0b1c2d3e4f50"
    BenchProbe(tmp_path, rom_id).write(content)
    reading = read_probe(tmp_path, rom_id)
    assert isinstance(reading, float | Cause)
    if isinstance(reading, float) and family != "10":
        assert -2048 <= reading < 2048


def imports_with_a_modprobe_that_tells(tmp_path: Path, statement: str) -> bool:
    """Run `statement` in a fresh interpreter; return whether it ran modprobe."""
    mark = tmp_path / "modprobe-ran"
    modprobe = tmp_path / "modprobe"
    modprobe.write_text(f'#!/bin/sh\n: > "{mark}"\n', encoding="utf-8")
    modprobe.chmod(0o755)
    environment = {
        name: value for name, value in os.environ.items() if name != "W1THERMSENSOR_NO_KERNEL_MODULE"
    } | {"PATH": str(tmp_path)}
    subprocess.run([sys.executable, "-c", statement], env=environment, check=False, capture_output=True)
    return mark.exists()


def test_importing_it_runs_no_modprobe(tmp_path: Path) -> None:
    assert not imports_with_a_modprobe_that_tells(tmp_path, "import reefguard.hardware.one_wire")


@pytest.mark.skipif(
    w1thermsensor.W1ThermSensor.BASE_DIRECTORY.is_dir(), reason="with a 1-wire bus the library loads nothing"
)
def test_importing_the_library_alone_runs_modprobe(tmp_path: Path) -> None:
    assert imports_with_a_modprobe_that_tells(tmp_path, "import w1thermsensor")
