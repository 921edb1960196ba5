"""How the programs start and end: examples, first start, an ordinary day, power cuts, a clean stop."""

from itertools import pairwise

from on_a_pi.guest import CUTOFF, GUARD, PROGRAM, Guest, NotHeld
from on_a_pi.tank import (
    CHILLER,
    FAN_1,
    FAN_2,
    FAN_2_RUNS,
    FAN_2_STANDS,
    LINES,
    OWN,
    PATIENCE_S,
    RELAY,
    REST_S,
    chilling,
    freed,
    off_at,
    put_settings,
    rested,
    settle,
    water,
)

# Half of what passes between two ticks, `sampling`.
_TICK_S = 2.5


def examples(guest: Guest) -> str:
    """Start both on the example settings."""
    since_s = guest.at(f"systemctl start {GUARD} {CUTOFF}; sleep 15")
    for unit in (GUARD, CUTOFF):
        found = [guest.shows(unit, what) for what in ("ActiveState", "ExecMainStatus", "NRestarts")]
        if found != ["failed", "78", "0"]:
            raise NotHeld(f"{unit}: {found}")
    touched = [(line, one) for line in LINES for one in guest.changes(line, since_s)]
    if touched:
        raise NotHeld(f"{touched}")
    return "both failed with 78, no restart, no line touched"


def first_start(guest: Guest) -> str:
    """Put the keeper's own settings in, start, and reset the cutoff once."""
    guest.told(f"systemctl stop {GUARD} {CUTOFF}; rm -f /var/lib/reefguard-cutoff/*")
    guest.do("persist", "on")
    water(guest, "27.5")
    put_settings(guest)
    for command in ("check /etc/reefguard/reefguard.yaml", "cutoff check /etc/reefguard/cutoff.yaml"):
        code, said = guest.ended(f"{PROGRAM} {command}")
        if code > 1:
            raise NotHeld(said)
    begun_s = guest.at(f"systemctl enable -q {GUARD} {CUTOFF}; systemctl start {CUTOFF} {GUARD}")
    guest.wait_level(FAN_1, 1, PATIENCE_S)
    guest.ended("sleep 30")
    if guest.level(RELAY):
        raise NotHeld("the cutoff let cooling run before a person had reset it")
    freed(guest)
    reset_s = guest.now_s()
    for line in LINES:
        _unglitched(guest, line, begun_s)
    return f"held off until the reset; chiller {chilling(guest) - reset_s:.0f} s after it; no line glitched"


def warm_and_cold(guest: Guest) -> str:
    """The water cools to between the cut points, then below them, and warms again."""
    settle(guest)
    off_s, after_s = off_at(guest, CHILLER, lambda: _water(guest, "26.4"), PATIENCE_S)
    guest.ended("sleep 10")
    if guest.levels([FAN_1, FAN_2]) != {FAN_1: 1, FAN_2: FAN_2_RUNS}:
        raise NotHeld("the fans do not run on between their cut points")
    _, fans_s = off_at(guest, FAN_1, lambda: _water(guest, "26.1"), PATIENCE_S)
    guest.wait_level(FAN_2, FAN_2_STANDS, PATIENCE_S)
    warmed_s = _water(guest, "27.5")
    guest.wait_level(FAN_2, FAN_2_RUNS, PATIENCE_S)
    on_s = min(one.at_s for one in guest.changes(FAN_1, warmed_s) if one.level == 1)
    return (
        f"chiller off {after_s:.0f} s after 26.4 °C, fans {fans_s:.0f} s after 26.1 °C and on again "
        f"{on_s - warmed_s:.0f} s after 27.5 °C; {rested(guest, off_s)}"
    )


def power_cut(guest: Guest, persist: str) -> str:
    """Cut the power while the chiller runs; warm water at the boot."""
    settle(guest, persist)
    guest.do("powercut")
    guest.do("boot")
    guest.wait_level(FAN_1, 1, PATIENCE_S)
    fans_s = min(one.at_s for one in guest.changes(FAN_1) if one.level == 1)
    for line in LINES:
        _unglitched(guest, line, 0.0)
    for line in (CHILLER, RELAY):
        if [one for one in guest.changes(line) if one.level == 1 and one.at_s < REST_S]:
            raise NotHeld(f"GPIO{line} was on within its rest after the boot")
    up_s = chilling(guest)
    first = {line: min(one.at_s for one in guest.changes(line) if one.level is not None) for line in LINES}
    rest_s = up_s - max(first[CHILLER], first[RELAY])
    if rest_s < REST_S:
        raise NotHeld(f"the compressor rested {rest_s:.1f} s only")
    return (
        f"fans on {fans_s:.0f} s and chiller {up_s:.0f} s after the kernel's start, "
        f"{rest_s:.0f} s after the programs'; no line glitched"
    )


def latched_power_cut(guest: Guest) -> str:
    """Cold water at the cutoff's own probe alone; a power cut while tripped; then warm."""
    settle(guest)
    _, after_s = off_at(guest, RELAY, lambda: _own(guest, "24.0"), 30.0)
    refused, said = guest.ended(f"{PROGRAM} cutoff reset")
    if not refused or "tripped" not in guest.cutoff():
        raise NotHeld(f"a reset while cold: {said}")
    guest.do("powercut")
    guest.do("boot")
    guest.do("probe", OWN, "27.5")
    guest.wait(lambda: guest.mode() == "automatic", "automatic", PATIENCE_S)
    guest.ended(f"sleep {REST_S + 30:g}")
    if guest.levels([RELAY, CHILLER]) != {RELAY: 0, CHILLER: 0} or "tripped" not in guest.cutoff():
        raise NotHeld(f"after a power cut: {guest.cutoff()}")
    if [one for line in (RELAY, CHILLER) for one in guest.changes(line) if one.level == 1]:
        raise NotHeld("a line was on although tripped")
    freed(guest)
    chilling(guest)
    return (
        f"relay off after {after_s:.0f} s; reset refused; still tripped when warm after the cut; then reset"
    )


def clean_stop(guest: Guest, persist: str) -> str:
    """`systemctl stop` of both while the chiller runs, and a start."""
    settle(guest, persist)
    off_s, after_s = off_at(guest, CHILLER, lambda: guest.at(f"systemctl stop {GUARD} {CUTOFF}"), PATIENCE_S)
    guest.ended("sleep 5")
    found = guest.levels(LINES)
    codes = [guest.shows(unit, "ExecMainStatus") for unit in (GUARD, CUTOFF)]
    if found != {FAN_1: 0, FAN_2: FAN_2_RUNS, CHILLER: 0, RELAY: 0} or codes != ["0", "0"]:
        raise NotHeld(f"{found}, exit {codes}")
    guest.told(f"systemctl start {CUTOFF} {GUARD}")
    return f"chiller off after {after_s:.1f} s, all at rest, exit 0; {rested(guest, off_s)}"


def _water(guest: Guest, celsius: str) -> float:
    begun_s = guest.now_s()
    water(guest, celsius, "27.5")
    return begun_s


def _own(guest: Guest, celsius: str) -> float:
    begun_s = guest.now_s()
    guest.do("probe", OWN, celsius)
    return begun_s


def _unglitched(guest: Guest, line: int, since_s: float) -> None:
    """See that a line was at rest before it became an output, and never changed for less than a tick."""
    seen = guest.changes(line, since_s)
    if not seen:
        raise NotHeld(f"GPIO{line}: nothing in the kernel's record")
    turned = next((number for number, one in enumerate(seen) if one.way == "out"), None)
    before = [one.level for one in seen[:turned] if one.level is not None]
    moves = [
        later.at_s
        for earlier, later in pairwise([one for one in seen if one.level is not None])
        if earlier.level != later.level
    ]
    if turned is None or before != [0] or any(b - a < _TICK_S for a, b in pairwise(moves)):
        raise NotHeld(f"GPIO{line}: {seen}")
