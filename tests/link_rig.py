"""The link's surroundings in tests: a guard's files, a receiver on loopback, and the link as a process."""

import json
import os
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import closing
from datetime import datetime, timedelta, timezone
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from settings_files import SHORTEST

from reefguard.link.notes import Now
from reefguard.records.events import Event, Recorded

# The contract between guard and link, as it is written down for both.
EVENTS_SQL = """
PRAGMA application_id=0x52474556; PRAGMA user_version=1; PRAGMA journal_mode=WAL;
CREATE TABLE events(
 seq INTEGER PRIMARY KEY AUTOINCREMENT,
 boot_id TEXT NOT NULL, at_boot_s REAL NOT NULL,
 at_wall TEXT NOT NULL, clock_trusted INTEGER NOT NULL,
 kind TEXT NOT NULL, subject TEXT NOT NULL, change TEXT NOT NULL,
 priority INTEGER, what TEXT NOT NULL, who TEXT, details TEXT
) STRICT;
"""
BOOT_ID = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
ZONE = timezone(timedelta(hours=1))
NOON = datetime(2026, 7, 1, 12, 0, 0, tzinfo=ZONE)
PATIENCE_S = 120.0


def now_at(
    boot_s: float, *, local: datetime | None = None, trusted: bool = True, boot_id: str = "boot-1"
) -> Now:
    """Return a present; at boot 0 s it was noon."""
    return Now(boot_s, boot_id, local or NOON + timedelta(seconds=boot_s), trusted)


def alarm(seq: int, change: str, name: str = "water high", at_s: float = 0.0, **changes: Any) -> Recorded:
    """Return an event about an alarm, of the boot `boot-1`."""
    event = Event(
        boot_id="boot-1",
        at_boot_s=at_s,
        at_wall=(NOON + timedelta(seconds=at_s)).isoformat(timespec="seconds"),
        clock_trusted=True,
        kind="alarm",
        subject=name,
        change=change,
        what=f"{name} it is",
        priority=3,
    )
    return Recorded(seq, event._replace(**changes))


def wait_for(condition: Callable[[], bool], what: str) -> None:
    """Poll until it holds."""
    until_s = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < until_s, f"waited in vain for: {what}"
        time.sleep(0.02)


class GuardFiles:
    """What a guard leaves for the link to read."""

    def __init__(self, directory: Path) -> None:
        """Make its two directories and an empty events database."""
        self.state, self.runtime = directory / "guard-state", directory / "guard-run"
        for made in (self.state, self.runtime):
            made.mkdir()
        with closing(sqlite3.connect(self.state / "events.db")) as database:
            database.executescript(EVENTS_SQL)

    def event(self, change: str, name: str = "water high", priority: int | None = 3, **columns: Any) -> int:
        """Append an event about an alarm; return its place."""
        row: dict[str, Any] = {
            "boot_id": BOOT_ID,
            "at_boot_s": time.clock_gettime(time.CLOCK_BOOTTIME),
            "at_wall": datetime.now().astimezone().isoformat(timespec="seconds"),
            "clock_trusted": 1,
            "kind": "alarm",
            "subject": name,
            "change": change,
            "priority": priority,
            "what": f"{name} it is",
            "who": None,
            "details": None,
            **columns,
        }
        with closing(sqlite3.connect(self.state / "events.db", timeout=30.0)) as database, database:
            names = ", ".join(row)
            marks = ", ".join("?" * len(row))
            added = database.execute(f"INSERT INTO events({names}) VALUES ({marks})", list(row.values()))  # noqa: S608  our own names
            assert added.lastrowid is not None
            return added.lastrowid

    def status(self, **changes: Any) -> None:
        """Write a status of this instant."""
        status = {
            "schema": "reefguard.status/1",
            "boot_id": BOOT_ID,
            "written_s": time.clock_gettime(time.CLOCK_BOOTTIME),
            "findings": [],
            **changes,
        }
        beside = self.runtime / "status.new"
        beside.write_text(json.dumps(status), encoding="utf-8")
        beside.replace(self.runtime / "status.json")


class Receiver:
    """An HTTP server on loopback that remembers what it was sent, and can refuse it."""

    def __init__(self) -> None:
        """Listen on a port of the system's choosing."""
        self.got: list[dict[str, Any]] = []
        self.calls: list[str] = []
        self.refuses = False
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self._server.daemon_threads = True
        self.port = self._server.server_address[1]
        self._thread = threading.Thread(target=self._server.serve_forever, daemon=True)
        self._thread.start()

    def __enter__(self) -> Self:
        """Return itself."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop to listen."""
        self._server.shutdown()
        self._server.server_close()

    @property
    def titles(self) -> list[str]:
        """The first lines of what arrived, in order."""
        return [one["title"] for one in self.got]

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        receiver = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                receiver.calls.append(f"POST {self.path}")
                content = self.rfile.read(int(self.headers["Content-Length"] or 0))
                if not receiver.refuses and content:
                    receiver.got.append(json.loads(content))
                self._answer()

            def do_GET(self) -> None:
                receiver.calls.append(f"GET {self.path}")
                self._answer()

            def _answer(self) -> None:
                self.send_response(503 if receiver.refuses else 200)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, format: str, *args: object) -> None:  # noqa: A002  the library's own name
                pass

        return Handler


class LinkFiles:
    """A settings file, secrets, and directories of the link's own."""

    def __init__(self, directory: Path, guard: GuardFiles, secrets: Mapping[str, str], link: str) -> None:
        """Write them; `link` is what stands under `link:`, indented by two."""
        self.directory = directory
        self.state, self.secrets = directory / "link-state", directory / "secrets"
        self.secrets.mkdir()
        for name, text in secrets.items():
            self.secret(name, text)
        self.settings = directory / "reefguard.yaml"
        self._head = SHORTEST + f"state_directory: {guard.state}\nruntime_directory: {guard.runtime}\n"
        self.write(link)

    def write(self, link: str) -> None:
        """Write the settings anew."""
        text = (
            f"{self._head}link:\n{link}"
            f"  state_directory: {self.state}\n  runtime_directory: {self.directory / 'link-run'}\n"
            f"  secrets_directory: {self.secrets}\n"
        )
        self.settings.write_text(text, encoding="utf-8")

    def secret(self, name: str, text: str) -> None:
        """Write a secret that only its owner can read."""
        path = self.secrets / name
        path.write_text(text, encoding="utf-8")
        path.chmod(0o600)


def run_program(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run a command of the program to its end."""
    return subprocess.run(
        [sys.executable, "-m", "reefguard", *arguments],
        env=_environment(), capture_output=True, text=True, timeout=PATIENCE_S, check=False,
    )  # fmt: skip


def start_link(files: LinkFiles) -> subprocess.Popen[str]:
    """Start the link; its log goes to a file."""
    with (files.directory / "link.log").open("a", encoding="utf-8") as log:
        return subprocess.Popen(
            [sys.executable, "-m", "reefguard", "link", "--settings", str(files.settings)],
            env=_environment(), stdout=log, stderr=log, text=True,
        )  # fmt: skip


def _environment() -> dict[str, str]:
    left_out = {"REEFGUARD_BENCH", "NOTIFY_SOCKET", "CREDENTIALS_DIRECTORY", "JOURNAL_STREAM"}
    return {name: value for name, value in os.environ.items() if name not in left_out}
