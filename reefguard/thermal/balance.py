"""The balance of heat and moisture of tank, stand and room, carried forward in time.

    water   C dT/dt   = lights + pumps + heater + (walls + sensible + radiation)(air - T)
                        - K (p_water - p_air) - chiller
    room    C dT/dt   = G (outdoors - T) + what the tank and the stand give + lights' rest + rejected heat
            m dW/dt   = air changes (W_outdoors - W) + evaporation - what condenses on the walls
    stand   the same, against the room

The water moves in hours and is taken a step at a time at its old temperature;
room and stand move in minutes and are solved together at their new ones
(backward Euler), so that no step is too long for them.  Every joule and every
gram that leaves one enters another or is named in `Flows`.
"""

import math
from typing import NamedTuple

from reefguard.thermal import walls
from reefguard.thermal.moist_air import (
    MOLAR_RATIO,
    dry_air_kg_m3,
    exchange_ratio_pa_k,
    humidity_ratio,
    saturation_pressure_pa,
)
from reefguard.thermal.plant import FanTraits, Plant, Siting, Stand, Vessel
from reefguard.thermal.sea_water import (
    density_kg_m3,
    heat_capacity_j_kg_k,
    latent_heat_j_kg,
    salinity_after_loss,
    vapour_share,
)
from reefguard.thermal.state import Drive, Flows, State
from reefguard.thermal.water_surface import exchange_w_m2_pa, radiation_w_m2_k
from reefguard.thermal.weather import OutsideAir

# One state at which the properties that hardly move are taken: 20 to 30 degrees C differ by 0.1 to 0.5 %.
REFERENCE_C = 26.0
LATENT_HEAT_J_KG = latent_heat_j_kg(REFERENCE_C)
_AIR_J_KG_K = 1_006.0  # ASHRAE (2017), chapter 1, equation 30
_USUAL_VAPOUR_PA = 1_700.0  # half of saturation; moves the air's density by less than 1 %


def _settled(  # noqa: PLR0917  two nodes with three coefficients each; names would double the cost
    room_held: float,
    room_side: float,
    room_sink: float,
    stand_held: float,
    stand_side: float,
    stand_sink: float,
    between: float,
) -> tuple[float, float]:
    """Return the new values of room and stand by backward Euler.

    Args:
        room_held: what the room stores for each unit, over the span.
        room_side: that times its old value, and what flows in whatever its value.
        room_sink: what flows out for each unit of its value.
        stand_held: the same of the stand.
        stand_side: the same.
        stand_sink: the same.
        between: what the two exchange for each unit of difference.
    """
    room_sum = room_held + room_sink + between
    stand_sum = stand_held + stand_sink + between
    room = (room_side * stand_sum + between * stand_side) / (room_sum * stand_sum - between * between)
    return room, (stand_side + between * room) / stand_sum


class _Exchange(NamedTuple):
    """Latent exchange of the water with the air of room and stand, and the power of the fans that run."""

    room_w_pa: float
    stand_w_pa: float
    fans_w: float


class _Chilled(NamedTuple):
    """What the chiller takes from the water, draws, and throws out."""

    taken_w: float
    electric_w: float
    rejected_w: float


_NOT_CHILLED = _Chilled(0.0, 0.0, 0.0)


class _Moisture(NamedTuple):
    """New humidity ratios, and the mass flows of the step: from the water, from outdoors, onto the walls."""

    room_ratio: float
    stand_ratio: float
    evaporation_kg_s: float
    from_outdoors_kg_s: float
    room_wet_kg_s: float
    stand_wet_kg_s: float


class _Heat(NamedTuple):
    """New temperatures, and the heat flows of the step: into the water, from outdoors, from sources."""

    room_c: float
    stand_c: float
    walls_w: float
    surface_w: float
    outdoors_w: float
    room_in_w: float


def _most(air_c: float, pressure_pa: float) -> float:
    """Return the humidity ratio of saturated air: below freezing that at freezing, no limit above boiling."""
    saturated_pa = saturation_pressure_pa(max(0.0, air_c))
    return humidity_ratio(saturated_pa, pressure_pa) if saturated_pa < pressure_pa else math.inf


# Up to which whole degree it is looked up whether air can be saturated at all.
_TABLE_C = 60


def _table(vessel: Vessel | None) -> tuple[float, ...]:
    if vessel is None or vessel.walls is None:
        return (0.0, 0.0)
    return walls.conductance_by_kelvin(vessel.walls)


def _still_w_pa(vessel: Vessel | None) -> float:
    return 0.0 if vessel is None else vessel.open_m2 * exchange_w_m2_pa(0.0, vessel.agitation)


# The air of a stand that is not there: it exchanges nothing, and nobody looks at it.
_NO_STAND = Stand(conductance_w_k=0.0, vented_m3_h=0.0, open_vented_m3_h=0.0)


class TankBalance:
    """A plant, with everything worked out that stays the same.  What it remembers changes no answer."""

    def __init__(self, plant: Plant) -> None:
        """Work out the constants.

        Args:
            plant: of which the balance is drawn.
        """
        self.plant = plant
        self.water_kg = plant.litres * density_kg_m3(REFERENCE_C, plant.salinity) / 1_000.0
        self.water_j_k = self.water_kg * heat_capacity_j_kg_k(REFERENCE_C, plant.salinity)
        air_kg_m3 = dry_air_kg_m3(REFERENCE_C, _USUAL_VAPOUR_PA, plant.pressure_pa)
        room, stand = plant.room, plant.stand or _NO_STAND
        self.room_kg = air_kg_m3 * room.volume_m3
        self.room_j_k = self.room_kg * _AIR_J_KG_K * room.furnishing
        self.stand_kg = air_kg_m3 * stand.volume_m3
        self.stand_j_k = self.stand_kg * _AIR_J_KG_K + stand.heat_capacity_j_k
        # Shut, open.
        self._room_kg_s = (
            self.room_kg * room.air_changes_per_h / 3_600.0,
            self.room_kg * room.open_air_changes_per_h / 3_600.0,
        )
        self._stand_kg_s = (
            air_kg_m3 * stand.vented_m3_h / 3_600.0,
            air_kg_m3 * stand.open_vented_m3_h / 3_600.0,
        )
        self._stand_w_k = stand.conductance_w_k
        self._has_stand = plant.stand is not None
        without = plant.stand is None and plant.siting is Siting.STAND
        self._rejects_to = Siting.ROOM if without else plant.siting
        self._vapour_share = vapour_share(plant.salinity)
        self._sensible_pa_k = exchange_ratio_pa_k(plant.pressure_pa)
        # Saturation at whole degrees: what lies below needs no exact answer.
        self._surely_held = tuple(_most(float(air_c), plant.pressure_pa) for air_c in range(_TABLE_C))
        self._display_walls, self._sump_walls = _table(plant.display), _table(plant.sump)
        display_w_pa = plant.exchange_scale * _still_w_pa(plant.display)
        sump_w_pa = plant.exchange_scale * _still_w_pa(plant.sump)
        radiative = radiation_w_m2_k(REFERENCE_C)
        display_w_k = radiative * plant.display.open_m2
        sump_w_k = 0.0 if plant.sump is None else radiative * plant.sump.open_m2
        # Without a stand the sump stands in the room's air.
        if self._has_stand:
            self._still = _Exchange(display_w_pa, sump_w_pa, 0.0)
            self._room_radiation_w_k, self._stand_radiation_w_k = display_w_k, sump_w_k
        else:
            self._still = _Exchange(display_w_pa + sump_w_pa, 0.0, 0.0)
            self._room_radiation_w_k, self._stand_radiation_w_k = display_w_k + sump_w_k, 0.0
        # Levels come back again and again: each set of them is worked out once.
        self._exchanges: dict[tuple[float, ...], _Exchange] = {}
        self._fans = tuple(
            (fan.over_sump and self._has_stand, self._fan_w_pa(fan), fan.power_w) for fan in plant.fans
        )

    def _fan_w_pa(self, fan: FanTraits) -> float:
        """Return what a fan at full speed adds to the exchange."""
        vessel = self.plant.sump if fan.over_sump else self.plant.display
        if vessel is None:
            return 0.0
        added_w_m2_pa = exchange_w_m2_pa(fan.air_m_s) - exchange_w_m2_pa(0.0)
        return self.plant.exchange_scale * vessel.open_m2 * fan.swept * added_w_m2_pa

    def at_rest(self, water_c: float, outside: OutsideAir) -> State:
        """Return a state to begin from: room and stand as the weather, or as warm as heating keeps them."""
        heated_to_c = self.plant.room.heated_to_c
        air_c = outside.air_c if heated_to_c is None else max(outside.air_c, heated_to_c)
        return State(water_c, air_c, outside.humidity_ratio, air_c, outside.humidity_ratio)

    def salinity(self, state: State) -> float:
        """Return the practical salinity: what evaporated left its salt."""
        return salinity_after_loss(
            self.plant.salinity, self.water_kg, min(state.lost_kg, self.water_kg / 2.0)
        )

    def advance(self, state: State, drive: Drive, outside: OutsideAir, span_s: float) -> tuple[State, Flows]:
        """Carry the state forward under constant conditions.

        Args:
            state: at the beginning.
            drive: what runs meanwhile.
            outside: the air outdoors.
            span_s: length of the step, up to some 10 min.

        Returns:
            The state at the end, and the mean flows.

        Raises:
            ValueError: the water or an air has left 0 to 200 degrees C, where no formula holds.
        """
        plant = self.plant
        water_c = state.water_c
        exchange = self._exchanges.get(drive.fans) or self._fanned(drive.fans)
        chilled = self._chilled(state, outside) if drive.chiller else _NOT_CHILLED
        moist = self._moisture(state, drive, exchange, outside, span_s)

        lights_w = plant.lights_w * drive.lights
        lit_w = lights_w * plant.lights_to_water
        rejected_to_room_w = chilled.rejected_w if self._rejects_to is Siting.ROOM else 0.0
        rejected_to_stand_w = chilled.rejected_w if self._rejects_to is Siting.STAND else 0.0
        heat = self._heat(
            state,
            drive,
            exchange,
            outside,
            room_source_w=lights_w - lit_w + exchange.fans_w + plant.room.other_gains_w + rejected_to_room_w,
            stand_source_w=rejected_to_stand_w,
            moist=moist,
            span_s=span_s,
        )

        pumps_w = plant.pumps_w * drive.pumps
        heater_w = plant.heater_w if water_c < plant.heater_off_above_c else 0.0
        latent_w = -LATENT_HEAT_J_KG * moist.evaporation_kg_s
        gained_w = lit_w + pumps_w + heater_w + heat.walls_w + heat.surface_w + latent_w - chilled.taken_w
        after = State(
            water_c + gained_w * span_s / self.water_j_k,
            heat.room_c,
            moist.room_ratio,
            heat.stand_c if self._has_stand else heat.room_c,
            moist.stand_ratio if self._has_stand else moist.room_ratio,
            0.0 if drive.topped_off else max(0.0, state.lost_kg + moist.evaporation_kg_s * span_s),
        )
        flows = Flows(
            moist.evaporation_kg_s,
            lit_w,
            pumps_w,
            heater_w,
            heat.walls_w,
            heat.surface_w,
            latent_w,
            chilled.taken_w,
            chilled.electric_w,
            chilled.rejected_w,
            exchange.fans_w,
            heat.room_in_w,
            heat.outdoors_w,
            moist.from_outdoors_kg_s,
            moist.room_wet_kg_s + moist.stand_wet_kg_s,
        )
        return after, flows

    def _fanned(self, levels: tuple[float, ...]) -> _Exchange:
        room_w_pa, stand_w_pa, fans_w = self._still
        for (into_stand, w_pa, power_w), level in zip(self._fans, levels, strict=True):
            fans_w += power_w * level
            if into_stand:
                stand_w_pa += w_pa * level
            else:
                room_w_pa += w_pa * level
        exchange = self._exchanges[levels] = _Exchange(room_w_pa, stand_w_pa, fans_w)
        return exchange

    def _chilled(self, state: State, outside: OutsideAir) -> _Chilled:
        """Return what the chiller moves, in the air it stands in."""
        chiller = self.plant.chiller
        if chiller is None:
            return _NOT_CHILLED
        breathes_c = state.room_c
        if self._rejects_to is not Siting.ROOM:
            breathes_c = state.stand_c if self._rejects_to is Siting.STAND else outside.air_c
        taken_w = chiller.cooling_w(state.water_c, breathes_c)
        electric_w = taken_w / chiller.performance(state.water_c, breathes_c)
        return _Chilled(taken_w, electric_w, taken_w + electric_w)

    def _moisture(
        self, state: State, drive: Drive, exchange: _Exchange, outside: OutsideAir, span_s: float
    ) -> _Moisture:
        """Carry the moisture of room and stand forward; what their air cannot hold condenses."""
        pressure_pa = self.plant.pressure_pa
        share = self._vapour_share if state.lost_kg == 0.0 else vapour_share(self.salinity(state))
        water_pa = share * saturation_pressure_pa(state.water_c)
        changed_kg_s, vented_kg_s = self._room_kg_s[drive.room_open], self._stand_kg_s[drive.stand_open]
        # Vapour pressure as a straight line around the old humidity ratio: base + slope W.
        room_slope_pa = pressure_pa * MOLAR_RATIO / (MOLAR_RATIO + state.room_ratio) ** 2
        room_base_pa = room_slope_pa * state.room_ratio**2 / MOLAR_RATIO
        stand_slope_pa = pressure_pa * MOLAR_RATIO / (MOLAR_RATIO + state.stand_ratio) ** 2
        stand_base_pa = stand_slope_pa * state.stand_ratio**2 / MOLAR_RATIO
        room_kg_s_pa = exchange.room_w_pa / LATENT_HEAT_J_KG
        stand_kg_s_pa = exchange.stand_w_pa / LATENT_HEAT_J_KG
        room_held, stand_held = self.room_kg / span_s, self.stand_kg / span_s
        room_ratio, stand_ratio = _settled(
            room_held,
            room_held * state.room_ratio
            + room_kg_s_pa * (water_pa - room_base_pa)
            + changed_kg_s * outside.humidity_ratio,
            room_kg_s_pa * room_slope_pa + changed_kg_s,
            stand_held,
            stand_held * state.stand_ratio + stand_kg_s_pa * (water_pa - stand_base_pa),
            stand_kg_s_pa * stand_slope_pa,
            vented_kg_s,
        )
        evaporation_kg_s = room_kg_s_pa * (water_pa - room_base_pa - room_slope_pa * room_ratio)
        evaporation_kg_s += stand_kg_s_pa * (water_pa - stand_base_pa - stand_slope_pa * stand_ratio)
        from_outdoors_kg_s = changed_kg_s * (outside.humidity_ratio - room_ratio)
        room_excess = self._excess(room_ratio, state.room_c)
        stand_excess = self._excess(stand_ratio, state.stand_c) if self._has_stand else 0.0
        room_wet_kg_s = stand_wet_kg_s = 0.0
        if room_excess > 0.0:
            room_ratio -= room_excess
            room_wet_kg_s = room_excess * self.room_kg / span_s
        if stand_excess > 0.0:
            stand_ratio -= stand_excess
            stand_wet_kg_s = stand_excess * self.stand_kg / span_s
        return _Moisture(
            room_ratio, stand_ratio, evaporation_kg_s, from_outdoors_kg_s, room_wet_kg_s, stand_wet_kg_s
        )

    def _excess(self, ratio: float, air_c: float) -> float:
        """Return by how much a humidity ratio is more than the air can hold; nought where it holds it."""
        if 0.0 <= air_c < _TABLE_C and ratio <= self._surely_held[int(air_c)]:
            return 0.0
        return ratio - _most(air_c, self.plant.pressure_pa)

    def _heat(
        self,
        state: State,
        drive: Drive,
        exchange: _Exchange,
        outside: OutsideAir,
        *,
        room_source_w: float,
        stand_source_w: float,
        moist: _Moisture,
        span_s: float,
    ) -> _Heat:
        """Carry the temperatures of room and stand forward; say what the water gained from them."""
        water_c = state.water_c
        display_w_k = walls.between(self._display_walls, water_c - state.room_c)
        sump_w_k = walls.between(self._sump_walls, water_c - state.stand_c)
        room_surface_w_k = exchange.room_w_pa * self._sensible_pa_k + self._room_radiation_w_k
        stand_surface_w_k = exchange.stand_w_pa * self._sensible_pa_k + self._stand_radiation_w_k
        room_walls_w_k = display_w_k if self._has_stand else display_w_k + sump_w_k
        stand_walls_w_k = sump_w_k if self._has_stand else 0.0
        to_room_w_k = room_walls_w_k + room_surface_w_k
        to_stand_w_k = stand_walls_w_k + stand_surface_w_k
        outdoors_w_k = self.plant.room.conductance_w_k + self._room_kg_s[drive.room_open] * _AIR_J_KG_K
        stand_w_k = self._stand_w_k + self._stand_kg_s[drive.stand_open] * _AIR_J_KG_K
        room_held, stand_held = self.room_j_k / span_s, self.stand_j_k / span_s
        room_side = (
            room_held * state.room_c
            + room_source_w
            + LATENT_HEAT_J_KG * moist.room_wet_kg_s
            + to_room_w_k * water_c
            + outdoors_w_k * outside.air_c
        )
        stand_side = (
            stand_held * state.stand_c
            + stand_source_w
            + LATENT_HEAT_J_KG * moist.stand_wet_kg_s
            + to_stand_w_k * water_c
        )
        room_sink = to_room_w_k + outdoors_w_k
        room_c, stand_c = _settled(
            room_held, room_side, room_sink, stand_held, stand_side, to_stand_w_k, stand_w_k
        )
        heated_to_c = self.plant.room.heated_to_c
        heating_w = 0.0
        if heated_to_c is not None and room_c < heated_to_c:
            # The room's heating gives what is missing, at once.
            room_c = heated_to_c
            stand_c = (stand_side + stand_w_k * room_c) / (stand_held + to_stand_w_k + stand_w_k)
            heating_w = (room_held + room_sink) * room_c + stand_w_k * (room_c - stand_c) - room_side
        return _Heat(
            room_c,
            stand_c,
            room_walls_w_k * (room_c - water_c) + stand_walls_w_k * (stand_c - water_c),
            room_surface_w_k * (room_c - water_c) + stand_surface_w_k * (stand_c - water_c),
            outdoors_w_k * (outside.air_c - room_c),
            room_source_w + stand_source_w + heating_w,
        )
