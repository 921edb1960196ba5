"""The advice is what practice says of such tanks, and grows with the heat."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planned_tanks import muggy, reef

from reefguard.planning.damp_air import damp_airs
from reefguard.planning.found import CannotJudge, Course, LongerThan, RunsAway
from reefguard.planning.make import make_plan
from reefguard.planning.model import Advice, Chiller, Enough, FanLimit, Fans, Option, Plan, Sited
from reefguard.settings.plan_model import (
    ChillerPlace,
    ChillerPlan,
    DesignDayPlan,
    FansPlan,
    StandPlan,
    TankPlan,
)
from reefguard.thermal.moist_air import pressure_at_pa, salt_wet_bulb_c
from reefguard.thermal.plant import Siting


def fans_of(plan: Plan) -> Fans:
    assert isinstance(plan.fans, Fans)
    return plan.fans


def chiller_of(plan: Plan) -> Chiller:
    assert isinstance(plan.chiller, Chiller)
    return plan.chiller


def course_of(plan: Plan, option: Option) -> Course:
    course = plan.course(option)
    assert isinstance(course, Course)
    return course


@pytest.mark.parametrize(
    ("day", "advice"),
    [
        (DesignDayPlan(24.0, 14.0, 0.5), Advice.NEITHER),
        (DesignDayPlan(29.0, 17.0, 0.35), Advice.FANS),
        (DesignDayPlan(32.0, 18.0, 0.3), Advice.OPEN_DOORS),
        (DesignDayPlan(33.0, 22.0, 0.45), Advice.CHILLER),
    ],
)
def test_a_hotter_day_asks_for_more(day: DesignDayPlan, advice: Advice) -> None:
    assert make_plan(reef(weather=day)).verdict.advice is advice


def test_a_fan_lowers_an_ordinary_tank_by_one_or_two_degrees() -> None:
    """Common practice, no source."""
    plan = make_plan(reef(weather=DesignDayPlan(33.0, 20.0, 0.35)))
    assert 1.0 <= course_of(plan, Option.NOTHING).peak_c - course_of(plan, Option.FANS).peak_c <= 2.0


def test_an_open_tank_evaporates_about_a_hundredth_of_its_volume_a_day() -> None:
    """Common practice, no source: 0.5 to 2 %."""
    tank = reef()
    evaporated = course_of(make_plan(tank), Option.NOTHING).evaporation_l_day
    assert 0.005 <= evaporated / tank.litres <= 0.02


def test_a_chiller_takes_several_degrees() -> None:
    """Common practice, no source."""
    plan = make_plan(reef(weather=DesignDayPlan(35.0, 24.0, 0.6)))
    assert course_of(plan, Option.NOTHING).peak_c - course_of(plan, Option.CHILLER).peak_c > 5.0
    assert course_of(plan, Option.CHILLER).peak_c <= 25.6


def test_a_chiller_in_a_closed_cabinet_runs_away() -> None:
    """Common practice, no source; the closed form is `refrigeration.cabinet_air_c`."""
    tank = reef(
        stand=StandPlan(),
        chiller=ChillerPlan(place=ChillerPlace.STAND),
        weather=DesignDayPlan(34.0, 23.0, 0.45),
    )
    chiller = chiller_of(make_plan(tank))
    found = chiller.sitings[Siting.STAND]
    assert isinstance(found, RunsAway)
    assert found.vent_m3_h > 50.0
    # The plan goes on with a place where it works.
    assert chiller.counted_at is Siting.ROOM
    assert isinstance(chiller.course, Course)


def test_a_cabinet_with_enough_air_through_it_does_not() -> None:
    tank = reef(
        stand=StandPlan(vented_m3_h=400.0),
        chiller=ChillerPlan(place=ChillerPlace.STAND),
        weather=DesignDayPlan(34.0, 23.0, 0.45),
    )
    assert isinstance(chiller_of(make_plan(tank)).sitings[Siting.STAND], Sited)


def test_heat_thrown_into_the_room_asks_for_a_larger_chiller_than_heat_led_outdoors() -> None:
    sitings = chiller_of(make_plan(reef(weather=DesignDayPlan(35.0, 24.0, 0.5)))).sitings
    room, outdoors = sitings[Siting.ROOM], sitings[Siting.OUTSIDE]
    assert isinstance(room, Sited)
    assert isinstance(outdoors, Sited)
    assert room.capacity_w > 1.1 * outdoors.capacity_w
    assert room.room_peak_c > outdoors.room_peak_c + 1.0
    assert room.load_w == pytest.approx(room.capacity_w * room.derating * 0.7)


def test_in_damp_heat_fans_are_limited_by_the_damp_and_would_heat_beside_a_chiller() -> None:
    plan = make_plan(muggy())
    assert plan.verdict.advice is Advice.CHILLER
    assert fans_of(plan).limit is FanLimit.HUMIDITY
    both, chiller = course_of(plan, Option.BOTH), course_of(plan, Option.CHILLER)
    assert len(both.fan_heating_hours) == 24
    assert both.electricity.total_kwh > chiller.electricity.total_kwh
    # Damp air condenses on the colder water.
    assert chiller.evaporation_l_day < 0.0


def test_in_a_closed_room_the_room_limits_the_fans() -> None:
    fans = fans_of(make_plan(reef(weather=DesignDayPlan(32.0, 18.0, 0.3))))
    assert fans.limit is FanLimit.ROOM
    assert isinstance(fans.room_opened, Course)
    assert fans.room_opened.room_humidity_mean < fans.course.room_humidity_mean


@pytest.mark.parametrize(
    ("capacity_w", "from_label_hp", "enough"),
    [
        (60.0, False, Enough.NO),
        (260.0, True, Enough.NOT_SURELY),
        (310.0, False, Enough.WITHOUT_RESERVE),
        (800.0, False, Enough.YES),
    ],
)
def test_the_keepers_own_chiller_is_judged(capacity_w: float, from_label_hp: bool, enough: Enough) -> None:
    tank = reef(
        chiller=ChillerPlan(capacity_w=capacity_w, from_label_hp=from_label_hp),
        weather=DesignDayPlan(35.0, 24.0, 0.5),
    )
    own = chiller_of(make_plan(tank)).own
    assert own is not None
    assert own.enough is enough


def test_the_starts_of_the_own_chiller_follow_the_relay_cycle() -> None:
    """Period 4 C h / Q at half duty: 340 L hold 1.39 MJ/K, so 400 W and 0.5 K make a start in 1.9 h."""
    own = chiller_of(make_plan(reef(chiller=ChillerPlan(capacity_w=400.0)))).own
    assert own is not None
    assert 1.0 / own.starts_per_h == pytest.approx(4.0 * 1.391e6 * 0.5 / 400.0 / 3_600.0, rel=0.01)


def test_a_person_has_less_time_the_smaller_the_tank() -> None:
    day = DesignDayPlan(35.0, 24.0, 0.5)
    large, small = make_plan(reef(weather=day)).time_left, make_plan(muggy()).time_left
    assert large is not None
    assert small is not None
    for left in (large.to_high_h, large.to_low_h, small.to_high_h, small.to_low_h):
        assert isinstance(left, float)
        assert left > 0.0
    assert isinstance(large.to_high_h, float)
    assert isinstance(small.to_high_h, float)
    assert small.to_high_h < large.to_high_h


def test_what_takes_longer_than_was_looked_ahead_is_no_number() -> None:
    plan = make_plan(reef(weather=DesignDayPlan(30.0, 18.0, 0.35)))
    assert plan.verdict.option is Option.FANS
    assert plan.time_left is not None
    assert isinstance(plan.time_left.to_high_h, float | LongerThan)


def refused(tank: TankPlan) -> str:
    plan = make_plan(tank)
    assert plan.verdict.advice is Advice.CANNOT_JUDGE
    assert plan.time_left is None
    for option in Option:
        assert isinstance(plan.course(option), CannotJudge)
    return plan.verdict.why


@pytest.mark.parametrize("day", [DesignDayPlan(47.0, 25.0, 0.2), DesignDayPlan(20.0, -3.0, 0.5)])
def test_outside_its_range_the_model_says_so(day: DesignDayPlan) -> None:
    assert "5 to 45" in refused(reef(weather=day))


def test_water_that_leaves_the_range_is_no_number() -> None:
    assert "45" in refused(reef(lights_w=6_000.0))


def test_air_too_fast_for_the_equation_is_refused_and_the_rest_is_planned() -> None:
    plan = make_plan(reef(fans=FansPlan(air_m_s=4.0), weather=DesignDayPlan(33.0, 22.0, 0.45)))
    assert isinstance(plan.fans, CannotJudge)
    assert "3 m/s" in plan.fans.why
    assert isinstance(plan.both, CannotJudge)
    assert plan.verdict.advice is Advice.CHILLER


_DAYS = st.builds(
    DesignDayPlan,
    st.floats(24.0, 36.0),
    st.floats(12.0, 22.0),
    st.floats(0.2, 0.7),
)


def test_water_that_is_held_is_not_yet_a_room_that_has_settled() -> None:
    """A first day that ends at the hold temperature it began with has hardly warmed the room."""
    day = DesignDayPlan(27.933437185352535, 18.780636119487458, 0.5247694957929343)
    dim, bright = (make_plan(reef(weather=day, lights_w=lights_w)) for lights_w in (40.0, 43.0))
    assert course_of(bright, Option.FANS).peak_c > course_of(dim, Option.FANS).peak_c > 25.6


@settings(max_examples=6, deadline=None, derandomize=True)
@given(_DAYS, st.floats(20.0, 200.0), st.floats(10.0, 150.0))
def test_more_light_is_warmer_and_asks_for_more_chiller(
    day: DesignDayPlan, lights_w: float, more_w: float
) -> None:
    less = make_plan(reef(weather=day, lights_w=lights_w))
    more = make_plan(reef(weather=day, lights_w=lights_w + more_w))
    for option in (Option.NOTHING, Option.FANS):
        # A day counts as settled within 0.005 K.
        assert course_of(more, option).peak_c >= course_of(less, option).peak_c - 0.01
    small, large = chiller_of(less).sitings[Siting.OUTSIDE], chiller_of(more).sitings[Siting.OUTSIDE]
    assert isinstance(small, Sited)
    assert isinstance(large, Sited)
    assert large.capacity_w >= small.capacity_w - 1.0


@settings(max_examples=6, deadline=None, derandomize=True)
@given(_DAYS, st.floats(1.0, 5.0))
def test_a_hotter_day_is_warmer(day: DesignDayPlan, hotter_k: float) -> None:
    hotter = DesignDayPlan(day.hottest_c + hotter_k, day.coolest_c + hotter_k, day.relative_humidity)
    cool, hot = make_plan(reef(weather=day)), make_plan(reef(weather=hotter))
    assert course_of(hot, Option.NOTHING).peak_c > course_of(cool, Option.NOTHING).peak_c


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.floats(22.0, 28.0), st.floats(0.0, 2_000.0))
def test_air_in_which_a_fan_heats_the_water_has_its_salt_wet_bulb(water_c: float, altitude_m: float) -> None:
    pressure_pa = pressure_at_pa(altitude_m)
    airs = damp_airs(water_c, pressure_pa, 35.0)
    assert airs
    for air in airs:
        assert salt_wet_bulb_c(air.air_c, air.humidity, pressure_pa) == pytest.approx(water_c, abs=0.01)
