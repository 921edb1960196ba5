"""Promise 15. Nothing on the network can switch anything: guard and cutoff have no network."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from bench_rig import Rig

SYSTEMD = Path(__file__).parents[2] / "systemd"
UNITS = ("reefguard.service", "reefguard-cutoff.service")

# Families of the kernel whose sockets reach beyond this machine.
NETWORK_FAMILIES = (
    "tcp", "tcp6", "udp", "udp6", "udplite", "udplite6", "raw", "raw6", "icmp", "icmp6", "packet",
)  # fmt: skip


def _sockets_of(pid: int) -> set[str]:
    """Return the inodes of the sockets a process and its children hold."""
    held = set()
    for process in (pid, *_children_of(pid)):
        for descriptor in Path(f"/proc/{process}/fd").iterdir():
            try:
                found = re.fullmatch(r"socket:\[(\d+)\]", str(descriptor.readlink()))
            except FileNotFoundError:
                continue  # closed while we looked
            if found:
                held.add(found[1])
    return held


def _children_of(pid: int) -> list[int]:
    text = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii")
    return [int(child) for child in text.split()]


def _network_sockets() -> set[str]:
    """Return the inodes of all sockets of this machine that reach a network."""
    inodes = set()
    for family in NETWORK_FAMILIES:
        try:
            lines = Path(f"/proc/net/{family}").read_text(encoding="ascii").splitlines()[1:]
        except FileNotFoundError:
            continue
        place = -1 if family == "packet" else 9
        inodes |= {line.split()[place] for line in lines}
    return inodes


def test_the_search_for_network_sockets_finds_one(tmp_path: Path) -> None:
    script = "import socket; s = socket.create_server(('127.0.0.1', 0)); print(flush=True); input()"
    with subprocess.Popen(
        [sys.executable, "-c", script], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as listener:
        assert listener.stdout is not None
        listener.stdout.readline()
        assert _sockets_of(listener.pid) & _network_sockets()
        listener.kill()


def test_guard_and_cutoff_hold_no_network_socket_at_work(tmp_path: Path) -> None:
    with Rig(tmp_path) as rig:
        rig.chilling()
        for _ in range(20):
            rig.ticks(1)
            for name in ("guard", "cutoff"):
                assert not _sockets_of(rig.programs[name].pid) & _network_sockets()


# What speaks protocols of the network; none of it is loaded by the guard or the cutoff.
SPEAKERS = (
    "http", "urllib.request", "urllib.error", "socketserver", "smtplib", "ftplib", "imaplib", "poplib",
    "telnetlib", "xmlrpc", "wsgiref", "requests", "httpx", "urllib3", "aiohttp", "flask", "waitress",
    "werkzeug", "paho", "apprise", "prometheus_client",
)  # fmt: skip

LOADED = """
import atexit, sys
atexit.register(lambda: print("loaded:", *sorted(sys.modules)))
from reefguard.cli import main
sys.argv = ["reefguard", *sys.argv[1:]]
main()
"""


@pytest.mark.parametrize("program", ["guard", "cutoff"])
def test_neither_program_loads_what_speaks_a_protocol_of_the_network(tmp_path: Path, program: str) -> None:
    with Rig(tmp_path) as rig:
        # The cutoff is asked for what ends by itself; it loads the same as at work (`start`, below).
        arguments = {
            "guard": ["guard", "--once", "--settings", str(rig.bench.settings)],
            "cutoff": [
                "cutoff",
                "--limits",
                str(tmp_path / "none.yaml"),
                "--state",
                str(rig.bench.cutoff_state),
            ],
        }
        ran = subprocess.run(
            [sys.executable, "-c", LOADED, *arguments[program]],
            env=rig.environment(), capture_output=True, text=True, timeout=60.0, check=False,
        )  # fmt: skip
    loaded = set(ran.stdout.partition("loaded:")[2].split())
    assert f"reefguard.cli.{program}" in loaded
    assert ("reefguard.guard.loop" if program == "guard" else "reefguard.cutoff.start") in loaded
    assert sorted(loaded & set(SPEAKERS)) == []
    if program == "cutoff":
        assert not {
            name for name in loaded if re.match(r"reefguard\.(guard|control|settings|records)\b", name)
        }
        assert "ssl" not in loaded


@pytest.mark.parametrize("name", UNITS)
def test_the_service_manager_gives_them_no_network(name: str) -> None:
    lines = (SYSTEMD / name).read_text(encoding="utf-8").splitlines()
    assert "PrivateNetwork=yes" in lines
    assert "RestrictAddressFamilies=AF_UNIX" in lines
    assert "IPAddressDeny=any" in lines
