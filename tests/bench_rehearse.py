"""How fast virtual time runs: the whole loop, and the same plant and switching in a general solver.

    python tests/bench_rehearse.py

Both live through the same hot days on the same tank: one with the program's own loop (guard, cutoff, probes,
findings, balance), one with scipy's `solve_ivp` (RK45, events at the switching points) on the same balance
with ideal probes and no program in it at all.
"""

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from rehearsed import HOT, PLANT, SETTINGS, SETUP, drill, stage
from scipy.integrate import solve_ivp

from reefguard.control.photoperiod import lit_at
from reefguard.rehearsal.drills.life import live
from reefguard.thermal.balance import TankBalance
from reefguard.thermal.state import Drive, State

DAYS = 10
DAY_S = 86_400.0
TICK_S = 30.0


def own_loop() -> tuple[float, int, int]:
    """Return seconds of the processor, ticks, and compressor starts."""
    whole = drill(lasts_h=24.0 * DAYS, begins_h=0.0, tick_s=TICK_S)
    begun_s = time.process_time()
    record = live(stage(whole, SETTINGS, SETUP, PLANT, HOT))
    return time.process_time() - begun_s, record.ticks, len(record.starts_s)


def solver() -> tuple[float, int]:
    """Return seconds of the processor and compressor starts; fans and chiller switch at their cut points."""
    balance = TankBalance(PLANT)
    assert SETTINGS.fans is not None
    assert SETTINGS.chiller is not None
    fans, chiller = SETTINGS.fans.cut, SETTINGS.chiller.cut
    running = {"fans": False, "chiller": False}

    def rates(at_s: float, values: np.ndarray) -> np.ndarray:
        water_c, room_c, room_ratio, stand_c, stand_ratio = map(float, values)
        state = State(water_c, room_c, room_ratio, stand_c, stand_ratio)
        level = 1.0 if running["fans"] else 0.0
        drive = Drive(1.0 if lit_at(at_s, SETTINGS.lights) else 0.0, (level, level), running["chiller"])
        after, _ = balance.advance(state, drive, HOT.at(at_s), 1e-3)
        rate: np.ndarray = (np.array(after[:5]) - values) / 1e-3
        return rate

    def event(threshold_c: float, direction: int) -> Callable[[float, np.ndarray], float]:
        def crossing(at_s: float, values: np.ndarray) -> float:
            del at_s
            return float(values[0] - threshold_c)

        crossing.terminal = True  # type: ignore[attr-defined]  # solve_ivp's own protocol
        crossing.direction = direction  # type: ignore[attr-defined]  # the same
        return crossing

    starts = 0
    at_s, end_s = 0.0, DAYS * DAY_S
    values = np.array(balance.at_rest(fans.cut_out_c, HOT.at(0.0))[:5])
    begun_s = time.process_time()
    while at_s < end_s:
        until_s = min(end_s, at_s + 3_600.0)
        events = [
            event(fans.cut_out_c, -1) if running["fans"] else event(fans.cut_in_c, 1),
            event(chiller.cut_out_c, -1) if running["chiller"] else event(chiller.cut_in_c, 1),
        ]
        solved = solve_ivp(
            rates, (at_s, until_s), values, events=events, rtol=1e-6, atol=1e-8, max_step=600.0
        )
        at_s, values = float(solved.t[-1]), solved.y[:, -1]
        if solved.t_events[0].size:
            running["fans"] = not running["fans"]
        if solved.t_events[1].size:
            running["chiller"] = not running["chiller"]
            starts += running["chiller"]
        if solved.t_events[0].size or solved.t_events[1].size:
            at_s += 1e-3
    return time.process_time() - begun_s, starts


def main() -> None:
    """Print the figures."""
    taken = [own_loop() for _ in range(3)]
    fastest_s, ticks, starts = min(taken)
    print(
        f"own loop:  {ticks / fastest_s:,.0f} ticks/s (best of 3), {starts} compressor starts in {DAYS} days"
    )
    print(
        f"           a summer of 90 days at {TICK_S:.0f} s: {90 * DAY_S / TICK_S / (ticks / fastest_s):.1f} s"
    )
    without = replace(PLANT, sump=None, stand=None)
    begun_s = time.process_time()
    bare = live(stage(drill(lasts_h=24.0, tick_s=TICK_S), replace(SETTINGS, room_air=None), None, without))
    print(
        f"           without stand, sump, cutoff: {bare.ticks / (time.process_time() - begun_s):,.0f} ticks/s"
    )
    solved_s, solved_starts = solver()
    print(
        f"solve_ivp: {solved_s:.1f} s for the same days, {solved_starts} starts; own loop {fastest_s:.1f} s"
    )
    print(f"           ratio {solved_s / fastest_s:.1f}")


if __name__ == "__main__":
    main()
