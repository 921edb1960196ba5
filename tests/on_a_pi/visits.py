"""What a person does at the tank: the proof test, an exercise, the doctor; on a terminal."""

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Final

from on_a_pi.guest import CUTOFF, GUARD, PROGRAM, Guest, NotHeld
from on_a_pi.tank import CHILLER, FAN_1, LINES, PATIENCE_S, RELAY, REST_S, SUMP, chilling, settle

# Answers questions on a terminal: each answer waits for its question; "^C" is a key, "hang up" ends the line.
_PERSON: Final = """
import os, pty, sys, time
turns = [turn.split("=", 1) for turn in sys.argv[2:]]
number, terminal = pty.fork()
if not number:
    os.execvp("sh", ["sh", "-c", sys.argv[1]])
told = b""
for question, answer in turns:
    while question.encode() not in told:
        told += os.read(terminal, 4096)
    told = b""
    time.sleep(6)
    if answer == "hang up":
        os.close(terminal)
        sys.exit(0)
    os.write(terminal, b"\\x03" if answer == "^C" else answer.encode() + b"\\n")
try:
    while True:
        told += os.read(terminal, 4096)
except OSError:
    pass
print(told.decode())
sys.exit(os.waitstatus_to_exitcode(os.waitpid(number, 0)[1]))
"""
# Half of what a wish lasts that nobody renews (D49 of DEVELOPERS.md): it was given back, it did not run out.
_GIVEN_BACK_S: Final = 60.0

_CONFIG: Final = "/boot/firmware/config.txt"
_GOOD_CONFIG: Final = "dtparam=strict_gpiod\ndtoverlay=w1-gpio\n"
# What our machine really lacks: a second bus, the watchdog's drop-in, a channel; fan 2's pin is pulled down.
_LACKS: Final = {
    "1-wire bus of the cutoff", "hardware watchdog", "channels", "polarity and power-on pull",
}  # fmt: skip
_PYTHON: Final = f"$(dirname $(readlink -f {PROGRAM}))/python"
_TAKER: Final = (
    "import lgpio, time; c = lgpio.gpiochip_open(0); "
    f"print(lgpio.gpio_claim_output(c, {FAN_1}), flush=True); time.sleep(900)"
)
_HOLDERS: Final = (
    "from pathlib import Path; from reefguard.hardware.line_info import holders; "
    f"told = holders(Path('/dev/gpiochip0')); print(*(told[line] for line in {LINES}))"
)


def interrupted_exercise(guest: Guest, end: str) -> str:
    """`exercise fan1`, ended in its middle: the fan goes on as before."""
    settle(guest)
    begun_s = guest.now_s()
    _sit_down(guest, f"{PROGRAM} exercise fan1", [("now?", "y"), ("What does its load do?", end)])
    guest.wait_level(FAN_1, 0, PATIENCE_S)
    _told(guest)
    guest.wait_level(FAN_1, 1, _GIVEN_BACK_S + PATIENCE_S)
    stood_s = min(one.at_s for one in guest.changes(FAN_1, begun_s) if one.level == 0)
    ran_s = min(one.at_s for one in guest.changes(FAN_1, stood_s) if one.level == 1)
    if ran_s - stood_s > _GIVEN_BACK_S:
        raise NotHeld(f"it stood for {ran_s - stood_s:.0f} s")
    return f"fan 1 stood {ran_s - stood_s:.0f} s in all, then ran on"


def proof_test(guest: Guest) -> str:
    """`proof-test`: the cutoff's contact opens while the guard's is closed; the record is in the status."""
    settle(guest)
    turns = [("run, now?", "y"), ("contact now?", "y"), ("stand still?", "stands")]
    begun_s = guest.now_s()
    _sit_down(guest, f"{PROGRAM} proof-test", turns)
    guest.wait_level(RELAY, 0, PATIENCE_S)
    opened_s = min(one.at_s for one in guest.changes(RELAY, begun_s) if one.level == 0)
    guards = [one.at_s for one in guest.changes(CHILLER, begun_s) if one.level == 0]
    if [at_s for at_s in guards if at_s < opened_s + 1.0]:
        raise NotHeld("the guard opened its own contact too, so the test shows nothing")
    told = _told(guest)
    if "passed" not in told or "ended 0" not in told:
        raise NotHeld(told)
    guest.wait(lambda: (guest.status().get("proof_test") or {}).get("passed") is not None, "the record", 90.0)
    if "tripped" in guest.cutoff():
        raise NotHeld("the test left the cutoff tripped")
    rest_s = chilling(guest) - opened_s
    if rest_s < REST_S:
        raise NotHeld(f"the compressor rested {rest_s:.1f} s only")
    return f"passed, and in the status; nothing latched, chiller again after {rest_s:.0f} s"


def doctor(guest: Guest) -> str:
    """`doctor` on a sound machine, and on one with faults."""
    settle(guest)
    guest.told("mkdir -p /boot/firmware")
    guest.write(_CONFIG, _GOOD_CONFIG)
    sound, known_as = _found(guest), guest.told(f'{_PYTHON} -c "{_HOLDERS}"')
    if set(sound) - _LACKS:
        raise NotHeld(f"found on a sound machine: {sound}")
    seen = []
    for check, planted in (
        ("1-wire overlays", _configured(guest, "dtparam=strict_gpiod\n")),
        ("strict_gpiod", _configured(guest, "dtoverlay=w1-gpio\n")),
        ("pins taken by others", _taken(guest)),
        ("probes", _unplugged(guest)),
        ("cutoff", _stopped(guest, CUTOFF)),
        ("services", _stopped(guest, CUTOFF)),
    ):
        with planted:
            found = _found(guest)
        if check not in found:
            raise NotHeld(f"{check}: not among {sorted(found)}")
        seen.append(check)
    guest.told(f"rm {_CONFIG}")
    return (
        f"sound: only {', '.join(sorted(sound))}; the kernel calls our lines' holders {known_as}; "
        f"planted and found: {', '.join(seen)}"
    )


@contextmanager
def _configured(guest: Guest, text: str) -> Iterator[None]:
    guest.write(_CONFIG, text)
    yield
    guest.write(_CONFIG, _GOOD_CONFIG)


@contextmanager
def _taken(guest: Guest) -> Iterator[None]:
    """Another program holds a pin before the guard starts."""
    guest.told(f"systemctl stop {GUARD}")
    guest.told(f'systemd-run -q --unit=taker --working-directory=/run {_PYTHON} -c "{_TAKER}"')
    guest.wait(
        lambda: "taker" in guest.ended("systemctl --no-legend list-units taker.service")[1], "it", 30.0
    )
    guest.ended("sleep 5")
    yield
    guest.told(f"systemctl stop taker; systemctl reset-failed {GUARD} || true; systemctl start {GUARD}")
    guest.wait(lambda: guest.mode() != "", "the guard tells", PATIENCE_S)


@contextmanager
def _unplugged(guest: Guest) -> Iterator[None]:
    """A probe is off its bus, and the kernel lists it still."""
    guest.do("probe", SUMP, "unplugged")
    guest.ended("sleep 5")
    yield
    guest.do("probe", SUMP, "27.5")


@contextmanager
def _stopped(guest: Guest, unit: str) -> Iterator[None]:
    guest.told(f"systemctl stop {unit}; sleep 20")
    yield
    guest.told(f"systemctl start {unit}; sleep 5")


def _found(guest: Guest) -> dict[str, str]:
    """Return what it finds, by the check's name."""
    _, said = guest.ended(f"{PROGRAM} doctor --json")
    return {
        one["check"]: " and ".join(finding["what"] for finding in one["findings"])
        for one in json.loads(said)["checks"]
        if one["findings"]
    }


def _sit_down(guest: Guest, command: str, turns: Sequence[tuple[str, str]]) -> None:
    guest.write("/root/person.py", _PERSON)
    said = " ".join(f"'{question}={answer}'" for question, answer in turns)
    guest.told("rm -f /root/told")
    guest.told(
        f"(timeout 600 python3 /root/person.py '{command}' {said} >/root/told 2>&1; "
        "echo ended $? >>/root/told) </dev/null >/dev/null 2>&1 &"
    )


def _told(guest: Guest) -> str:
    guest.wait(lambda: "ended" in guest.ended("cat /root/told")[1], "the visit is over", 3 * PATIENCE_S)
    return guest.told("cat /root/told")
