"""What can happen to the installed programs, and what must hold then; each is judged from outside them.

They come in the order of a day: each begins where the one before has left the machine, with both programs at
work, warm water, and the chiller running or resting.  A returned text says what was measured.
"""

from collections.abc import Callable
from typing import Final

from on_a_pi.guest import PROGRAM, UNITS, Guest, NotHeld

FAN_1, FAN_2, CHILLER, CUTOFF = 17, 27, 22, 23
LINES: Final = (FAN_1, FAN_2, CHILLER, CUTOFF)
DISPLAY, SUMP, OWN = "28-000000000101", "28-000000000102", "28-000000000201"

# In the settings below: the watchdog's time of the unit, and the 5 s that promise 9 adds.
OFF_WITHIN_S: Final = 35.0
REST_S: Final = 180.0

# Fan 2 hangs on an active-low relay, so that both polarities are seen.
SETTINGS: Final = f"""\
tank: the reef
safe_band: {{low: 24.0 °C, high: 27.8 °C}}
water_probes:
  display: {{id: {DISPLAY}}}
  sump: {{id: {SUMP}}}
trust: {{stale_after: 15 s, trusted_after: 10 s, schedule_after: 40 s}}
fans:
  cut_in: 26.6 °C
  cut_out: 26.2 °C
  units:
    fan1: {{pin: GPIO{FAN_1}, polarity: active high, contact: normally open, at_rest: stopped}}
    fan2: {{pin: GPIO{FAN_2}, polarity: active low, contact: normally open, at_rest: stopped}}
chiller: {{pin: GPIO{CHILLER}, cut_in: 27.2 °C, cut_out: 26.6 °C, minimum_off: 3 min}}
lights: {{on: 10:00, off: 20:00, after_run: 60 min, when_time_unknown: fans run}}
"""
LIMITS: Final = f"""\
probe: {OWN}
relay: {{pin: GPIO{CUTOFF}, polarity: active high}}
limit: 24.5 °C
good_for: 10 s
rest: 180 s
"""


def water(guest: Guest, probes_c: str, own_c: str | None = None) -> None:
    """Let the probes read something, or be in a state by its name."""
    for probe in (DISPLAY, SUMP):
        guest.do("probe", probe, probes_c)
    guest.do("probe", OWN, probes_c if own_c is None else own_c)


def chilling(guest: Guest) -> float:
    """Wait until the chiller runs, and has its power by the cutoff."""
    waited_s = guest.wait_level(CHILLER, 1, REST_S + 240.0)
    return waited_s + guest.wait_level(CUTOFF, 1, REST_S + 60.0)


def off_after(guest: Guest, line: int, deed: Callable[[], object], within_s: float) -> float:
    """Do something, and say how long it took until a line was off, by the guest's clock."""
    begun_s = guest.now_s()
    deed()
    guest.wait_level(line, 0, within_s)
    return guest.now_s() - begun_s


def rested(guest: Guest, since_s: float) -> str:
    """Wait for the chiller's next start, which must not come before its rest."""
    chilling(guest)
    rest_s = guest.now_s() - since_s
    if rest_s < REST_S:
        raise NotHeld(f"the compressor rested {rest_s:.0f} s only")
    return f"next start after {rest_s:.0f} s"


def examples(guest: Guest) -> str:
    """A first start with the example settings: both end with 78, for good, and no line is touched."""
    guest.do("trace", "on")
    guest.ended("systemctl start reefguard reefguard-cutoff; sleep 12")
    codes = [
        guest.ended(f"systemctl show -p ExecMainStatus --value {unit}")[1]
        for unit in ("reefguard", "reefguard-cutoff")
    ]
    restarts = [
        guest.ended(f"systemctl show -p NRestarts --value {unit}")[1]
        for unit in ("reefguard", "reefguard-cutoff")
    ]
    if codes != ["78", "78"] or restarts != ["0", "0"]:
        raise NotHeld(f"exit codes {codes}, restarts {restarts}")
    touched = [said for line in LINES for said in guest.changes(line)]
    if touched:
        raise NotHeld(f"{touched}")
    return "78 and 78, no restart, no line touched"


def settings(guest: Guest) -> str:
    """The keeper's own settings: accepted, the latch freed by a person, fans and chiller in their order."""
    for name, text in (("reefguard.yaml", SETTINGS), ("cutoff.yaml", LIMITS)):
        guest.run(f"cat > /etc/reefguard/{name} <<'END'\n{text}END")
    water(guest, "27.5")
    for command in ("check /etc/reefguard/reefguard.yaml", "cutoff check /etc/reefguard/cutoff.yaml"):
        code, said = guest.ended(f"{PROGRAM} {command}")
        if code > 1:
            raise NotHeld(said)
    guest.do("trace", "on")
    guest.ended("systemctl enable reefguard reefguard-cutoff; systemctl restart reefguard-cutoff reefguard")
    fans_s = guest.wait_level(FAN_1, 1, 90.0)
    if guest.levels([CUTOFF])[CUTOFF]:
        raise NotHeld("the cutoff let cooling run before a person had reset it")
    guest.wait(lambda: guest.ended(f"{PROGRAM} cutoff reset")[0] == 0, "the reset", 90.0)
    chilling(guest)
    # Active low: high first, then driven.
    first = [said for said in guest.changes(FAN_2) if "set" in said or "direction" in said][:2]
    return f"fans after {fans_s:.0f} s, chiller {guest.now_s():.0f} s after boot; fan 2 began with {first}"


def killed(guest: Guest) -> str:
    """SIGKILL of the guard while the chiller runs, on a kernel that keeps levels."""
    before = guest.process("reefguard")
    off_s = off_after(guest, CHILLER, lambda: guest.ended("systemctl kill -s KILL reefguard"), OFF_WITHIN_S)
    since_s = guest.now_s()
    guest.wait(lambda: guest.is_active("reefguard"), "the guard is back", 60.0)
    if guest.process("reefguard") == before:
        raise NotHeld("the guard was not killed")
    jumped = clock_jumps(guest)
    return f"off after {off_s:.1f} s; {rested(guest, since_s)}, {jumped}"


def clock_jumps(guest: Guest) -> str:
    """A day forward and two days back, during the compressor's rest."""
    guests = [guest.process(unit) for unit in UNITS[:2]]
    for jump in ("+86400", "-172800", "host"):
        guest.do("clock", jump)
        guest.ended("sleep 6")
    if [guest.process(unit) for unit in UNITS[:2]] != guests:
        raise NotHeld("a program was started anew")
    return "with the clock set a day forward and two back in between, and nothing started anew"


def stopped_by_signal(guest: Guest) -> str:
    """SIGSTOP of the guard while the chiller runs: the watchdog ends it."""
    off_s = off_after(guest, CHILLER, lambda: guest.ended("systemctl kill -s STOP reefguard"), OFF_WITHIN_S)
    since_s = guest.now_s()
    guest.wait(lambda: guest.is_active("reefguard"), "the guard is back", 60.0)
    return f"off after {off_s:.1f} s; {rested(guest, since_s)}"


def killed_where_lines_are_released(guest: Guest) -> str:
    """SIGKILL of the guard on a kernel that makes a released line an input."""
    guest.do("persist", "off")
    off_s = off_after(guest, CHILLER, lambda: guest.ended("systemctl kill -s KILL reefguard"), OFF_WITHIN_S)
    since_s = guest.now_s()
    guest.wait(lambda: guest.is_active("reefguard"), "the guard is back", 60.0)
    guest.do("persist", "on")
    return f"off after {off_s:.1f} s; {rested(guest, since_s)}"


def cutoff_stopped(guest: Guest) -> str:
    """SIGSTOP of the cutoff: its relay drops, and the guard opens its own contact too."""
    off_s = off_after(
        guest, CUTOFF, lambda: guest.ended("systemctl kill -s STOP reefguard-cutoff"), OFF_WITHIN_S
    )
    guest.wait_level(CHILLER, 0, OFF_WITHIN_S)
    since_s = guest.now_s()
    return f"its relay off after {off_s:.1f} s, the guard's too; {rested(guest, since_s)}"


def cutoff_killed(guest: Guest) -> str:
    """SIGKILL of the cutoff."""
    off_s = off_after(
        guest, CUTOFF, lambda: guest.ended("systemctl kill -s KILL reefguard-cutoff"), OFF_WITHIN_S
    )
    guest.wait_level(CHILLER, 0, OFF_WITHIN_S)
    since_s = guest.now_s()
    return f"its relay off after {off_s:.1f} s, the guard's too; {rested(guest, since_s)}"


def hung_bus(guest: Guest) -> str:
    """A probe that hangs, and its bus with it, while the chiller runs."""
    off_s = off_after(guest, CHILLER, lambda: guest.do("probe", DISPLAY, "hang"), 90.0)
    since_s = guest.now_s()
    guest.wait(lambda: guest.status().get("mode") == "schedule", "schedule mode", 180.0)
    fan = guest.levels([FAN_1])[FAN_1]
    guest.do("probe", DISPLAY, "27.5")
    back_s = guest.wait(lambda: guest.status().get("mode") == "automatic", "automatic again", 180.0)
    return (
        f"off after {off_s:.0f} s, schedule mode (fan {fan}), automatic {back_s:.0f} s after the mend; "
        + (rested(guest, since_s))
    )


def unplugged(guest: Guest) -> str:
    """One probe unplugged: the other goes on alone; then both."""
    guest.do("probe", SUMP, "unplugged")
    guest.ended("sleep 25")
    if guest.levels([CHILLER]) != {CHILLER: 1} or guest.status().get("mode") != "automatic":
        raise NotHeld("one probe alone does not go on")
    off_s = off_after(guest, CHILLER, lambda: guest.do("probe", DISPLAY, "unplugged"), 60.0)
    since_s = guest.now_s()
    guest.wait(lambda: guest.status().get("mode") == "schedule", "schedule mode", 120.0)
    for probe in (DISPLAY, SUMP):
        guest.do("probe", probe, "27.5")
    return f"one: went on; both: off after {off_s:.0f} s; {rested(guest, since_s)}"


def cold(guest: Guest) -> str:
    """Cold water at the cutoff's own probe: a trip, which outlasts a power cut and a jump of the clock."""
    off_s = off_after(guest, CUTOFF, lambda: guest.do("probe", OWN, "24.0"), 60.0)
    refused = guest.ended(f"{PROGRAM} cutoff reset")
    if refused[0] == 0 or "tripped" not in guest.cutoff():
        raise NotHeld(f"{refused}")
    guest.ended("sync")
    guest.do("powercut")
    guest.do("boot")
    guest.do("probe", OWN, "27.5")
    guest.do("clock", "+1000000")
    guest.ended("sleep 40")
    guest.do("clock", "host")
    if guest.levels([CUTOFF, CHILLER]) != {CUTOFF: 0, CHILLER: 0} or "tripped" not in guest.cutoff():
        raise NotHeld(guest.cutoff())
    code, said = guest.ended(f"{PROGRAM} cutoff reset")
    if code:
        raise NotHeld(said)
    chilling(guest)
    return f"off after {off_s:.0f} s; reset refused while cold, held after a power cut, taken when warm"


def power_cut(guest: Guest) -> str:
    """A power cut while the chiller runs: nothing moves at boot, and the compressor rests in full."""
    guest.ended("sync")
    guest.do("powercut")
    guest.do("boot")
    found = guest.levels([CHILLER, CUTOFF])
    if found != {CHILLER: 0, CUTOFF: 0}:
        raise NotHeld(f"{found} just after the boot")
    fans_s = guest.wait_level(FAN_1, 1, 120.0)
    chilling(guest)
    up_s = guest.now_s()
    if up_s < REST_S:
        raise NotHeld(f"the chiller started {up_s:.0f} s after the boot")
    return f"off at boot, fans {fans_s:.0f} s after the login was there, chiller {up_s:.0f} s after the boot"


def bad_settings(guest: Guest) -> str:
    """A settings file with an error is reloaded: the guard goes on as before, and says so."""
    before = guest.process("reefguard")
    guest.ended("sed -i 's/cut_in: 27.2 °C/cut_in: 27.2/' /etc/reefguard/reefguard.yaml")
    guest.ended("systemctl reload reefguard; sleep 8")
    names = [one.get("name") for one in guest.status().get("findings", [])]
    if guest.process("reefguard") != before or guest.levels([CHILLER]) != {CHILLER: 1}:
        raise NotHeld("the guard did not go on as it was")
    guest.ended("sed -i 's/cut_in: 27.2,/cut_in: 27.2 °C,/' /etc/reefguard/reefguard.yaml")
    guest.ended("systemctl reload reefguard; sleep 8")
    if "settings not taken" not in names:
        raise NotHeld(f"findings: {names}")
    return "went on with the chiller on, said `settings not taken`"


def stop(guest: Guest) -> str:
    """A clean stop: lines at rest, still driven, exit 0; and a start after it."""
    off_s = off_after(guest, CHILLER, lambda: guest.ended("systemctl stop reefguard"), 60.0)
    found = guest.levels([FAN_1, FAN_2])
    code = guest.ended("systemctl show -p ExecMainStatus --value reefguard")[1]
    guest.ended("systemctl start reefguard")
    # Fan 2 is active low.
    if found != {FAN_1: 0, FAN_2: 1} or code != "0":
        raise NotHeld(f"{found}, exit {code}")
    return f"chiller off after {off_s:.1f} s, fans at rest, exit 0"


DAY: Final = (
    examples, settings, killed, stopped_by_signal, killed_where_lines_are_released, cutoff_stopped,
    cutoff_killed, hung_bus, unplugged, cold, power_cut, bad_settings, stop,
)  # fmt: skip
