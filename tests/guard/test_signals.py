"""Signals are taken in between two ticks, whenever they came."""

import subprocess
import sys

import pytest

# In a process of its own: the interpreter's signals are its own too.
LISTENER = """
import os, signal, time
from reefguard.guard.signals import Signals
signals = Signals()
{body}
"""


def _said(body: str) -> str:
    ran = subprocess.run(
        [sys.executable, "-c", LISTENER.format(body=body)],
        env={"PYTHONPATH": ":".join(sys.path)}, capture_output=True, text=True, timeout=60.0, check=True,
    )  # fmt: skip
    return ran.stdout.strip()


@pytest.mark.parametrize(
    ("sent", "stop", "reload"),
    [
        ("SIGTERM", True, False),
        ("SIGINT", True, False),
        ("SIGHUP", False, True),
    ],
)
def test_what_came_before_the_wait_is_not_lost(sent: str, stop: bool, reload: bool) -> None:
    said = _said(
        f"os.kill(os.getpid(), signal.{sent}); signals.wait(0.0); print(signals.stop, signals.reload)"
    )
    assert said == f"{stop} {reload}"


def test_many_at_once_are_all_taken_in() -> None:
    body = """
for _ in range(70_000):
    os.kill(os.getpid(), signal.SIGHUP)
os.kill(os.getpid(), signal.SIGTERM)
while not signals.stop:
    signals.wait(60.0) if signals.reload else signals.wait(0.0)
    if signals.reload and not signals.stop:
        os.kill(os.getpid(), signal.SIGTERM)
print(signals.stop, signals.reload)
"""
    assert _said(body) == "True True"


def test_a_stop_ends_the_wait_and_a_reload_does_not() -> None:
    body = """
begun_s = time.monotonic()
os.kill(os.getpid(), signal.SIGHUP)
signals.wait(0.2)
waited_s = time.monotonic() - begun_s
os.kill(os.getpid(), signal.SIGTERM)
signals.wait(1e6)
print(waited_s >= 0.2, signals.stop, signals.reload)
"""
    assert _said(body) == "True True True"


def test_commands_without_end_do_not_hold_up_the_tick() -> None:
    body = """
class Commands:
    served = 0
    talks, says = os.pipe()
    def readable(self):
        return [self.talks]
    def writable(self):
        return []
    def serve(self, ready):
        self.served += self.talks in ready
commands = Commands()
os.write(commands.says, b"never read, so always ready")
signals.wait(0.05, commands)
print(commands.served > 1, signals.stop)
os.kill(os.getpid(), signal.SIGTERM)
signals.wait(1e6, commands)
print(signals.stop)
"""
    assert _said(body).split() == ["True", "False", "True"]
