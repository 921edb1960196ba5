"""A program dies, or hangs, while the chiller runs."""

from on_a_pi.guest import CUTOFF, GUARD, Guest, NotHeld
from on_a_pi.tank import (
    CHILLER,
    CUTOFFS_WATCHDOG_S,
    FAN_1,
    FAN_2,
    FAN_2_STANDS,
    GUARDS_WATCHDOG_S,
    MORE_S,
    PATIENCE_S,
    RELAY,
    off_at,
    rested,
    settle,
)


def guard_dies(guest: Guest, signal: str, persist: str) -> str:
    """A signal to the guard: the chiller off in time, the fans at rest, the unit back, a full rest."""
    settle(guest, persist)
    before = guest.processes()
    off_s, after_s = off_at(
        guest, CHILLER, lambda: guest.at(f"systemctl kill -s {signal} {GUARD}"), GUARDS_WATCHDOG_S + MORE_S
    )
    fan_1 = [one for one in guest.changes(FAN_1, off_s - after_s) if one.level == 0]
    _came_back(guest, GUARD, before)
    if persist == "on" and not fan_1:
        raise NotHeld("fan 1 was not driven to rest")
    # Until the water is trusted again, a guard that was started anew has the fans follow the lights.
    began_s = float(guest.shows(GUARD, "ExecMainStartTimestampMonotonic")) / 1e6
    if any(one.level == FAN_2_STANDS and one.at_s < began_s for one in guest.changes(FAN_2, off_s - after_s)):
        raise NotHeld("fan 2, which rests running, stood while there was no guard")
    fan = f", fan 1 at rest after {fan_1[0].at_s - off_s + after_s:.1f} s" if fan_1 else ""
    return f"chiller off after {after_s:.1f} s{fan}; {rested(guest, off_s)}"


def cutoff_dies(guest: Guest, signal: str, persist: str) -> str:
    """A signal to the cutoff: its relay drops in time, the guard opens its contact too, a full rest."""
    settle(guest, persist)
    before = guest.processes()
    off_s, after_s = off_at(
        guest, RELAY, lambda: guest.at(f"systemctl kill -s {signal} {CUTOFF}"), CUTOFFS_WATCHDOG_S + MORE_S
    )
    guest.wait_level(CHILLER, 0, PATIENCE_S)
    _came_back(guest, CUTOFF, before)
    if guest.processes()[0] != before[0]:
        raise NotHeld("the guard was started anew")
    return f"relay off after {after_s:.1f} s, the guard's contact too; {rested(guest, off_s)}"


def _came_back(guest: Guest, unit: str, before: tuple[str, str]) -> None:
    which = (GUARD, CUTOFF).index(unit)

    def is_back() -> bool:
        return guest.is_active(unit) and guest.processes()[which] not in {before[which], "0"}

    guest.wait(is_back, f"{unit} is back", PATIENCE_S)
