"""Promise 11: a heartbeat goes out only for a tank in good hands, so silence is an alarm."""

from pathlib import Path
from typing import Any

import pytest
from link_rig import Receiver, wait_for

from reefguard.link.heartbeat import HeartbeatSender, called, why_not
from reefguard.link.ports import Snapshot
from reefguard.link.secrets import Secrets
from reefguard.settings.link_model import Heartbeat


def shown(*names: str, fresh: bool = True) -> Snapshot:
    status: dict[str, Any] = {"findings": [{"name": name} for name in names]}
    return Snapshot(status, fresh, 1.0)


@pytest.mark.parametrize(
    "name", ["cutoff silent", "storage failing", "status not written", "fan1 not driven"]
)
def test_what_keeps_the_guard_from_its_work_or_from_telling_stops_it(name: str) -> None:
    assert why_not(shown("water high", name), hearing=True, delivering=True) == name


@pytest.mark.parametrize("name", ["water far too high", "no water", "cutoff tripped", "time unknown"])
def test_what_the_alarms_tell_of_does_not(name: str) -> None:
    assert why_not(shown(name), hearing=True, delivering=True) is None


@pytest.mark.parametrize("findings", [None, "x", [1], [{}], [{"name": 7}]])
def test_a_status_that_is_not_understood_is_no_reason(findings: object) -> None:
    assert (
        why_not(Snapshot({"findings": findings}, fresh=True, age_s=0.0), hearing=True, delivering=True)
        is None
    )


def test_silence_deafness_and_dumbness_stop_it() -> None:
    assert why_not(shown(fresh=False), hearing=True, delivering=True) == "the guard is silent"
    assert why_not(Snapshot(None, fresh=False, age_s=None), hearing=True, delivering=True)
    assert why_not(shown(), hearing=False, delivering=True)
    assert why_not(shown(), hearing=True, delivering=False) == "no channel delivers"


@pytest.mark.parametrize("post", [True, False])
def test_it_calls_the_address_while_all_is_well(tmp_path: Path, post: bool) -> None:
    with Receiver() as receiver:
        (tmp_path / "watcher").write_text(f"http://127.0.0.1:{receiver.port}/ping/tank", encoding="utf-8")
        (tmp_path / "watcher").chmod(0o600)
        sender = HeartbeatSender(Heartbeat("watcher", 0.01, post), Secrets(tmp_path, {}))
        sender.start()
        assert receiver.calls == [], "not before the first round"
        sender.round(None)
        wait_for(lambda: len(receiver.calls) >= 2, "two heartbeats")
        sender.round("cutoff silent")
        wait_for(lambda: sender.trouble == "held back: cutoff silent", "the hold")
        sender.round(None)
        wait_for(lambda: sender.trouble is None, "the next")
        sender.end(30.0)
    assert set(receiver.calls) == {f"{'POST' if post else 'GET'} /ping/tank"}


def test_rounds_that_have_stopped_are_no_sign_of_life(tmp_path: Path) -> None:
    now_s = [0.0]
    sender = HeartbeatSender(Heartbeat("watcher", 0.01), Secrets(tmp_path, {}), stopwatch=lambda: now_s[0])
    sender.round(None)
    now_s[0] = 31.0
    assert sender._beat() == "the link's own rounds have stopped"
    now_s[0] = 29.0
    assert "is not there" in str(sender._beat())


def test_what_goes_wrong_is_said_without_the_address() -> None:
    with Receiver() as receiver:
        receiver.refuses = True
        told = called(f"http://127.0.0.1:{receiver.port}/ping/hushhush", post=False)
    assert told is not None
    assert told.startswith("not delivered:")
    gone = called(f"http://127.0.0.1:{receiver.port}/ping/hushhush", post=False)
    assert gone is not None
    assert "hushhush" not in told + gone
    assert called("ftp://hushhush", post=False) == "its address begins with neither http:// nor https://"
    assert called("http://[hushhush", post=False)
