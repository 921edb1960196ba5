"""The tank that stands in the guest: what is wired where, its settings, and the programs at work on it."""

from collections.abc import Callable
from typing import Final

from on_a_pi.guest import CUTOFF, GUARD, PROGRAM, Guest, NotHeld

FAN_1, FAN_2, CHILLER, RELAY = 17, 27, 22, 23
LINES: Final = (FAN_1, FAN_2, CHILLER, RELAY)
DISPLAY, SUMP, OWN = "28-000000000101", "28-000000000102", "28-000000000201"

# Fan 2 runs at a low level, and rests running: its line goes high when it shall stand.
FAN_2_RUNS, FAN_2_STANDS = 0, 1

GUARDS_WATCHDOG_S, CUTOFFS_WATCHDOG_S = 20.0, 10.0
# Promise 9: the watchdog's time plus 5 s.
MORE_S: Final = 5.0
REST_S: Final = 180.0
# What a machine that is emulated, and busy, may add before somebody looks.
PATIENCE_S: Final = 120.0

SETTINGS: Final = f"""\
tank: the reef
clock: always right
safe_band: {{low: 24.0 °C, high: 27.8 °C}}
one_wire_pins: [GPIO4]
water_probes:
  display: {{id: {DISPLAY}}}
  sump: {{id: {SUMP}}}
trust:
  {{stale_after: 15 s, trusted_after: 10 s, schedule_after: 40 s, fastest_change: 10 °C/min}}
fans:
  cut_in: 26.6 °C
  cut_out: 26.2 °C
  units:
    fan1: {{pin: GPIO{FAN_1}, polarity: active high, contact: normally open, at_rest: stopped}}
    fan2: {{pin: GPIO{FAN_2}, polarity: active low, contact: normally open, at_rest: running}}
chiller:
  {{pin: GPIO{CHILLER}, cut_in: 27.2 °C, cut_out: 26.6 °C, minimum_off: 3 min, minimum_on: 30 s,
    start_to_start: 3 min}}
lights: {{on: 10:00, off: 20:00, after_run: 60 min, when_time_unknown: fans run}}
"""
LIMITS: Final = f"""\
probe: {OWN}
relay: {{pin: GPIO{RELAY}, polarity: active high}}
limit: 24.5 °C
good_for: 10 s
rest: 180 s
"""


def water(guest: Guest, probes_c: str, own_c: str | None = None) -> None:
    """Let the probes read something, or be in a state by its name."""
    for probe in (DISPLAY, SUMP):
        guest.do("probe", probe, probes_c)
    guest.do("probe", OWN, probes_c if own_c is None else own_c)


def settle(guest: Guest, persist: str = "on") -> None:
    """Bring the machine where a scenario begins: our settings, both programs, warm water, the chiller on."""
    guest.do("persist", persist)
    water(guest, "27.5")
    put_settings(guest)
    guest.told(f"systemctl enable -q {GUARD} {CUTOFF}; systemctl start {CUTOFF} {GUARD}")
    if "tripped" in guest.cutoff():
        freed(guest)
    chilling(guest)


def put_settings(guest: Guest) -> None:
    """Put our settings in, where others stand."""
    for name, text in (("reefguard.yaml", SETTINGS), ("cutoff.yaml", LIMITS)):
        place = f"/etc/reefguard/{name}"
        if guest.ended(f"cat {place}")[1] != text.strip():
            guest.write(place, text)
            guest.told(f"systemctl stop {GUARD} {CUTOFF}; systemctl reset-failed {GUARD} {CUTOFF} || true")


def freed(guest: Guest) -> float:
    """Reset the cutoff, as soon as it takes that."""
    return guest.wait(lambda: not guest.ended(f"{PROGRAM} cutoff reset")[0], "a reset", PATIENCE_S)


def chilling(guest: Guest) -> float:
    """Wait until the chiller runs: both contacts closed; return when that was, s since boot."""
    for line in (RELAY, CHILLER):
        guest.wait_level(line, 1, REST_S + PATIENCE_S)
    if guest.levels([RELAY, CHILLER]) != {RELAY: 1, CHILLER: 1}:
        return chilling(guest)
    return max(_last(guest, RELAY, 1), _last(guest, CHILLER, 1))


def rested(guest: Guest, since_s: float) -> str:
    """Wait for the chiller's next start, which must not come before its rest; say when it came."""
    rest_s = chilling(guest) - since_s
    if rest_s < REST_S:
        raise NotHeld(f"the compressor rested {rest_s:.1f} s only")
    return f"next start after {rest_s:.0f} s"


def off_at(guest: Guest, line: int, deed: Callable[[], float], within_s: float) -> tuple[float, float]:
    """Do something; return when, since boot, a line went low, and how long after the deed that was, s.

    By the kernel's record; where the kernel itself has let go of the line there is no record, and the
    moment is the first at which it was seen low.

    Raises:
        NotHeld: it took longer.
    """
    done_s = deed()
    guest.wait_level(line, 0, within_s + PATIENCE_S)
    seen_s = guest.now_s()
    # A line that was driven low first, and let go of later, has been low since the first.
    driven = [one.at_s for one in guest.changes(line, done_s) if one.level == 0]
    off_s = min([*driven, seen_s])
    if off_s - done_s > within_s:
        raise NotHeld(f"GPIO{line} off after {off_s - done_s:.1f} s, {within_s:g} s is what must hold")
    return off_s, off_s - done_s


def _last(guest: Guest, line: int, level: int) -> float:
    """Return when a line last came to stand at its level; 0 when the record does not say."""
    at_s, stands = 0.0, None
    for one in guest.changes(line):
        if one.level is not None and one.level != stands:
            at_s, stands = one.at_s, one.level
    if stands not in {level, None}:
        raise NotHeld(f"GPIO{line} is not at {level} in the kernel's record")
    return at_s
