"""Reset requests: obeyed once, never old ones, never hung, never the same one for ever."""

import os
import pwd
import stat
from pathlib import Path

import pytest

from reefguard.cutoff import resets
from reefguard.cutoff.resets import Request, RequestDesk, ask_for_reset


@pytest.fixture
def desk(tmp_path: Path) -> RequestDesk:
    return RequestDesk(tmp_path)


def test_a_request_is_taken_once(tmp_path: Path, desk: RequestDesk) -> None:
    request = ask_for_reset(tmp_path, "alex")
    assert request.who == "alex"
    assert desk.take() == [request]
    assert desk.take() == []


def test_each_request_has_a_name_of_its_own(tmp_path: Path, desk: RequestDesk) -> None:
    asked = [ask_for_reset(tmp_path, "alex") for _ in range(3)]
    assert sorted(desk.take(), key=lambda request: request.name) == sorted(
        asked, key=lambda request: request.name
    )
    assert len({request.name for request in asked}) == 3


def test_a_request_from_before_the_start_is_not_obeyed(tmp_path: Path, desk: RequestDesk) -> None:
    ask_for_reset(tmp_path, "alex")
    assert RequestDesk(tmp_path).take() == []


def test_a_request_withdrawn_is_not_obeyed(tmp_path: Path, desk: RequestDesk) -> None:
    request = ask_for_reset(tmp_path, "alex")
    request.withdraw(tmp_path)
    request.withdraw(tmp_path)
    assert desk.take() == []


def test_who_asks_is_the_user_where_nobody_called_sudo(tmp_path: Path, desk: RequestDesk) -> None:
    assert ask_for_reset(tmp_path, None).who == pwd.getpwuid(os.getuid()).pw_name


def test_who_asks_may_have_no_name(
    tmp_path: Path, desk: RequestDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "getuid", lambda: 4_000_000)
    assert ask_for_reset(tmp_path, None).who == "user 4000000"


def test_only_owner_and_group_may_ask(tmp_path: Path, desk: RequestDesk) -> None:
    mode = (tmp_path / resets.DIRECTORY_NAME).stat().st_mode
    assert stat.S_IMODE(mode) == 0o770


def test_what_is_still_being_written_is_left(tmp_path: Path, desk: RequestDesk) -> None:
    (tmp_path / resets.DIRECTORY_NAME / ".being-written").touch()
    assert desk.take() == []


def test_the_name_of_who_asks_cannot_forge_a_line(tmp_path: Path, desk: RequestDesk) -> None:
    (tmp_path / resets.DIRECTORY_NAME / "a").write_bytes(b"alex\n\x1b[31m\xff" + b"x" * 500)
    (request,) = desk.take()
    assert request.who.isprintable()
    assert request.who.startswith("alex[31m")
    assert len(request.who) < 210


def test_a_name_that_is_no_text_can_be_told(tmp_path: Path, desk: RequestDesk) -> None:
    """It goes into the status file, as the name of the request that was answered."""
    Path(os.fsdecode(os.fsencode(tmp_path / resets.DIRECTORY_NAME) + b"/\xff\xfe")).touch()
    (request,) = desk.take()
    assert request.name == "??"
    assert desk.take() == []


@pytest.mark.parametrize("kind", ["fifo", "link to nowhere", "link to a device", "empty"])
def test_what_is_no_file_of_words_neither_stops_it_nor_names_anybody(
    tmp_path: Path, desk: RequestDesk, kind: str
) -> None:
    path = tmp_path / resets.DIRECTORY_NAME / "odd"
    match kind:
        case "fifo":
            os.mkfifo(path)
        case "link to nowhere":
            path.symlink_to(tmp_path / "nowhere")
        case "link to a device":
            path.symlink_to("/dev/zero")
        case "empty":
            path.touch()
    assert desk.take() == [Request("odd", "unknown")]
    assert desk.take() == []


def test_what_cannot_be_removed_is_not_obeyed(tmp_path: Path, desk: RequestDesk) -> None:
    (tmp_path / resets.DIRECTORY_NAME / "directory").mkdir()
    assert desk.take() == []


def test_a_desk_that_is_gone_has_no_requests(tmp_path: Path, desk: RequestDesk) -> None:
    (tmp_path / resets.DIRECTORY_NAME).rmdir()
    assert desk.take() == []
