"""The kernel's files as the bench writes them, against published bytes."""

import threading
from pathlib import Path

import pytest

from reefguard.rehearsal.bench_wire import BenchProbe, crc8, register_of, scratchpad, w1_slave

ROM_ID = "28-0b1c2d3e4f50"


@pytest.fixture
def probe(tmp_path: Path) -> BenchProbe:
    return BenchProbe(tmp_path, ROM_ID)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / ROM_ID / "w1_slave"


@pytest.mark.parametrize(
    ("content", "crc"),
    [
        ("02 1c b8 01 00 00 00", 0xA2),  # Maxim application note 27, example 2
        ("72 01 4b 46 7f ff 0e 10", 0x57),  # Linux, Documentation/w1/slaves/w1_therm.rst
        ("50 05 4b 46 7f ff 0c 10", 0x1C),  # C. Petrich, counterfeit_DS18B20, README: a genuine power-on
        ("50 05 00 00 1f ff 0c 10", 0x74),  # the same, 9 bit
        ("28 13 9b bb 0b 00 00", 0x1F),  # the same, a ROM code
        ("00 00 00 00 00 00 00 00", 0x00),  # which is why zeros pass it
    ],
)
def test_the_checksum_is_the_published_one(content: str, crc: int) -> None:
    assert crc8(bytes.fromhex(content)) == crc


@pytest.mark.parametrize(
    ("water_c", "low_bytes", "millidegrees"),
    # DS18B20 data sheet (19-7487 Rev 6), Table 1; the last column is the kernel's integer
    # arithmetic, register * 1000 / 16, which drops what is left over.
    [
        (+125.0, "d0 07", "125000"),
        (+85.0, "50 05", "85000"),
        (+25.0625, "91 01", "25062"),
        (+10.125, "a2 00", "10125"),
        (+0.5, "08 00", "500"),
        (0.0, "00 00", "0"),
        (-0.5, "f8 ff", "-500"),
        (-10.125, "5e ff", "-10125"),
        (-25.0625, "6f fe", "-25062"),
        (-55.0, "90 fc", "-55000"),
    ],
)
def test_each_row_of_the_data_sheet_table_as_the_kernel_writes_it(
    water_c: float, low_bytes: str, millidegrees: str
) -> None:
    first, second = w1_slave(scratchpad(register_of(water_c))).splitlines()
    assert first.startswith(low_bytes)
    assert first.endswith(" YES")
    assert second.startswith(low_bytes)
    assert second.endswith(f" t={millidegrees}")


def test_the_kernels_example_byte_for_byte(probe: BenchProbe, file: Path) -> None:
    # Linux, Documentation/w1/slaves/w1_therm.rst.
    probe.show(23.125)
    assert file.read_bytes() == (
        b"72 01 4b 46 7f ff 0e 10 57 : crc=57 YES\n72 01 4b 46 7f ff 0e 10 57 t=23125\n"
    )


@pytest.mark.parametrize(("water_c", "shown"), [(25.03, "25000"), (25.04, "25062"), (-0.04, "-62")])
def test_a_temperature_is_shown_in_sixteenths(
    probe: BenchProbe, file: Path, water_c: float, shown: str
) -> None:
    probe.show(water_c)
    assert file.read_text().splitlines()[1].endswith(f" t={shown}")


def test_each_fault_as_the_kernel_writes_it(probe: BenchProbe, file: Path) -> None:
    probe.show(23.125)
    probe.show_nothing()
    assert file.read_bytes() == b""
    probe.fail_checksum()
    first, second = file.read_text().splitlines()
    assert first.startswith("76 01 4b 46 7f ff 0e 10 57 : crc=")
    assert first.endswith(" NO")
    assert not first.endswith("crc=57 NO")
    assert second == "72 01 4b 46 7f ff 0e 10 57 t=23125"
    probe.short_line()
    assert file.read_text() == "00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n"
    probe.lose_power()
    # C. Petrich, counterfeit_DS18B20, README: the scratchpad of a genuine chip at power-on.
    assert file.read_text().startswith("50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n")
    assert file.read_text().endswith(" t=85000\n")
    probe.fail_conversion()
    assert file.read_text().startswith("ff 07 4b 46 7f ff 0c 10 ")
    assert file.read_text().endswith(" t=127937\n")
    probe.vanish()
    assert not file.parent.exists()
    probe.vanish()
    probe.restore()
    assert file.read_text().endswith(" t=23125\n")


def test_a_probe_that_was_never_shown_holds_its_power_on_value(probe: BenchProbe, file: Path) -> None:
    probe.restore()
    assert file.read_text().endswith(" t=85000\n")


@pytest.mark.parametrize("end", ["restore", "hang", "vanish", "show_nothing"])
def test_a_read_that_hangs_ends_with_nothing_when_the_fault_ends(
    probe: BenchProbe, file: Path, end: str
) -> None:
    probe.hang()
    begins = threading.Event()
    read: list[bytes] = []

    def waits() -> None:
        begins.set()
        read.append(file.read_bytes())

    reader = threading.Thread(target=waits, daemon=True)
    reader.start()
    begins.wait()
    reader.join(0.2)  # long past the opening of the pipe
    assert reader.is_alive()
    getattr(probe, end)()
    reader.join(60)
    assert read == [b""]


def test_no_reader_ever_sees_half_a_file(probe: BenchProbe, file: Path) -> None:
    shown = {w1_slave(scratchpad(register_of(water_c))).encode() for water_c in (25.0, 26.0)}
    probe.show(25.0)
    seen: set[bytes] = set()
    done = threading.Event()

    def watch() -> None:
        while not done.is_set():
            seen.add(file.read_bytes())

    watcher = threading.Thread(target=watch)
    watcher.start()
    for turn in range(2000):
        probe.show(25.0 + turn % 2)
    done.set()
    watcher.join()
    assert seen <= shown
    assert [left.name for left in file.parent.iterdir()] == ["w1_slave"]
