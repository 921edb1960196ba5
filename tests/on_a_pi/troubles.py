"""What happens around the programs: the bus, the probes, the clock, the settings, the disk."""

from on_a_pi.guest import GUARD, Guest, NotHeld
from on_a_pi.tank import (
    CHILLER,
    DISPLAY,
    FAN_1,
    PATIENCE_S,
    SETTINGS,
    SUMP,
    off_at,
    rested,
    settle,
    water,
)

# In the settings; a probe's last reading, and the one under way, are as old as a sample more.
STALE_S, SCHEDULE_S, A_READ_S = 15.0, 40.0, 15.0
_YAML = "/etc/reefguard/reefguard.yaml"


def hung_bus(guest: Guest) -> str:
    """A probe hangs in the middle of a reading, and its bus with it; then it is mended."""
    settle(guest)
    before = guest.processes()
    off_s, after_s = off_at(guest, CHILLER, lambda: _probes(guest, "hang", DISPLAY), STALE_S + A_READ_S)
    schedule_s = _in_mode(guest, "schedule") - off_s + after_s
    mended_s = _probes(guest, "27.5", DISPLAY)
    back_s = _in_mode(guest, "automatic") - mended_s
    if guest.processes() != before:
        raise NotHeld("a program was started anew")
    return (
        f"chiller off after {after_s:.0f} s, schedule mode after {schedule_s:.0f} s, "
        f"automatic {back_s:.0f} s after the mend; {rested(guest, off_s)}"
    )


def unplugged(guest: Guest) -> str:
    """One probe is unplugged, then the other too; then both are back."""
    settle(guest)
    one_s = _probes(guest, "unplugged", SUMP)
    guest.wait(lambda: "probe sump not used" in guest.findings(), "told of the lost probe", PATIENCE_S)
    told_s = guest.now_s() - one_s
    guest.ended("sleep 45")
    if guest.level(CHILLER) != 1 or guest.mode() != "automatic":
        raise NotHeld("with one probe it did not go on")
    off_s, after_s = off_at(guest, CHILLER, lambda: _probes(guest, "unplugged", DISPLAY), STALE_S + A_READ_S)
    schedule_s = _in_mode(guest, "schedule") - off_s + after_s
    mended_s = _probes(guest, "27.5", DISPLAY, SUMP)
    back_s = _in_mode(guest, "automatic") - mended_s
    return (
        f"one: told after {told_s:.0f} s, went on; both: off after {after_s:.0f} s, schedule mode after "
        f"{schedule_s:.0f} s; automatic {back_s:.0f} s after both were back; {rested(guest, off_s)}"
    )


def clock(guest: Guest) -> str:
    """The clock is set a day forward and two back while the compressor rests; then the lights' hours."""
    settle(guest)
    off_s, _ = off_at(guest, CHILLER, lambda: guest.at(f"systemctl restart {GUARD}"), PATIENCE_S)
    guest.wait(lambda: guest.is_active(GUARD), "the guard is back", PATIENCE_S)
    try:
        before = guest.processes()
        for jump in ("+86400", "-172800", "+7200", "host"):
            guest.do("clock", jump)
            guest.ended("sleep 8")
        rest = rested(guest, off_s)
        if guest.processes() != before:
            raise NotHeld("a program was started anew")
        _probes(guest, "empty", DISPLAY, SUMP)
        _in_mode(guest, "schedule")
        _at(guest, "12:00")
        guest.wait_level(FAN_1, 1, PATIENCE_S)
        _at(guest, "23:30")
        # A guard that saw the lights go off has the fans run on, however its clock came there.
        guest.told(f"systemctl restart {GUARD}")
        _in_mode(guest, "schedule")
        guest.ended("sleep 10")
        guest.wait_level(FAN_1, 0, PATIENCE_S)
        # The emulated machine hears of no time server: so its clock is not known to be right.
        guest.write(_YAML, SETTINGS.replace("clock: always right\n", ""))
        guest.told(f"systemctl restart {GUARD}")
        guest.wait_level(FAN_1, 1, PATIENCE_S)
    finally:
        guest.do("clock", "host")
        water(guest, "27.5")
        guest.write(_YAML, SETTINGS)
        guest.told(f"systemctl restart {GUARD}")
    return f"{rest}, nothing started anew; without probes fan 1 on at 12:00, off at 23:30, on without a clock"


def bad_settings(guest: Guest) -> str:
    """A settings file with an error is reloaded; then a good one."""
    settle(guest)
    before = guest.processes()
    guest.write(_YAML, SETTINGS.replace("cut_in: 27.2 °C", "cut_in: 27.2"))
    guest.told(f"systemctl reload {GUARD}")
    guest.wait(lambda: "settings not taken" in guest.findings(), "`settings not taken`", PATIENCE_S)
    if guest.processes() != before or guest.level(CHILLER) != 1:
        raise NotHeld("the guard did not go on as it was")
    guest.write(_YAML, SETTINGS)
    guest.told(f"systemctl reload {GUARD}")
    guest.wait(lambda: "settings not taken" not in guest.findings(), "the good file is taken", PATIENCE_S)
    if guest.processes() != before or guest.level(CHILLER) != 1:
        raise NotHeld("the guard did not go on as it was")
    return "`settings not taken` was told, and gone with the good file; the chiller ran on"


def full_disk(guest: Guest) -> str:
    """The disk is full while the water cools and warms; then it is free again."""
    settle(guest)
    before = guest.processes()
    try:
        _fill(guest)
        off_s, after_s = off_at(guest, CHILLER, lambda: _cooled(guest), PATIENCE_S)
        guest.wait_level(FAN_1, 0, PATIENCE_S)
        water(guest, "27.5")
        guest.wait_level(FAN_1, 1, PATIENCE_S)

        def is_told() -> bool:
            # The journal makes room of its own when the disk is full.
            _fill(guest)
            return "storage failing" in guest.findings()

        guest.wait(is_told, "`storage failing`", PATIENCE_S)
        left = guest.told("df --output=avail -B1 / | tail -1")
    finally:
        guest.told("rm -f /filled")
    gone_s = guest.wait(lambda: "storage failing" not in guest.findings(), "storage is well", 900.0)
    if guest.processes() != before:
        raise NotHeld("a program was started anew")
    return (
        f"{left} bytes free: chiller off after {after_s:.0f} s, fans off and on, `storage failing` told, "
        f"gone {gone_s:.0f} s after there was room; {rested(guest, off_s)}"
    )


def _fill(guest: Guest) -> None:
    free = "$(df --output=avail -B1 / | tail -1)"
    guest.told(f"touch /filled; [ {free} -le 0 ] || fallocate -o $(stat -c %s /filled) -l {free} /filled")


def _cooled(guest: Guest) -> float:
    begun_s = guest.now_s()
    water(guest, "26.0", "27.5")
    return begun_s


def _probes(guest: Guest, state: str, *probes: str) -> float:
    """Put probes in a state; return when that was begun, s since boot."""
    begun_s = guest.now_s()
    for probe in probes:
        guest.do("probe", probe, state)
    return begun_s


def _in_mode(guest: Guest, mode: str) -> float:
    """Wait for a mode; return when it was seen, s since boot."""
    guest.wait(lambda: guest.mode() == mode, f"{mode} mode", SCHEDULE_S + PATIENCE_S)
    return guest.now_s()


def _at(guest: Guest, clock: str) -> None:
    """Set the machine's clock to an hour of its own day."""
    seconds = int(guest.told(f"echo $(( $(date -d {clock} +%s) - $(date +%s) ))"))
    guest.do("clock", f"{seconds:+d}")
