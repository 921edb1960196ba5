"""What a person does at the tank: the proof test, an exercise, the doctor; on a terminal."""

import json
from collections.abc import Sequence
from typing import Final

from on_a_pi.guest import PROGRAM, Guest, NotHeld
from on_a_pi.scenarios import CHILLER, CUTOFF, FAN_1, REST_S, SUMP, chilling

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


def _sit_down(guest: Guest, command: str, turns: Sequence[tuple[str, str]]) -> None:
    guest.run(f"cat > /root/person.py <<'END'\n{_PERSON}END")
    said = " ".join(f"'{question}={answer}'" for question, answer in turns)
    guest.run(
        f"(timeout 400 python3 /root/person.py '{command}' {said} >/root/told 2>&1; "
        "echo ended $? >>/root/told) </dev/null >/dev/null 2>&1 &"
    )


def _told(guest: Guest, within_s: float = 120.0) -> str:
    guest.wait(lambda: "ended" in guest.ended("cat /root/told")[1], "the visit is over", within_s)
    return guest.ended("cat /root/told")[1]


def interrupted_exercise(guest: Guest) -> str:
    """`exercise fan1`, ended by Ctrl-C, and by a connection that is lost: the fan goes on as before."""
    if guest.levels([FAN_1]) != {FAN_1: 1}:
        raise NotHeld("the fan does not run")
    seen = []
    for end in ("^C", "hang up"):
        _sit_down(guest, f"{PROGRAM} exercise fan1", [("now?", "y"), ("What does its load do?", end)])
        guest.wait_level(FAN_1, 0, 60.0)
        seen.append(f"back {guest.wait_level(FAN_1, 1, 150.0):.0f} s after it had stood, by {end}")
        _told(guest)
    return "; ".join(seen)


def proof_test(guest: Guest) -> str:
    """`proof-test`: the cutoff's contact opens while the guard's is closed; the record is in the status."""
    chilling(guest)
    guest.do("trace", "on")
    turns = [("run, now?", "y"), ("contact now?", "y"), ("stand still?", "stands")]
    _sit_down(guest, f"{PROGRAM} proof-test", turns)
    guest.wait_level(CUTOFF, 0, 90.0)
    if guest.levels([CHILLER]) != {CHILLER: 1}:
        raise NotHeld("the guard opened its own contact too, so the test shows nothing")
    told = _told(guest)
    if "passed" not in told or "ended 0" not in told:
        raise NotHeld(told)
    guest.wait(lambda: (guest.status().get("proof_test") or {}).get("passed") is not None, "the record", 90.0)
    chilling(guest)
    # By the kernel's record: a level is looked at once a second only.  Power is back once both are closed.
    opened_s = guest.set_at(CUTOFF, 0)[0]
    rest_s = max(guest.set_at(CUTOFF, 1)[-1], guest.set_at(CHILLER, 1)[-1]) - opened_s
    if rest_s < REST_S:
        raise NotHeld(f"the compressor rested {rest_s:.1f} s only")
    return f"passed, in the status; nothing latched, chiller again after {rest_s:.1f} s"


def doctor(guest: Guest) -> str:
    """`doctor` on a sound machine, and with a pin taken, a probe unplugged, the cutoff stopped."""
    sound = _found(guest)
    guest.ended("systemctl stop reefguard")
    guest.ended(
        "systemd-run --unit=taker $(dirname $(readlink -f /opt/reefguard/bin/reefguard))/python -c "
        "'import lgpio, time; c = lgpio.gpiochip_open(0); lgpio.gpio_claim_output(c, 17); time.sleep(900)'"
    )
    taken = _found(guest)
    guest.ended("systemctl stop taker; systemctl start reefguard")
    guest.do("probe", SUMP, "unplugged")
    guest.ended("systemctl stop reefguard-cutoff; sleep 20")
    wrong = _found(guest)
    guest.do("probe", SUMP, "27.5")
    guest.ended("systemctl start reefguard-cutoff")
    if "pins taken by others" not in taken or not {"probes", "cutoff"} <= set(wrong):
        raise NotHeld(f"sound: {sorted(sound)}; taken: {sorted(taken)}; unplugged, stopped: {sorted(wrong)}")
    return f"sound: {sorted(sound)}; a pin taken, a probe unplugged, the cutoff stopped: each found"


def _found(guest: Guest) -> dict[str, str]:
    """Return what it finds, by the check's name."""
    _, said = guest.ended(f"{PROGRAM} doctor --json")
    return {one["check"]: str(one["findings"]) for one in json.loads(said)["checks"] if one["findings"]}


VISITS: Final = (interrupted_exercise, proof_test, doctor)
