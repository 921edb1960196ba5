"""The balance's steps against an adaptive solver, on equations written down anew.

The right-hand side shares no line with the balance: vapour pressure and air by psychrolib 2.5.0, the
water by gsw 3.6.23 (TEOS-10), radiation and exchange as their sources have them, the vapour pressure of
the airs not linearised.  It has no condensation, so the weather here is dry enough.
"""

import itertools
import math
from typing import NamedTuple

import gsw
import psychrolib
import pytest
from heated_plants import DAY_S, HOUR_S, air, left_for, reef
from scipy.integrate import solve_ivp

from reefguard.thermal.balance import TankBalance
from reefguard.thermal.plant import Plant, Siting, Stand, Vessel
from reefguard.thermal.refrigeration import ChillerTraits
from reefguard.thermal.state import Drive, State
from reefguard.thermal.weather import OutsideAir

psychrolib.SetUnitSystem(psychrolib.SI)
PRESSURE_PA = 101_325.0
LATENT_J_KG = float(gsw.latentheat_evap_t(35.165_04, 26.0))
SHARE = math.exp(
    (
        gsw.chem_potential_water_t_exact(35.165_04, 26.0, 0.0)
        - gsw.chem_potential_water_t_exact(0.0, 26.0, 0.0)
    )
    * 1_000.0
    / (461.523_64 * 299.15)
)
# Bowen's ratio with Chilton and Colburn's exponent: cp P / (0.622 L) Le^(2/3), Lewis number 0.865.
GAMMA_PA_K = 1_006.0 * PRESSURE_PA / (0.622 * (2.501e6 - 2_361.0 * 27.0)) * 0.865 ** (2.0 / 3.0)
RADIATION_W_M2_K = 4.0 * 0.95 * 5.670374e-8 * 299.15**3
AIR_KG_M3 = 1.0 / psychrolib.GetMoistAirVolume(
    26.0, psychrolib.GetHumRatioFromVapPres(1_700.0, PRESSURE_PA), PRESSURE_PA
)


class Hour(NamedTuple):
    """What runs for an hour, in which weather."""

    drive: Drive
    outside: OutsideAir


def hours(plant: Plant, days: int) -> list[Hour]:
    """Return a warm dry spell: lights by day, fans in the afternoon, the chiller for two hours."""
    schedule = []
    for hour in range(24 * days):
        clock = hour % 24
        afternoon = 12 <= clock < 18
        drive = Drive(
            lights=1.0 if 10 <= clock < 20 else 0.0,
            fans=tuple((1.0, 0.5)[: len(plant.fans)]) if afternoon else (0.0,) * len(plant.fans),
            chiller=14 <= clock < 16,
            room_open=clock == 7,
            stand_open=clock == 15,
        )
        warm_c = 28.0 + 5.0 * math.cos(2.0 * math.pi * (clock - 15) / 24.0)
        schedule.append(Hour(drive, OutsideAir(warm_c, 0.008 + 0.0005 * (hour % 5))))
    return schedule


def exchange_w_pa(plant: Plant, vessel: Vessel | None, drive: Drive, *, sump: bool) -> float:
    """Return a vessel's latent exchange: ASHRAE's equation, the fan's term on what it sweeps."""
    if vessel is None:
        return 0.0
    w_m2_pa = 0.089 * vessel.agitation
    for fan, level in zip(plant.fans, drive.fans, strict=True):
        if fan.over_sump == sump:
            w_m2_pa += 0.0782 * fan.air_m_s * fan.swept * level
    return vessel.open_m2 * w_m2_pa


def slopes(plant: Plant, hour: Hour, values: list[float]) -> list[float]:
    """Return the rates of change of water, room, room's vapour, stand, stand's vapour."""
    water_c, room_c, room_ratio, stand_c, stand_ratio = values
    drive, (outside_c, outside_ratio) = hour
    room, stand = plant.room, plant.stand
    assert stand is not None
    water_pa = SHARE * psychrolib.GetSatVapPres(water_c)
    to_water_w = plant.pumps_w * drive.pumps + plant.lights_w * drive.lights * plant.lights_to_water
    room_w = plant.lights_w * drive.lights * (1.0 - plant.lights_to_water) + room.other_gains_w
    room_w += sum(fan.power_w * level for fan, level in zip(plant.fans, drive.fans, strict=True))
    stand_w = 0.0
    evaporated_kg_s = []
    for vessel, around_c, ratio, sump in (
        (plant.display, room_c, room_ratio, False),
        (plant.sump, stand_c, stand_ratio, True),
    ):
        assert vessel is not None
        latent_w_pa = exchange_w_pa(plant, vessel, drive, sump=sump)
        lost_w_k = latent_w_pa * GAMMA_PA_K + RADIATION_W_M2_K * vessel.open_m2
        if vessel.walls is not None:
            lost_w_k += vessel.walls.conductance_w_k(water_c - around_c)
        vapour_pa = psychrolib.GetVapPresFromHumRatio(ratio, PRESSURE_PA)
        latent_w = latent_w_pa * (water_pa - vapour_pa)
        evaporated_kg_s.append(latent_w / LATENT_J_KG)
        to_water_w -= lost_w_k * (water_c - around_c) + latent_w
        if sump:
            stand_w += lost_w_k * (water_c - around_c)
        else:
            room_w += lost_w_k * (water_c - around_c)
    if drive.chiller and plant.chiller is not None:
        breathes_c = {Siting.ROOM: room_c, Siting.STAND: stand_c, Siting.OUTSIDE: outside_c}[plant.siting]
        taken_w = plant.chiller.capacity_w * (1.0 - 0.012 * (breathes_c - 30.0) + 0.025 * (water_c - 26.0))
        rejected_w = taken_w * (1.0 + (breathes_c - water_c + 27.0) / (0.30 * (water_c - 12.0 + 273.15)))
        to_water_w -= taken_w
        room_w += rejected_w if plant.siting is Siting.ROOM else 0.0
        stand_w += rejected_w if plant.siting is Siting.STAND else 0.0
    room_kg, stand_kg = AIR_KG_M3 * room.volume_m3, AIR_KG_M3 * stand.volume_m3
    changes_per_h = room.open_air_changes_per_h if drive.room_open else room.air_changes_per_h
    changed_kg_s = room_kg * changes_per_h / 3_600.0
    vented_m3_h = stand.open_vented_m3_h if drive.stand_open else stand.vented_m3_h
    vented_kg_s = AIR_KG_M3 * vented_m3_h / 3_600.0
    stand_to_room_w = (stand.conductance_w_k + vented_kg_s * 1_006.0) * (stand_c - room_c)
    room_w += (room.conductance_w_k + changed_kg_s * 1_006.0) * (outside_c - room_c) + stand_to_room_w
    stand_w -= stand_to_room_w
    stand_to_room_kg_s = vented_kg_s * (stand_ratio - room_ratio)
    absolute = plant.salinity * 35.165_04 / 35.0
    water_kg = plant.litres / 1_000.0 * float(gsw.rho_t_exact(absolute, 26.0, 0.0))
    water_j_k = water_kg * float(gsw.cp_t_exact(absolute, 26.0, 0.0))
    return [
        to_water_w / water_j_k,
        room_w / (room_kg * 1_006.0 * room.furnishing),
        (evaporated_kg_s[0] + changed_kg_s * (outside_ratio - room_ratio) + stand_to_room_kg_s) / room_kg,
        stand_w / (stand_kg * 1_006.0 + stand.heat_capacity_j_k),
        (evaporated_kg_s[1] - stand_to_room_kg_s) / stand_kg,
    ]


def solved(plant: Plant, start: State, schedule: list[Hour]) -> list[list[float]]:
    """Return the state after each hour, by an implicit method of high order."""
    values = list(start[:5])
    found = []
    for hour in schedule:
        solution = solve_ivp(
            lambda _, at, hour=hour: slopes(plant, hour, list(at)),
            (0.0, HOUR_S),
            values,
            method="LSODA",
            rtol=1e-8,
            atol=1e-9,
        )
        assert solution.success
        values = [float(value) for value in solution.y[:, -1]]
        found.append(values)
    return found


def stepped(plant: Plant, start: State, schedule: list[Hour], span_s: float) -> list[State]:
    """Return the state after each hour, by the balance."""
    balance = TankBalance(plant)
    state = start
    found = []
    for hour in schedule:
        for _ in range(round(HOUR_S / span_s)):
            state, flows = balance.advance(state, hour.drive, hour.outside, span_s)
            assert flows.condensed_kg_s == 0.0
        found.append(state)
    return found


@pytest.mark.parametrize("siting", list(Siting))
def test_three_days_go_as_the_solver_says(siting: Siting) -> None:
    """Water within 0.0017 K at steps of 30 s and 0.0055 K at 300 s, room within 0.008 and 0.07 K.

    The stand is ventilated well enough that the chiller in it is not stopped by its own protection: no
    adaptive solver likes a switch.
    """
    plant = reef(siting=siting, stand=Stand(6.0, 60.0), chiller=ChillerTraits(250.0))
    schedule = hours(plant, 3)
    start = TankBalance(plant).at_rest(26.0, schedule[0].outside)
    exact = solved(plant, start, schedule)
    for span_s, water_k, room_k in ((30.0, 0.002, 0.01), (300.0, 0.007, 0.1)):
        for state, values in zip(stepped(plant, start, schedule, span_s), exact, strict=True):
            assert state.water_c == pytest.approx(values[0], abs=water_k)
            assert state.room_c == pytest.approx(values[1], abs=room_k)
            assert state.room_ratio == pytest.approx(values[2], abs=0.0001)
    swing = [values[0] for values in exact]
    assert max(swing) - min(swing) > 1.0


def test_the_error_shrinks_with_the_step() -> None:
    """A method of first order: half the step, half the error, within a tenth."""
    balance = TankBalance(reef())
    outside = air(33.0, 0.4)
    start = balance.at_rest(24.0, outside)._replace(room_c=29.0)
    drive = Drive(1.0, (1.0, 1.0))

    def ended_c(span_s: float) -> float:
        return left_for(balance, start, drive, outside, 6.0 * HOUR_S, span_s)[0].water_c

    exact_c = ended_c(1.0)
    errors_k = [ended_c(span_s) - exact_c for span_s in (600.0, 300.0, 150.0)]
    for coarse, fine in itertools.pairwise(errors_k):
        assert coarse / fine == pytest.approx(2.0, rel=0.1)
    assert abs(errors_k[0]) < 0.025


@pytest.mark.parametrize("chiller", [False, True])
def test_a_step_is_as_good_as_its_parts(*, chiller: bool) -> None:
    """A day at 600 s ends within 0.015 K of one at 5 s, a day at 60 s within 0.0015 K."""
    balance = TankBalance(reef(siting=Siting.OUTSIDE))
    outside = air(32.0, 0.4)
    start = balance.at_rest(26.0, outside)
    drive = Drive(0.5, (1.0, 0.0), chiller=chiller)
    fine, _ = left_for(balance, start, drive, outside, DAY_S, 5.0)
    for span_s, apart_k in ((60.0, 0.0015), (600.0, 0.015)):
        coarse, _ = left_for(balance, start, drive, outside, DAY_S, span_s)
        assert coarse.water_c == pytest.approx(fine.water_c, abs=apart_k)
        assert coarse.room_c == pytest.approx(fine.room_c, abs=apart_k)
