"""The step on a simulated plant cycles as the theory of two-position control says.

A first-order plant with dead time, tau dT/dt = T_inf - T, under a relay with a
differential has a limit cycle in closed form.  The expressions follow from solving
each branch of the exponential between the switching points; they have the structure
of Wang, Hang and Zou, Ind. Eng. Chem. Res. 36 (1997) 1530-1536, for a biased relay on
such a plant, and of Astrom and Hagglund, Automatica 20 (1984) 645-651.  (The
expressions are derived here; page numbers are from memory.)
"""

import math
from collections import deque
from dataclasses import dataclass

import pytest
from builders import Life, bench_settings

from reefguard.settings.model import Chiller, CutPoints, Fan, FanStage, SafeBand, Settings, Wiring

TICK_S = 5.0


@dataclass(frozen=True)
class Plant:
    """Water that tends to `off_c` by itself and to `on_c` when cooled, with `tau_s`, `dead_s` late."""

    tau_s: float
    dead_s: float
    off_c: float
    on_c: float
    cut: CutPoints


@dataclass(frozen=True)
class Cycle:
    """One turn: its extremes, and how long the cooler was on and off in it."""

    peak_c: float
    valley_c: float
    on_s: float
    off_s: float


def in_theory(plant: Plant) -> Cycle:
    """Return the limit cycle in closed form."""
    late = math.exp(-plant.dead_s / plant.tau_s)
    high_c, low_c = plant.cut.cut_in_c, plant.cut.cut_out_c
    peak_c = plant.off_c - (plant.off_c - high_c) * late
    valley_c = plant.on_c + (low_c - plant.on_c) * late
    on_s = plant.dead_s + plant.tau_s * math.log((peak_c - plant.on_c) / (low_c - plant.on_c))
    off_s = plant.dead_s + plant.tau_s * math.log((plant.off_c - valley_c) / (plant.off_c - high_c))
    return Cycle(peak_c, valley_c, on_s, off_s)


def simulated(plant: Plant, settings: Settings, output: str) -> tuple[Cycle, float]:
    """Return the fifth cycle of the step on the plant, and the mean temperature over it."""
    life = Life(settings)
    water_c = (plant.cut.cut_in_c + plant.cut.cut_out_c) / 2.0
    on_its_way = deque([False] * round(plant.dead_s / TICK_S))
    share = 1.0 - math.exp(-TICK_S / plant.tau_s)
    starts: list[int] = []
    ons: list[bool] = []
    waters_c: list[float] = []
    while len(starts) < 6:
        life.tick(water_c, TICK_S)
        on = life.command(output).on
        if on and ons and not ons[-1]:
            starts.append(len(ons))
        ons.append(on)
        waters_c.append(water_c)
        on_its_way.append(on)
        tends_to_c = plant.on_c if on_its_way.popleft() else plant.off_c
        water_c += (tends_to_c - water_c) * share
        assert len(ons) < 200_000
    turn = slice(starts[4], starts[5])
    on_s = TICK_S * sum(ons[turn])
    cycle = Cycle(max(waters_c[turn]), min(waters_c[turn]), on_s, TICK_S * (starts[5] - starts[4]) - on_s)
    return cycle, sum(waters_c[turn]) / len(waters_c[turn])


FANS = FanStage(CutPoints(26.6, 26.2), (Fan("fan1", Wiring(17)),))
QUICK = Chiller(  # timers too short to be felt
    Wiring(22), CutPoints(27.2, 26.6), minimum_off_s=TICK_S, minimum_on_s=TICK_S, start_to_start_s=0.0
)
PLANTS = [
    # A big slow tank with fans, and with a strong chiller on a long loop; a small quick one.
    Plant(tau_s=80_000.0, dead_s=120.0, off_c=29.0, on_c=24.5, cut=FANS.cut),
    Plant(tau_s=20_000.0, dead_s=300.0, off_c=31.0, on_c=18.0, cut=QUICK.cut),
    Plant(tau_s=3_600.0, dead_s=60.0, off_c=30.0, on_c=22.0, cut=QUICK.cut),
    Plant(tau_s=3_600.0, dead_s=600.0, off_c=28.0, on_c=25.0, cut=QUICK.cut),  # overshoots by a third
    Plant(tau_s=7_200.0, dead_s=0.0, off_c=27.0, on_c=26.0, cut=FANS.cut),  # no dead time at all
]


@pytest.mark.parametrize("plant", PLANTS)
@pytest.mark.parametrize("output", ["fan1", "chiller"])
def test_peak_valley_and_times_are_those_of_theory_to_one_tick(plant: Plant, output: str) -> None:
    band = SafeBand(20.0, 30.0)
    if output == "fan1":
        fans = FanStage(plant.cut, FANS.fans)
        settings = bench_settings(safe_band=band, fans=fans, chiller=None)
    else:
        chiller = Chiller(
            QUICK.wiring, plant.cut, minimum_off_s=TICK_S, minimum_on_s=TICK_S, start_to_start_s=0.0
        )
        settings = bench_settings(safe_band=band, fans=None, chiller=chiller)
    expected = in_theory(plant)
    found, mean_c = simulated(plant, settings, output)

    # A tick late at a switching point moves the extreme by what the water moves in a tick, and each
    # of the two times by a tick at either end and by what the other branch must make good again.
    warming = (plant.off_c - plant.cut.cut_out_c) / plant.tau_s
    cooling = (plant.cut.cut_in_c - plant.on_c + 0.5) / plant.tau_s
    assert expected.peak_c <= found.peak_c + 1e-9 <= expected.peak_c + TICK_S * warming + 2e-9
    assert expected.valley_c >= found.valley_c - 1e-9 >= expected.valley_c - TICK_S * cooling - 2e-9
    slowest_warming = (plant.off_c - expected.peak_c) / plant.tau_s
    slowest_cooling = (expected.valley_c - plant.on_c) / plant.tau_s
    assert found.on_s == pytest.approx(expected.on_s, abs=TICK_S * (2.0 + warming / slowest_cooling))
    assert found.off_s == pytest.approx(expected.off_s, abs=TICK_S * (2.0 + cooling / slowest_warming))

    # Integrated over a whole turn the water ends where it began: the mean is exactly what the duty says.
    duty = found.on_s / (found.on_s + found.off_s)
    turns_meet_within_c = TICK_S * (warming + cooling) * plant.tau_s / (found.on_s + found.off_s)
    assert mean_c == pytest.approx(plant.off_c - duty * (plant.off_c - plant.on_c), abs=turns_meet_within_c)


def test_the_rest_of_the_compressor_stretches_the_cycle_by_what_it_must() -> None:
    """Where the plant warms sooner than the compressor has rested, the rest is the time off."""
    plant = Plant(tau_s=3_600.0, dead_s=0.0, off_c=34.0, on_c=20.0, cut=QUICK.cut)
    resting = Chiller(QUICK.wiring, plant.cut, minimum_off_s=600.0, minimum_on_s=0.0, start_to_start_s=0.0)
    settings = bench_settings(safe_band=SafeBand(20.0, 30.0), fans=None, chiller=resting)
    free = in_theory(plant)
    assert free.off_s < 600.0
    found, _ = simulated(plant, settings, "chiller")
    assert found.off_s == 600.0
    peak_c = plant.off_c - (plant.off_c - found.valley_c) * math.exp(-600.0 / plant.tau_s)
    a_tick_c = TICK_S * (plant.off_c - plant.cut.cut_out_c) / plant.tau_s
    assert found.peak_c == pytest.approx(peak_c, abs=a_tick_c)
    on_s = plant.tau_s * math.log((peak_c - plant.on_c) / (plant.cut.cut_out_c - plant.on_c))
    assert found.on_s == pytest.approx(on_s, abs=2 * TICK_S)
