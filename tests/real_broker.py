"""A real mosquitto on the loopback address, and somebody who listens to it."""

import os
import shutil
import socket
import subprocess
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Self

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

DEADLINE_S = 60.0
LOOK_EVERY_S = 0.02


def mosquitto_path() -> str:
    """Return where mosquitto is; without it a test is skipped, and fails where CI promises it."""
    # Debian keeps it out of a user's path.
    found = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
    if found is None:
        missing = "mosquitto is not installed; mend: apt-get install mosquitto"
        if os.environ.get("CI") == "true":
            pytest.fail(missing)
        pytest.skip(missing)
    return found


def until(met: Callable[[], object], what: str) -> None:
    """Wait until something holds; a deadline far beyond need ends a test that would hang."""
    end_s = time.monotonic() + DEADLINE_S
    while not met():
        assert time.monotonic() < end_s, f"never happened: {what}"
        time.sleep(LOOK_EVERY_S)


def free_port() -> int:
    """Return a port nobody listens on."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
        return port


def certificates(directory: Path) -> tuple[Path, Path, Path]:
    """Have openssl make an authority, a certificate of 127.0.0.1 and its key; return these."""
    ca, ca_key, server, server_key = (directory / name for name in ("ca.crt", "ca.key", "s.crt", "s.key"))
    extensions = directory / "s.ext"
    extensions.write_text(
        "subjectAltName=IP:127.0.0.1\nauthorityKeyIdentifier=keyid\nbasicConstraints=critical,CA:FALSE\n",
        encoding="ascii",
    )
    new = ["openssl", "req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"]
    usage = ["-addext", "keyUsage=critical,keyCertSign,cRLSign"]
    commands: tuple[list[str | Path], ...] = (
        [*new, "-x509", "-days", "2", "-subj", "/CN=a test's own", *usage, "-keyout", ca_key, "-out", ca],
        [*new, "-subj", "/CN=127.0.0.1", "-keyout", server_key, "-out", directory / "s.csr"],
        ["openssl", "x509", "-req", "-in", directory / "s.csr", "-CA", ca, "-CAkey", ca_key, "-days", "2",
         "-CAcreateserial", "-extfile", extensions, "-out", server],
    )  # fmt: skip
    for command in commands:
        subprocess.run(command, check=True, capture_output=True)
    return ca, server, server_key


class Mosquitto:
    """One broker; `with Mosquitto(...)` leaves none running."""

    def __init__(self, directory: Path, *settings: str) -> None:
        """Write its configuration: anonymous unless `settings` say otherwise."""
        self.port = free_port()
        self._program = mosquitto_path()
        self._log = directory / "mosquitto.log"
        self._configuration = directory / "mosquitto.conf"
        lines = (
            f"listener {self.port} 127.0.0.1",
            # Else a broker started by root becomes a user that cannot read a test's files.
            "user root",
            # Else it drops what fifty tanks say at once to a listener that is slow to read: 1000 by default.
            "max_queued_messages 0",
            *(settings or ("allow_anonymous true",)),
        )
        self._configuration.write_text("\n".join(lines) + "\n", encoding="utf-8")
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()

    def start(self) -> None:
        """Start it, and wait until it answers."""
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(
                [self._program, "-c", str(self._configuration)], stdout=log, stderr=log
            )
        until(self._answers, f"mosquitto answers: {self._log.read_text(encoding='utf-8')}")

    def kill(self) -> None:
        """Kill it, as a power cut does."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(DEADLINE_S)

    def _answers(self) -> bool:
        assert self._process is not None
        assert self._process.poll() is None, self._log.read_text(encoding="utf-8")
        try:
            socket.create_connection(("127.0.0.1", self.port), 1.0).close()
        except OSError:
            return False
        return True


class Listener:
    """Somebody at the broker: keeps every message, in order."""

    def __init__(self, port: int, user: str | None = None, password: str | None = None) -> None:
        """Listen to everything a broker has and gets."""
        self.messages: list[tuple[str, bytes]] = []
        self.ready = threading.Event()
        self._client = Client(
            CallbackAPIVersion.VERSION2,
            protocol=MQTTProtocolVersion.MQTTv5,
            # It comes back after the broker was away.
            reconnect_on_failure=True,
        )
        self._client.reconnect_delay_set(1, 1)
        if user is not None:
            self._client.username_pw_set(user, password)
        self._client.on_message = self._take
        self._client.on_connect = self._subscribe
        self._client.on_subscribe = lambda *_: self.ready.set()
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        assert self.ready.wait(DEADLINE_S)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def said(self, topic: str) -> list[str]:
        """Return all that has been said on a topic."""
        return [payload.decode() for where, payload in list(self.messages) if where == topic]

    def last(self, topic: str) -> str | None:
        """Return the last that was said on a topic."""
        said = self.said(topic)
        return said[-1] if said else None

    def publish(self, topic: str, payload: str) -> None:
        """Say something, retained."""
        self._client.publish(topic, payload, qos=2, retain=True).wait_for_publish(DEADLINE_S)

    def _subscribe(self, client: Client, *_: object) -> None:
        client.subscribe("#", 2)

    def _take(self, _client: Client, _userdata: object, message: MQTTMessage) -> None:
        self.messages.append((message.topic, bytes(message.payload)))
