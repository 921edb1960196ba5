"""Files written whole or not at all, and read whatever stands in them."""

import json
import threading
from pathlib import Path
from typing import Any

import pytest
from bench_rig import DEADLINE_S
from builders import bench_settings
from hypothesis import given, settings
from hypothesis import strategies as st

from reefguard.records import safe_levels, status_file
from reefguard.records.background_saver import BackgroundSaver
from reefguard.records.files import replace_file
from reefguard.records.safe_levels import SafeLevel
from reefguard.records.status_file import NoStatus
from reefguard.settings.model import Contact, Fan, FanStage, Wiring


@pytest.mark.parametrize("durable", [True, False])
def test_a_file_is_replaced_with_its_mode_and_nothing_beside_it(tmp_path: Path, durable: bool) -> None:
    path = tmp_path / "file"
    replace_file(path, b"old", durable=durable, mode=0o600)
    replace_file(path, b"new", durable=durable, mode=0o640)
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o640
    assert list(tmp_path.iterdir()) == [path]


def test_what_cannot_be_replaced_stays_and_says_why(tmp_path: Path) -> None:
    (tmp_path / "directory").mkdir()
    (tmp_path / "directory" / "inside").touch()
    with pytest.raises(OSError, match="directory"):
        replace_file(tmp_path / "directory", b"new", durable=True)
    with pytest.raises(FileNotFoundError):
        replace_file(tmp_path / "none" / "file", b"new", durable=True)
    assert [path.name for path in tmp_path.iterdir()] == ["directory"]


def test_a_reader_sees_the_old_or_the_new_and_never_a_part(tmp_path: Path) -> None:
    path = tmp_path / "status.json"
    contents = [bytes([letter]) * 20_000 for letter in b"ab"]
    replace_file(path, contents[0], durable=False)
    done = threading.Event()

    def write() -> None:
        for turn in range(300):
            replace_file(path, contents[turn % 2], durable=False)
        done.set()

    writer = threading.Thread(target=write)
    writer.start()
    while not done.is_set():
        assert path.read_bytes() in contents
    writer.join()


def test_the_status_comes_back_as_it_was_written_and_goes_when_removed(tmp_path: Path) -> None:
    status = {"tank": "Nordriff °C", "water": {"warmest_c": 26.5625}, "findings": []}
    status_file.write(tmp_path, status)
    assert status_file.read(tmp_path / status_file.FILE_NAME) == status
    status_file.remove(tmp_path)
    status_file.remove(tmp_path)
    gone = status_file.read(tmp_path / status_file.FILE_NAME)
    assert isinstance(gone, NoStatus)
    assert "is not there" in gone.why


@given(st.binary(max_size=100) | st.sampled_from([b"[" * 100_000, b'{"a": NaN}', b'{"a": -Infinity}', b"3"]))
@settings(deadline=None)
def test_any_bytes_are_a_status_or_no_status(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "any.json"
    path.write_bytes(content)
    outcome = status_file.read(path)
    if isinstance(outcome, NoStatus):
        assert outcome.why.startswith(f"{path} is not a status file: ")
    else:
        json.dumps(outcome, allow_nan=False)


def test_safe_levels_have_the_chiller_off_first_and_each_fan_as_its_settings_name_it(tmp_path: Path) -> None:
    low_runs = Fan("low", Wiring(17, active_high=False), runs_at_rest=True)
    closed_stops = Fan("closed", Wiring(27, contact=Contact.NORMALLY_CLOSED))
    plain = bench_settings()
    assert plain.fans is not None
    crossed = bench_settings(fans=FanStage(plain.fans.cut, (low_runs, closed_stops)))
    levels = safe_levels.of(crossed)
    assert levels == (
        SafeLevel("chiller", 22, False, False),
        SafeLevel("low", 17, False, True),
        SafeLevel("closed", 27, True, False),
    )
    safe_levels.save(tmp_path, levels)
    assert safe_levels.load(tmp_path) == levels
    written = (tmp_path / safe_levels.FILE_NAME).stat()
    safe_levels.save(tmp_path, levels)
    assert (tmp_path / safe_levels.FILE_NAME).stat().st_ino == written.st_ino, "no wear where nothing changed"


values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.just(10**400) | st.text(max_size=4),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["output", "pin", "high", "load_on"]), inner, max_size=4)
    ),
    max_leaves=12,
)


@given(values)
@settings(deadline=None, max_examples=200)
def test_whatever_stands_for_safe_levels_only_pins_of_a_pi_come_back(
    tmp_path_factory: pytest.TempPathFactory, value: Any
) -> None:
    directory = tmp_path_factory.getbasetemp()
    (directory / safe_levels.FILE_NAME).write_text(json.dumps(value), encoding="utf-8")
    for level in safe_levels.load(directory):
        assert 0 <= level.pin <= 53


def test_the_newest_is_saved_the_caller_never_waits_and_trouble_is_kept_until_it_is_over() -> None:
    saved: list[int] = []
    go_on, begun = threading.Event(), threading.Event()
    failing = threading.Event()

    def save(item: int) -> None:
        begun.set()
        assert go_on.wait(DEADLINE_S)
        if failing.is_set():
            raise OSError(28, "No space left on device")
        saved.append(item)

    saver = BackgroundSaver(save)
    saver.hand_over(1)
    assert begun.wait(DEADLINE_S)
    for item in (2, 3, 4):  # the disk hangs: none of these waits for it
        saver.hand_over(item)
    assert saved == []
    go_on.set()
    saver.finish(DEADLINE_S)
    assert saved == [1, 4]

    failing.set()
    saver = BackgroundSaver(save)
    assert saver.trouble is None
    saver.hand_over(5)
    saver.finish(DEADLINE_S)
    assert saver.trouble == "No space left on device"


def test_a_saver_that_hangs_holds_up_no_end() -> None:
    never = threading.Event()
    saver: BackgroundSaver[int] = BackgroundSaver(lambda _: never.wait())  # type: ignore[arg-type]  # what it returns is nobody's
    saver.hand_over(1)
    saver.finish(patience_s=0.05)
    assert not never.is_set()
    never.set()
