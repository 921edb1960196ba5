"""The probes in the background: one that hangs hides nothing, and nothing waits for it."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reefguard.hardware.probes import BackgroundProbes, next_due_s, read_humidity, room_of
from reefguard.rehearsal.bench_wire import BenchProbe
from reefguard.settings.model import RoomAirSource, WaterProbe
from reefguard.vocabulary import Cause, Missed, RoomAir, Sampled, Wall

LEFT = WaterProbe("left", "28-00000000000a")
RIGHT = WaterProbe("right", "28-00000000000b")
ROOM_ROM_ID = "28-00000000000c"


class HandClock:
    """A clock that stands still until a test moves it; waits on it are short."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def boot_s(self) -> float:
        return self.now_s

    def boot_id(self) -> str:
        return "test"

    def wall(self) -> Wall:
        return Wall(datetime(2026, 7, 1, tzinfo=UTC), trusted=True)

    def real_seconds(self, span_s: float) -> float:
        return 0.002


def eventually(is_so: Callable[[], bool]) -> None:
    """Wait until `is_so`; a minute is for machines that do something else meanwhile."""
    deadline_s = time.monotonic() + 60
    while not is_so():
        assert time.monotonic() < deadline_s, "waited in vain"
        time.sleep(0.005)


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@contextmanager
def reading(
    bus: Path, clock: HandClock, *water: WaterProbe, room: RoomAirSource | None = None
) -> Iterator[BackgroundProbes]:
    probes = BackgroundProbes(water, room, one_wire_directory=bus, sampling_s=5.0, clock=clock)
    try:
        yield probes
    finally:
        probes.stop()


def under_way_since(probes: BackgroundProbes, name: str) -> float | None:
    """Return when the read of a probe began that has not come back."""
    return probes._water[name]._began_s


def test_each_probe_is_known_by_its_name_not_by_its_order(tmp_path: Path, clock: HandClock) -> None:
    BenchProbe(tmp_path, RIGHT.rom_id).show(26.5)
    BenchProbe(tmp_path, LEFT.rom_id).show(25.0)
    with reading(tmp_path, clock, RIGHT, LEFT) as probes:
        eventually(lambda: all(isinstance(sample, Sampled) for sample in probes.latest().values()))
        assert probes.latest() == {"left": Sampled(25.0, 1000.0), "right": Sampled(26.5, 1000.0)}


def test_a_sample_bears_the_time_at_which_its_read_returned(tmp_path: Path, clock: HandClock) -> None:
    wire = BenchProbe(tmp_path, LEFT.rom_id)
    wire.show(25.0)
    with reading(tmp_path, clock, LEFT) as probes:
        eventually(lambda: probes.latest()["left"] == Sampled(25.0, 1000.0))
        wire.show(25.5)
        clock.now_s = 1007.0
        eventually(lambda: probes.latest()["left"] == Sampled(25.5, 1007.0))


def test_before_the_first_read_there_is_none(tmp_path: Path, clock: HandClock) -> None:
    wire = BenchProbe(tmp_path, LEFT.rom_id)
    wire.hang()
    with reading(tmp_path, clock, LEFT) as probes:
        assert probes.latest() == {"left": Missed(Cause.NOT_YET, 1000.0)}
        wire.show(25.0)


def test_a_hung_probe_is_missed_after_its_deadline_and_the_others_go_on(
    tmp_path: Path, clock: HandClock
) -> None:
    left, right = BenchProbe(tmp_path, LEFT.rom_id), BenchProbe(tmp_path, RIGHT.rom_id)
    left.hang()
    right.show(26.0)
    with reading(tmp_path, clock, LEFT, RIGHT) as probes:
        eventually(lambda: under_way_since(probes, "left") == 1000.0)
        eventually(lambda: probes.latest()["right"] == Sampled(26.0, 1000.0))
        clock.now_s = 1005.0
        assert probes.latest()["left"] == Missed(Cause.NOT_YET, 1000.0)
        clock.now_s = 1005.1
        assert probes.latest()["left"] == Missed(Cause.NO_ANSWER, 1005.0)
        right.show(26.5)
        eventually(lambda: probes.latest()["right"] == Sampled(26.5, 1005.1))
        clock.now_s = 2000.0
        assert probes.latest()["left"] == Missed(Cause.NO_ANSWER, 1005.0)
        left.show(25.0)
        eventually(lambda: probes.latest()["left"] == Sampled(25.0, 2000.0))


def test_a_hung_probe_does_not_hold_up_the_stop(tmp_path: Path, clock: HandClock) -> None:
    wire = BenchProbe(tmp_path, LEFT.rom_id)
    wire.hang()
    with reading(tmp_path, clock, LEFT) as probes:
        eventually(lambda: under_way_since(probes, "left") == 1000.0)
        probes.stop()
        assert probes.latest()["left"] == Missed(Cause.NOT_YET, 1000.0)
    wire.show(25.0)  # the read that hung ends, and is the last


def test_after_the_stop_nothing_is_read(tmp_path: Path, clock: HandClock) -> None:
    wire = BenchProbe(tmp_path, LEFT.rom_id)
    wire.hang()
    with reading(tmp_path, clock, LEFT) as probes:
        eventually(lambda: under_way_since(probes, "left") == 1000.0)
        probes.stop()
        wire.show_nothing()
        eventually(lambda: probes.latest()["left"] == Missed(Cause.EMPTY, 1000.0))
        wire.show(25.0)
        clock.now_s = 1100.0
        time.sleep(0.05)  # many rhythms of the test's clock, for a reader that had not ended
        assert probes.latest()["left"] == Missed(Cause.EMPTY, 1000.0)


def test_a_probe_that_fails_and_one_that_vanishes_come_back(tmp_path: Path, clock: HandClock) -> None:
    wire = BenchProbe(tmp_path, LEFT.rom_id)
    wire.show(25.0)
    with reading(tmp_path, clock, LEFT) as probes:
        for fault, cause in (
            (wire.show_nothing, Cause.EMPTY),
            (wire.fail_checksum, Cause.CRC),
            (wire.short_line, Cause.ZEROS),
            (wire.vanish, Cause.ABSENT),
        ):
            wire.restore()
            eventually(lambda: isinstance(probes.latest()["left"], Sampled))
            fault()
            missed = Missed(cause, 1000.0)
            eventually(lambda: probes.latest()["left"] == missed)  # noqa: B023  ended within the loop's turn


def test_the_rooms_air_and_its_humidity(tmp_path: Path, clock: HandClock) -> None:
    humidity = tmp_path / "in_humidityrelative_input"
    humidity.write_text("62500\n", encoding="ascii")
    BenchProbe(tmp_path, ROOM_ROM_ID).show(28.25)
    with reading(tmp_path, clock, room=RoomAirSource(ROOM_ROM_ID, str(humidity))) as probes:
        eventually(lambda: probes.room() == RoomAir(28.25, 0.625, 1000.0))
        assert probes.latest() == {}


def test_without_a_room_sensor_there_is_no_room(tmp_path: Path, clock: HandClock) -> None:
    with reading(tmp_path, clock, LEFT) as probes:
        assert probes.room() is None


def test_a_fault_of_one_of_the_rooms_parts_leaves_the_other(tmp_path: Path, clock: HandClock) -> None:
    humidity = tmp_path / "in_humidityrelative_input"
    wire = BenchProbe(tmp_path, ROOM_ROM_ID)
    wire.show(28.25)
    with reading(tmp_path, clock, room=RoomAirSource(ROOM_ROM_ID, str(humidity))) as probes:
        eventually(lambda: probes.room() == RoomAir(28.25, None, 1000.0))
        humidity.write_text("62500\n", encoding="ascii")
        wire.show_nothing()
        eventually(lambda: probes.room() == RoomAir(None, 0.625, 1000.0))
        humidity.unlink()
        eventually(lambda: probes.room() is None)


def test_the_rooms_time_is_that_of_its_older_part() -> None:
    air, humidity = Sampled(28.25, 1000.0), Sampled(0.5, 1003.0)
    assert room_of(air, humidity) == RoomAir(28.25, 0.5, 1000.0)
    assert room_of(Sampled(28.25, 1004.0), humidity) == RoomAir(28.25, 0.5, 1003.0)


@pytest.mark.parametrize("show", [BenchProbe.lose_power, BenchProbe.fail_conversion])
def test_no_measurement_is_no_room_temperature(
    tmp_path: Path, clock: HandClock, show: Callable[[BenchProbe], None]
) -> None:
    humidity = tmp_path / "in_humidityrelative_input"
    humidity.write_text("50000\n", encoding="ascii")
    show(BenchProbe(tmp_path, ROOM_ROM_ID))
    with reading(tmp_path, clock, room=RoomAirSource(ROOM_ROM_ID, str(humidity))) as probes:
        eventually(lambda: probes.room() is not None)
        assert probes.room() == RoomAir(None, 0.5, 1000.0)


@pytest.mark.parametrize(
    ("shown_c", "known_c"), [(-10.0, -10.0), (-10.0625, None), (60.0, 60.0), (60.0625, None)]
)
def test_a_rooms_air_lies_between_frost_and_fire(
    tmp_path: Path, clock: HandClock, shown_c: float, known_c: float | None
) -> None:
    humidity = tmp_path / "in_humidityrelative_input"
    humidity.write_text("50000\n", encoding="ascii")
    BenchProbe(tmp_path, ROOM_ROM_ID).show(shown_c)
    with reading(tmp_path, clock, room=RoomAirSource(ROOM_ROM_ID, str(humidity))) as probes:
        eventually(lambda: probes.room() == RoomAir(known_c, 0.5, 1000.0))


@pytest.mark.parametrize(
    ("content", "reading"),
    # Linux, Documentation/ABI/testing/sysfs-bus-iio: milli percent.
    [
        (b"0\n", 0.0),
        (b"45300\n", 0.453),
        (b"100000\n", 1.0),
        (b"100001\n", Cause.OUT_OF_RANGE),
        (b"-1\n", Cause.OUT_OF_RANGE),
        (b"nan\n", Cause.OUT_OF_RANGE),
        (b"", Cause.MALFORMED),
        (b"45 %\n", Cause.MALFORMED),
        (b"\xff\xfe", Cause.MALFORMED),
    ],
)
def test_humidity_is_thousandths_of_a_per_cent(
    tmp_path: Path, content: bytes, reading: float | Cause
) -> None:
    file = tmp_path / "in_humidityrelative_input"
    file.write_bytes(content)
    assert read_humidity(file) == reading


def test_no_humidity_file_and_none_that_can_be_read(tmp_path: Path) -> None:
    assert read_humidity(tmp_path / "none") is Cause.ABSENT
    assert read_humidity(tmp_path) is Cause.UNREADABLE


@given(
    reads=st.lists(st.floats(0.01, 60.0), min_size=1, max_size=50), period_s=st.sampled_from([1.0, 5.0, 7.5])
)
def test_the_rhythm_never_drifts_whatever_the_reads_take(reads: list[float], period_s: float) -> None:
    due_s = 0.0
    for took_s in reads:
        now_s = due_s + took_s
        after_s = next_due_s(due_s, now_s, period_s)
        assert after_s >= now_s
        assert after_s - now_s < period_s
        assert (after_s / period_s).is_integer()
        due_s = after_s
