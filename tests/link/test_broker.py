"""The MQTT outlet at a real mosquitto: lives, deaths, outages, passwords, certificates."""

import logging
import select
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from guard_said import alarm, seen, silent
from homie_reader import Reader
from real_broker import DEADLINE_S, Listener, Mosquitto, certificates, until

from reefguard.link.broker import BrokerOutlet
from reefguard.link.mqtt_session import Access
from reefguard.settings.link_model import Broker

STATE = "homie/5/lagoon/$state"
HIGH = alarm("water high", "display reads 28.10 °C")


@contextmanager
def _outlet(port: int, password: str | None = None, **settings: object) -> Iterator[BrokerOutlet]:
    broker = Broker(**{"host": "127.0.0.1", "port": port, "device": "lagoon", "tls": False} | settings)  # type: ignore[arg-type]  # each test says what it changes
    outlet = BrokerOutlet(broker, password, first_pause_s=0.05)
    try:
        yield outlet
    finally:
        outlet.close()


def _reader(listener: Listener) -> Reader:
    reader = Reader("lagoon")
    for topic, payload in list(listener.messages):
        reader.take(topic, payload)
    reader.finish()
    return reader


def test_a_life_from_init_to_disconnected(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker, Listener(broker.port) as listener:
        with _outlet(broker.port) as outlet:
            outlet.publish(seen())
            until(lambda: listener.last(STATE) == "ready", "ready")
            outlet.publish(seen(alarms=[HIGH]))
            until(lambda: listener.last("homie/5/lagoon/$alert/water-high"), "the alert")
            outlet.publish(silent(alarms=[HIGH]))
            until(lambda: listener.last("homie/5/lagoon/$alert/guard-silent"), "the silence")
            assert listener.last("homie/5/lagoon/water/warmest") == ""
            outlet.publish(seen())
            until(lambda: listener.last("homie/5/lagoon/$alert/water-high") == "", "its end")
            assert outlet.trouble is None
        until(lambda: listener.last(STATE) == "disconnected", "the goodbye")
        reader = _reader(listener)
    assert reader.wrong == []
    assert reader.states == ["init", "ready", "disconnected"]
    assert reader.alerts == {}


def test_who_comes_late_finds_everything_retained(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker, _outlet(broker.port) as outlet, Listener(broker.port) as early:
        outlet.publish(seen(alarms=[HIGH]))
        until(lambda: early.last(STATE) == "ready", "ready")
        with Listener(broker.port) as late:
            until(lambda: dict(late.messages) == dict(early.messages), "all retained")


def test_values_flow_once_a_period_and_events_at_once(tmp_path: Path) -> None:
    now_s = [1000.0]
    warmest = "homie/5/lagoon/water/warmest"
    water = seen().status["water"]  # type: ignore[index]  # there is one
    with Mosquitto(tmp_path) as broker, Listener(broker.port) as listener:
        settings = Broker("127.0.0.1", broker.port, "lagoon", tls=False)
        outlet = BrokerOutlet(settings, stopwatch=lambda: now_s[0])
        try:
            outlet.publish(seen())
            until(lambda: listener.last(STATE) == "ready", "ready")
            now_s[0] += 59.0
            outlet.publish(seen(water=water | {"warmest_c": 26.5}))
            now_s[0] += 1.0
            outlet.publish(seen(water=water | {"warmest_c": 27.0}))
            until(lambda: listener.last(warmest) == "27.0000", "the period's value")
            assert listener.said(warmest) == ["26.0625", "27.0000"]
            outlet.publish(seen(water=water | {"warmest_c": 27.5}, mode="schedule"))
            until(lambda: listener.last("homie/5/lagoon/guard/mode") == "schedule", "the event")
            until(lambda: listener.last(warmest) == "27.5000", "the picture with it")
        finally:
            outlet.close()


_TANK_THAT_DIES = """
import sys, time
sys.path[:0] = {path!r}
from guard_said import seen
from reefguard.link.broker import BrokerOutlet
from reefguard.settings.link_model import Broker
BrokerOutlet(Broker("127.0.0.1", {port}, "lagoon", tls=False)).publish(seen())
time.sleep(3600)
"""


def test_a_killed_link_is_lost(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker, Listener(broker.port) as listener:
        script = _TANK_THAT_DIES.format(path=sys.path, port=broker.port)
        with subprocess.Popen([sys.executable, "-c", script]) as tank:
            try:
                until(lambda: listener.last(STATE) == "ready", "ready")
            finally:
                tank.kill()
        until(lambda: listener.last(STATE) == "lost", "the will")
        with Listener(broker.port) as late:
            until(lambda: late.last(STATE) == "lost", "the will is retained")


def test_a_broker_that_dies_and_comes_back_is_told_everything_anew(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker, _outlet(broker.port) as outlet:
        with Listener(broker.port) as listener:
            outlet.publish(seen(alarms=[HIGH]))
            until(lambda: listener.last(STATE) == "ready", "ready")
        broker.kill()
        until(lambda: outlet.trouble is not None, "the loss is noticed")
        for _ in range(3000):
            # Nobody listens: nothing piles up, and the round goes on.
            outlet.publish(seen(mode="schedule"))
            outlet.publish(seen())
        broker.start()
        with Listener(broker.port) as listener:
            until(lambda: listener.last(STATE) == "ready", "ready again")
            # It kept nothing, and what was over meanwhile is not told.
            assert listener.last("homie/5/lagoon/$alert/water-high") is None
            reader = _reader(listener)
        assert reader.wrong == []
        assert reader.values["guard/mode"] == "automatic"


def test_what_an_earlier_life_left_behind_is_deleted(tmp_path: Path) -> None:
    stale = ("homie/5/lagoon/$alert/water-high", "homie/5/lagoon/probe-old/temperature")
    other = "homie/5/lagoon-2/probe-old/temperature"
    with Mosquitto(tmp_path) as broker, Listener(broker.port) as listener, _outlet(broker.port) as outlet:
        for topic in (*stale, other):
            listener.publish(topic, "25")
        outlet.publish(seen())
        until(lambda: all(listener.last(topic) == "" for topic in stale), "they are gone")
        assert listener.last(other) == "25"
        assert _reader(listener).values["probe-display/temperature"] == "26.0625"


def test_what_others_say_to_the_tank_changes_nothing(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker, Listener(broker.port) as listener, _outlet(broker.port) as outlet:
        outlet.publish(seen())
        until(lambda: listener.last(STATE) == "ready", "ready")
        before = len(listener.messages)
        listener.publish("homie/5/lagoon/output-chiller/active/set", "true")
        outlet.publish(seen(mode="schedule"))
        until(lambda: listener.last("homie/5/lagoon/guard/mode") == "schedule", "it goes on")
        # Not even an answer: what is said while it listens is not for it to delete.
        assert listener.messages[before:] == [
            ("homie/5/lagoon/output-chiller/active/set", b"true"),
            ("homie/5/lagoon/guard/mode", b"schedule"),
        ]


def _password(passwords: Path, user: str, word: str) -> None:
    flags = ["-b"] if passwords.exists() else ["-c", "-b"]
    subprocess.run(["mosquitto_passwd", *flags, passwords, user, word], check=True, capture_output=True)


def test_a_password_and_an_access_list(tmp_path: Path) -> None:
    passwords, access = tmp_path / "passwords", tmp_path / "access"
    _password(passwords, "tank", "sea")
    _password(passwords, "desk", "land")
    # As a keeper of many tanks would write it: each tank its own topics, the desk reads all.
    access.write_text(
        "user tank\ntopic readwrite homie/5/lagoon/#\n\nuser desk\ntopic read #\n", encoding="utf-8"
    )
    settings = ("allow_anonymous false", f"password_file {passwords}", f"acl_file {access}")
    with Mosquitto(tmp_path, *settings) as broker, Listener(broker.port, "desk", "land") as listener:
        with _outlet(broker.port, "wrong", user="tank") as outlet:
            outlet.publish(seen())
            until(lambda: "the broker said: Not authorized; mend: " in (outlet.trouble or ""), "the refusal")
        assert listener.messages == []
        with _outlet(broker.port, "sea", user="tank") as outlet:
            outlet.publish(seen())
            until(lambda: listener.last(STATE) == "ready", "ready")
            assert outlet.trouble is None
        with _outlet(broker.port, "sea", user="tank", device="reef") as outlet:
            outlet.publish(seen())
            until(lambda: "takes nothing below homie/5/reef" in (outlet.trouble or ""), "the refusal is told")
        assert not any("reef" in topic for topic, _ in listener.messages)


def test_a_refused_tank_is_shown_once_the_broker_is_mended(tmp_path: Path) -> None:
    passwords = tmp_path / "passwords"
    _password(passwords, "desk", "land")
    settings = ("allow_anonymous false", f"password_file {passwords}")
    with Mosquitto(tmp_path, *settings) as broker, _outlet(broker.port, "sea", user="tank") as outlet:
        outlet.publish(seen())
        until(lambda: "the broker said" in (outlet.trouble or ""), "the refusal")
        _password(passwords, "tank", "sea")
        broker.kill()
        broker.start()
        until(lambda: outlet.trouble is None, "it is let in")


def test_two_tanks_of_one_id_are_told_apart(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker, _outlet(broker.port) as one, _outlet(broker.port) as other:
        one.publish(seen())
        until(lambda: one.trouble is None, "the first")
        other.publish(seen())
        until(
            lambda: any("the same device id" in (each.trouble or "") for each in (one, other)),
            "the conflict",
        )


def test_encrypted_and_only_to_the_broker_that_the_authority_vouches_for(tmp_path: Path) -> None:
    ca, server, key = certificates(tmp_path)
    settings = ("allow_anonymous true", f"certfile {server}", f"keyfile {key}")
    with Mosquitto(tmp_path, *settings) as broker:
        with _outlet(broker.port, tls=True, ca_file=str(ca)) as outlet:
            outlet.publish(seen())
            until(lambda: outlet.trouble is None, "it is shown")
        for changes in ({"ca_file": None}, {"ca_file": str(ca), "host": "localhost"}):
            with _outlet(broker.port, tls=True, **changes) as outlet:
                outlet.publish(seen())
                until(lambda: "certificate" in (outlet.trouble or ""), "the refusal")
        with _outlet(broker.port, tls=True, ca_file=str(tmp_path / "none.crt")) as outlet:
            outlet.publish(seen())
            until(lambda: "is not there" in (outlet.trouble or ""), "the missing file")


def test_nobody_answers_and_the_round_goes_on(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    with Mosquitto(tmp_path) as broker:
        broker.kill()
        with _outlet(broker.port) as outlet:
            outlet.publish(seen())
            until(lambda: "cannot be reached" in (outlet.trouble or ""), "the trouble")
            outlet.publish(seen())
    assert len([line for line in caplog.messages if "cannot be reached" in line]) == 1, "told once"


_CONNACK = bytes([0x20, 3, 0, 0, 0])
_DISCONNECT_WITH_WILL = bytes([0xE0, 1, 4])


def test_a_broker_that_takes_everything_and_acknowledges_nothing(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as broker, _outlet(broker.getsockname()[1]) as outlet:
        outlet.publish(seen())
        for _ in range(2):
            taken, _where = broker.accept()
            with taken:
                taken.settimeout(DEADLINE_S)
                read = taken.recv(65536)
                taken.sendall(_CONNACK)
                mode = 0
                while not read.endswith((_DISCONNECT_WITH_WILL, _DISCONNECT_WITH_WILL + b"\0")):
                    # The queue has an end; at it, the outlet leaves, and begins anew.
                    for _ in range(200):
                        mode += 1
                        outlet.publish(seen(mode=("automatic", "schedule")[mode % 2]))
                    if select.select([taken], [], [], 0.05)[0]:
                        read += taken.recv(1 << 20)
                    assert mode < 10_000, "the queue has no end"


def test_a_host_that_cannot_be_one_is_said() -> None:
    with _outlet(1883, host="broker..example") as outlet:
        outlet.publish(seen())
        until(lambda: "broker..example:1883 cannot be reached" in (outlet.trouble or ""), "the trouble")


def test_closing_what_was_never_opened_is_nothing() -> None:
    with _outlet(1):
        pass


def test_a_password_is_never_shown() -> None:
    assert "sea" not in repr(Access("broker.example", 8883, tls=True, user="tank", password="sea"))  # noqa: S106  a test's word
