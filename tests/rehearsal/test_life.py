"""A run in virtual time: what the promises say holds whatever happens, and theory where it can be had."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rehearsed import HOT, PLANT, SETTINGS, SETUP, drill, probes, stage

from reefguard.control.chiller import NAME as CHILLER
from reefguard.rehearsal.drills.deviation import drawn, none_at_all
from reefguard.rehearsal.drills.drill import CUTOFFS, EVERY, Event, Part, Turn
from reefguard.rehearsal.drills.life import live
from reefguard.rehearsal.drills.programs import BOOTS_IN_S, GUARD_HANGS_FOR_S
from reefguard.rehearsal.drills.record import Interval, Record
from reefguard.rehearsal.drills.turns import TURNS
from reefguard.settings.model import CutPoints
from reefguard.thermal.refrigeration import ChillerTraits

HOUR_S = 3_600.0


def happen(part: Part, turn: Turn, from_h: float, lasts_h: float | None = None, **more: object) -> Event:
    lasts_s = None if lasts_h is None else lasts_h * HOUR_S
    return replace(Event("it", part, turn, from_h * HOUR_S, lasts_s), **more)  # type: ignore[arg-type]  # a test names what it changes


def lived(*events: Event, **changes: object) -> Record:
    return live(stage(drill(*events), **changes))  # type: ignore[arg-type]  # a test names what it changes


def ran(record: Record, name: str, from_h: float, until_h: float) -> float:
    """Return for how long an output ran between two hours of the run."""
    begin_s, end_s = from_h * HOUR_S, until_h * HOUR_S
    return sum(
        max(0.0, min(spell.until_s, end_s) - max(spell.from_s, begin_s))
        for spell in record.runs.get(name, ())
    )


def test_an_ordinary_afternoon_stays_in_the_band() -> None:
    record = lived()
    assert record.ticks == 8 * 720
    assert SETTINGS.safe_band.low_c < record.coldest_c < record.hottest_c < SETTINGS.safe_band.high_c
    assert record.out_of_band_s == 0.0
    assert ran(record, "fan1", 0, 8) > HOUR_S
    assert ran(record, CHILLER, 0, 8) > HOUR_S
    # A guard that starts trusts no probe for a minute.
    assert [spell.from_s for spell in record.modes["automatic"]] == [60.0]


def test_the_same_seed_is_the_same_life_and_another_is_another() -> None:
    first, again, other = (
        live(stage(drill(), deviation=drawn(seed, probes()))) for seed in ("one", "one", "other")
    )
    assert first == again
    assert first.trace != other.trace


def test_a_welded_contact_is_undone_by_the_cutoff_alone() -> None:
    welded = happen(Part.CHILLER, Turn.WELDED, 1)
    record = live(stage(drill(welded, lasts_h=16.0)))
    assert "tripped" in record.cutoff_held
    # At the limit, less what the probe lags and the tank goes on for ten seconds.
    assert record.coldest_c > SETUP.limits.limit_c - 0.15
    alone = live(stage(drill(welded, lasts_h=16.0), setup=None))
    assert alone.coldest_c < SETTINGS.safe_band.low_c - 1.0


def test_two_welded_contacts_kill() -> None:
    both = (happen(Part.CHILLER, Turn.WELDED, 1), happen(Part.CUTOFF_RELAY, Turn.WELDED, 1))
    assert live(stage(drill(*both, lasts_h=16.0))).coldest_c < SETTINGS.safe_band.low_c - 1.0


def test_without_a_trusted_probe_the_fans_follow_the_lights_and_the_chiller_rests() -> None:
    record = lived(happen(Part.PROBE, Turn.EMPTY, 1, which=EVERY))
    assert "schedule" in record.modes
    # Its last good reading counts for a minute.
    assert ran(record, CHILLER, 1 + 65 / 3_600, 8) == 0.0
    assert ran(record, "fan1", 2, 8) == 6 * HOUR_S
    assert "no water" in record.told


def test_lamps_left_on_do_not_lengthen_the_schedule_of_the_settings() -> None:
    blind = happen(Part.PROBE, Turn.EMPTY, 0.5, which=EVERY)
    record = live(stage(drill(blind, happen(Part.LIGHTS, Turn.ON, 0.0), begins_h=18.0)))
    # 20:00 and the after-run of an hour: three hours into the run.
    assert ran(record, "fan1", 1, 3) == 2 * HOUR_S
    assert ran(record, "fan1", 3 + 10 / 3_600, 8) == 0.0


# A chiller that runs for hours, and may be stopped at any time.
CHILLING = replace(
    SETTINGS,
    chiller=replace(SETTINGS.chiller, cut=CutPoints(26.3, 25.0), minimum_on_s=0.0),  # type: ignore[type-var]  # it has one
)


@pytest.mark.parametrize("part", [Part.GUARD, Part.CUTOFF])
def test_a_killed_program_takes_the_chiller_off_at_once(part: Part) -> None:
    record = lived(happen(part, Turn.KILLED, 1.0), settings=CHILLING)
    running = next(spell for spell in record.runs[CHILLER] if spell.until_s >= HOUR_S)
    assert running.from_s < HOUR_S
    assert running.until_s <= HOUR_S + 5.0
    assert ran(record, CHILLER, 1.002, 1.0 + 299 / 3_600) == 0.0


def test_a_hung_guard_holds_its_outputs_until_the_watchdog() -> None:
    record = lived(happen(Part.GUARD, Turn.HUNG, 1.0), settings=CHILLING)
    running = next(spell for spell in record.runs[CHILLER] if spell.until_s > HOUR_S)
    assert running.from_s < HOUR_S
    assert HOUR_S + GUARD_HANGS_FOR_S <= running.until_s <= HOUR_S + GUARD_HANGS_FOR_S + 5.0
    assert record.modes["guard hung"][0].from_s == HOUR_S


def test_a_dead_guard_leaves_its_fans_as_their_settings_say() -> None:
    fans = SETTINGS.fans
    assert fans is not None
    running = replace(fans, fans=(replace(fans.fans[0], runs_at_rest=True), fans.fans[1]))
    record = lived(happen(Part.GUARD, Turn.DEAD, 2.0), settings=replace(SETTINGS, fans=running))
    assert ran(record, "fan1", 2.01, 8) == pytest.approx(5.99 * HOUR_S, abs=5.0)
    assert ran(record, "fan2", 2.01, 8) == 0.0
    assert ran(record, CHILLER, 2.01, 8) == 0.0


def test_after_a_power_cut_the_pi_boots_and_the_compressor_rests() -> None:
    record = lived(happen(Part.POWER, Turn.CUT, 4.0, 0.5))
    assert ran(record, "fan1", 4.0, 4.5) == 0.0
    back_s = 4.5 * HOUR_S + BOOTS_IN_S + SETTINGS.chiller.minimum_off_s  # type: ignore[union-attr]  # it has one
    assert all(start_s >= back_s for start_s in record.starts_s if start_s > 4 * HOUR_S)
    assert any(start_s > 4 * HOUR_S for start_s in record.starts_s)


def test_a_cold_water_change_mixes() -> None:
    change = happen(Part.WATER, Turn.CHANGED, 2.0, by=0.5, water_c=16.0)
    record = lived(change)
    before_c = next(water_c for at_s, water_c, _ in record.trace if at_s >= 2 * HOUR_S - 60.0)
    assert record.coldest_c == pytest.approx((before_c + 16.0) / 2.0, abs=0.1)


def test_a_person_resets_a_trip() -> None:
    cold = happen(Part.WATER, Turn.CHANGED, 1.0, by=0.5, water_c=20.0)
    left = lived(cold)
    assert left.cutoff_held["tripped"][-1].until_s == 8 * HOUR_S
    there = lived(cold, happen(Part.PERSON, Turn.RESETS_CUTOFF, 4.0, every_s=HOUR_S, times=4))
    assert there.cutoff_held["tripped"][-1].until_s < 8 * HOUR_S


def test_a_dead_fan_is_not_heard_of_and_the_others_go_on() -> None:
    record = lived(happen(Part.FAN, Turn.DEAD, 1.0, which="fan1"))
    assert ran(record, "fan1", 1.01, 8) == 0.0
    assert ran(record, "fan2", 1.01, 8) > HOUR_S


def test_a_shut_in_chiller_runs_away_and_an_open_one_does_not() -> None:
    shut = lived(happen(Part.CHILLER, Turn.ENCLOSED, 0.0))
    assert shut.hottest_c > SETTINGS.safe_band.high_c
    assert lived().hottest_c < SETTINGS.safe_band.high_c


def test_a_tank_two_degrees_too_hot_for_two_days_has_its_heating_weeks() -> None:
    hot = live(stage(drill(lasts_h=50.0, begins_h=0.0, water_c=30.5), replace(SETTINGS, chiller=None)))
    days = [
        [water_c for at_s, water_c, _ in hot.trace if day * 86_400.0 <= at_s < (day + 1) * 86_400.0]
        for day in range(2)
    ]
    spots = [sum(day) / len(day) - SETTINGS.safe_band.high_c for day in days]
    assert min(spots) > 1.0
    assert hot.heating_weeks(SETTINGS.safe_band.high_c) == pytest.approx(sum(spots) / 7.0)


def test_a_run_ends_where_the_water_freezes() -> None:
    winter = type(HOT)(-5.0, -20.0, 0.5)
    cold = drill(
        happen(Part.CHILLER, Turn.WELDED, 0.0),
        happen(Part.LIGHTS, Turn.OFF, 0.0),
        happen(Part.PUMPS, Turn.STOPPED, 0.0),
        lasts_h=200.0,
        tick_s=60.0,
    )
    record = live(stage(cold, setup=None, weather=winter))
    assert record.lasted_s < 200 * HOUR_S
    assert 0.0 < record.coldest_c < 1.5


def test_without_top_off_the_salt_stays() -> None:
    dry = lived(happen(Part.TOP_OFF, Turn.STOPPED, 0.0))
    assert dry.evaporated_kg > 0.2


# --- whatever happens ---

turns = st.sampled_from([(part, turn) for part, of in TURNS.items() for turn in of])


@st.composite
def events(draw: st.DrawFn) -> Event:
    part, turn = draw(turns)
    needs = TURNS[part][turn]
    which = ""
    if part is Part.PROBE:
        which = draw(st.sampled_from(["display", "sump", EVERY, CUTOFFS]))
    elif part is Part.FAN:
        which = draw(st.sampled_from(["fan1", "fan2", EVERY]))
    by = 0.0
    if needs.bounds is not None:
        by = draw(st.floats(max(needs.bounds.low, -20.0), min(needs.bounds.high, 20.0)))
    return Event(
        "it",
        part,
        turn,
        from_s=draw(st.floats(0.0, 2.9 * HOUR_S)),
        lasts_s=None if needs.momentary else draw(st.none() | st.floats(5.0, 2.0 * HOUR_S)),
        which=which,
        by=by,
        water_c=draw(st.floats(15.0, 30.0)) if turn is Turn.CHANGED else None,
    )


def within(inner: Interval, outer: Interval) -> bool:
    return inner.from_s < outer.until_s and outer.from_s < inner.until_s


@settings(deadline=None, max_examples=40)
@given(st.lists(events(), max_size=4), st.integers(0, 5))
def test_whatever_happens_the_promises_hold(happened: list[Event], seed: int) -> None:
    record = live(stage(drill(*happened, lasts_h=3.0, begins_h=13.0), deviation=drawn(str(seed), probes())))
    welded = any(event.part is Part.CHILLER and event.turn is Turn.WELDED for event in happened)
    stuck = any(event.part is Part.CUTOFF_RELAY for event in happened)
    # 3: between a stop and the next start lies the rest, unless a contact is welded.
    if not welded and record.shortest_rest_s is not None:
        assert record.shortest_rest_s >= 300.0
    # 7: what the cutoff has tripped does not run, unless its own contact is welded.
    if not stuck:
        for tripped in record.cutoff_held.get("tripped", ()):
            assert not any(within(running, tripped) for running in record.runs.get(CHILLER, ()))
    # 1: in schedule mode the chiller stands, unless a contact is welded.
    if not welded:
        for blind in record.modes.get("schedule", ()):
            assert not any(within(running, blind) for running in record.runs.get(CHILLER, ()))
    assert math.isfinite(record.hottest_c)


# --- theory ---


def test_the_full_loop_cycles_as_the_theory_of_two_position_control_says() -> None:
    """On a first-order plant the limit cycle is known in closed form; see tests/control/test_relay_cycle.py.

    Here the whole loop runs: balance, lagging and rounding probe, guard, cutoff.  A chiller of constant
    capacity in steady weather makes the balance nearly linear; the mean follows from the duty exactly:
    mean = T_off - duty (T_off - T_on) (Wang, Hang and Zou 1997; derived there).
    """
    constant = ChillerTraits(500.0, per_air_k=0.0, per_water_k=0.0)
    plant = replace(PLANT, chiller=constant, fans=PLANT.fans, lights_w=0.0)
    steady = type(HOT)(32.0, 32.0, 0.4)
    no_fans = replace(SETTINGS, fans=None)
    still = replace(plant, fans=())
    whole = drill(lasts_h=60.0)

    def tail(record: Record, from_h: float) -> list[float]:
        return [water_c for at_s, water_c, _ in record.trace if at_s >= from_h * HOUR_S]

    free = live(
        stage(
            replace(whole, lasts_s=200 * HOUR_S, tick_s=60.0),
            no_fans,
            None,
            replace(still, chiller=None),
            steady,
        )
    )
    off_c = tail(free, 199)[-1]
    always = replace(
        whole,
        events=(happen(Part.CHILLER, Turn.WELDED, 0.0),),
        lasts_s=200 * HOUR_S,
        tick_s=60.0,
    )
    chilled = live(stage(always, no_fans, None, still, steady))
    on_c = tail(chilled, 199)[-1]
    cycling = live(stage(whole, no_fans, None, still, steady, none_at_all(probes())))
    starts = [start_s for start_s in cycling.starts_s if start_s > 10 * HOUR_S]
    first_s, last_s = starts[0], starts[-1]
    waters = [water_c for at_s, water_c, _ in cycling.trace if first_s <= at_s < last_s]
    duty = ran(cycling, CHILLER, first_s / HOUR_S, last_s / HOUR_S) / (last_s - first_s)
    assert len(starts) > 10
    # The balance is bent a little between on and off: two hundredths of the distance.
    assert sum(waters) / len(waters) == pytest.approx(
        off_c - duty * (off_c - on_c), abs=0.02 * (off_c - on_c)
    )


def test_a_calibrated_probe_is_off_by_its_error_only() -> None:
    """The offset mends what the chip reads wrong: a calibrated tank lives as one with perfect probes."""
    low, high = (
        tuple(replace(probe, offset_c=offset_c) for probe in SETTINGS.water_probes)
        for offset_c in (-0.5, 0.5)
    )
    plain = lived()
    for probes_so in (low, high):
        assert lived(settings=replace(SETTINGS, water_probes=probes_so)).hottest_c == plain.hottest_c
