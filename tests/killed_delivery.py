"""Alarms on their way from the guard's disk to a receiver, while each of the three is killed at any moment.

    python tests/killed_delivery.py 5000

by hand for thousands; a test does the same with some hundreds.  Each is a process of its own: one writes
alarms with the guard's own store, the link carries them, and a receiver writes down what it takes before it
says that it has.
"""

import json
import os
import random
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import closing
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

from link_rig import BOOT_ID, GuardFiles, LinkFiles, start_link

from reefguard.records.event_store import EventStore
from reefguard.records.events import Event

# A grace for slow machines, not a measure of anything.
_PATIENCE_S = 600.0


def name_of(number: int) -> str:
    """Return the name of one of the alarms."""
    return f"probe p{number:05d} not used"


def write(directory: Path, count: int) -> None:
    """Raise alarms one after the other, from where the last writer was killed."""
    store = EventStore(directory)
    with closing(sqlite3.connect(directory / "events.db")) as database:
        written = database.execute("SELECT count(*) FROM events").fetchone()[0]
    for number in range(written, count):
        event = Event(
            boot_id=BOOT_ID,
            at_boot_s=time.clock_gettime(time.CLOCK_BOOTTIME),
            at_wall="2026-07-01T12:00:00+01:00",
            clock_trusted=True,
            kind="alarm",
            subject=name_of(number),
            change="raised",
            what=f"the probe gives nothing ({number})",
            priority=4,
        )
        store.append([event])
        time.sleep(0.02)
    store.close()


def receive(port: int, kept: Path) -> None:
    """Take messages; each is on the disk before the sender hears of it."""

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            content = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
            with kept.open("a", encoding="utf-8") as file:
                file.write(json.dumps(content) + "\n")
                file.flush()
                os.fsync(file.fileno())
            self.send_response(200)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002  the library's own name
            pass

    HTTPServer(("127.0.0.1", port), Handler).serve_forever()


class Delivery:
    """The three, each of which may be killed and started again."""

    def __init__(self, directory: Path, count: int) -> None:
        """Make the files; nothing is started yet."""
        self._kept = directory / "received.jsonl"
        self._kept.touch()
        with closing(socket.socket()) as free:
            free.bind(("127.0.0.1", 0))
            self._port = free.getsockname()[1]
        self._guard = GuardFiles(directory)
        (self._guard.state / "events.db").unlink()
        self._files = LinkFiles(
            directory,
            self._guard,
            {"hook": f"json://127.0.0.1:{self._port}/hook\n"},
            "  channels:\n    hook: {secret: hook, lowest: low, repeat_after: never}\n",
        )
        self._count = count
        self._processes: dict[str, subprocess.Popen[Any]] = {}
        self.kills = {"writer": 0, "link": 0, "receiver": 0}

    def start(self, name: str) -> None:
        """Start one of them."""
        if name == "link":
            self._processes[name] = start_link(self._files)
            return
        role = {
            "writer": ["write", str(self._guard.state), str(self._count)],
            "receiver": ["receive", str(self._port), str(self._kept)],
        }[name]
        self._processes[name] = subprocess.Popen([sys.executable, __file__, *role])

    def kill(self, name: str) -> None:
        """Kill one of them, if it has not come to its end."""
        process = self._processes[name]
        if process.poll() is None:
            self.kills[name] += 1
        process.kill()
        process.wait()

    def live(self, seed: int) -> None:
        """Let them work and die until all alarms are written, then until all have arrived."""
        chance = random.Random(seed)  # noqa: S311  to be the same each time
        self._guard.status()
        self.start("writer")
        # The link tells what happens from its own first start on, and what stands then.
        until_s = time.monotonic() + _PATIENCE_S
        for name in ("receiver", "link"):
            self.start(name)
        victims: list[str] = []
        while self._processes["writer"].poll() != 0:
            assert time.monotonic() < until_s, "the writer came to no end"
            time.sleep(chance.uniform(0.2, 1.5))
            self._guard.status()
            if not victims:
                victims = ["writer", "link", "link", "receiver"]
                chance.shuffle(victims)
            name = victims.pop()
            self.kill(name)
            # Dead for a moment, or for long enough that the others notice.
            time.sleep(chance.choice((0.0, 0.0, 0.5)))
            self.start(name)
        while name_of(self._count - 1) not in self._kept.read_text(encoding="utf-8"):
            assert time.monotonic() < until_s, "the last one did not arrive"
            self._guard.status()
            time.sleep(0.1)

    def close(self) -> None:
        """Leave none of them behind."""
        for process in self._processes.values():
            process.kill()
            process.wait()

    def judge(self) -> str:
        """Return what arrived, in a sentence; every alarm did, in order, and little came twice.

        Raises:
            AssertionError: that is not so.
        """
        got = [json.loads(line) for line in self._kept.read_text(encoding="utf-8").splitlines()]
        names = [name_of(number) for number in range(self._count)]
        ids = [one["message"].rpartition("[")[2].rstrip("]") for one in got]
        repeats = len(ids) - len(set(ids))
        # A message is sent again where its receiver, or the link, died between taking it and noting that.
        assert repeats <= self.kills["link"] + self.kills["receiver"], (repeats, self.kills)
        seen: list[str] = []
        known: set[str] = set()
        for one in got:
            text = f"{one['title']}\n{one['message']}"
            new = [name for name in _named(text) if name not in known]
            seen += new
            known.update(new)
        assert seen == names, next(
            (pair for pair in zip(seen, names, strict=False) if pair[0] != pair[1]), ""
        )
        with closing(sqlite3.connect(self._files.state / "outbox.db")) as database:
            twice = database.execute(
                "SELECT seq FROM told GROUP BY channel, seq, purpose HAVING count(*) > 1"
            ).fetchall()
        assert twice == []
        return f"{self._count} alarms in {len(got)} messages, {repeats} of them twice; kills: {self.kills}"


def _named(text: str) -> Sequence[str]:
    return [
        f"probe {word} not used"
        for word in text.split()
        if len(word) == 6 and word[0] == "p" and word[1:].isdecimal()
    ]


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["write", directory, count]:
            write(Path(directory), int(count))
        case ["receive", port, kept]:
            receive(int(port), Path(kept))
        case [count]:
            with tempfile.TemporaryDirectory() as directory:
                delivery = Delivery(Path(directory), int(count))
                try:
                    delivery.live(1)
                    print(delivery.judge())  # noqa: T201  run by hand
                finally:
                    delivery.close()
