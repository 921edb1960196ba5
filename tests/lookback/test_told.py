"""Alarms from their raising to their return, how soon somebody knew, and the nights."""

from datetime import date
from typing import Any

import pytest
from invented_past import ZONE, at, event

from reefguard.lookback.evidence import Evidence, evidence
from reefguard.lookback.stretch import Stretch
from reefguard.lookback.told import alarms_found, episodes, nights
from reefguard.records.events import Event
from reefguard.records.history import Past

NIGHT = Stretch(at("2026-07-20 18:00"), at("2026-07-21 09:00"))


def alarm(when: str, change: str, name: str = "water high", **more: Any) -> Event:
    return event(at(when), "alarm", name, change, priority=more.pop("priority", 3), **more)


def seen(*events: Event, stretch: Stretch = NIGHT) -> Evidence:
    return evidence(stretch, ZONE, Past(*stretch, 60.0, {}, ()), (), events)


def test_an_alarm_is_told_from_its_raising_to_its_return() -> None:
    there = seen(
        alarm("2026-07-20 20:00", "raised"),
        alarm("2026-07-20 20:30", "acknowledged", who="anna"),
        alarm("2026-07-20 23:00", "returned", details={"lasted_s": 10_800.0, "peak_c": 27.9}),
    )
    (one,) = episodes(there)
    assert (one.raised_s, one.returned_s) == (at("2026-07-20 20:00"), at("2026-07-20 23:00"))
    assert (one.who, one.peak_c) == ("anna", 27.9)
    (summed,) = alarms_found((one,), NIGHT)
    assert (summed.raised, summed.total_s, summed.longest_s, summed.stands) == (1, 10_800.0, 10_800.0, False)
    assert (summed.to_know_s, summed.to_return_s) == (1_800.0, 10_800.0)


def test_what_was_raised_before_counts_from_the_beginning_only_and_is_not_raised_again() -> None:
    there = seen(alarm("2026-07-20 21:00", "returned", details={"lasted_s": 86_400.0}))
    (one,) = episodes(there)
    (summed,) = alarms_found((one,), NIGHT)
    assert (summed.raised, summed.total_s) == (0, 10_800.0)
    assert summed.to_return_s == 86_400.0


def test_what_has_not_returned_stands_at_the_end() -> None:
    (one,) = episodes(seen(alarm("2026-07-21 08:00", "raised")))
    (summed,) = alarms_found((one,), NIGHT)
    assert summed.stands
    assert summed.total_s == 3_600.0
    assert (summed.to_know_s, summed.to_return_s) == (None, None)


def test_an_acknowledgement_after_the_return_still_says_how_soon_somebody_knew() -> None:
    there = seen(
        alarm("2026-07-20 20:00", "raised"),
        alarm("2026-07-20 20:10", "returned"),
        alarm("2026-07-20 21:00", "acknowledged", who="jon"),
    )
    (summed,) = alarms_found(episodes(there), NIGHT)
    assert (summed.to_know_s, summed.to_return_s) == (3_600.0, 600.0)


def test_what_became_of_an_alarm_after_the_stretch_is_still_told_of_it() -> None:
    there = seen(
        alarm("2026-07-21 08:00", "raised"),
        alarm("2026-07-21 10:00", "acknowledged", who="anna"),
        alarm("2026-07-21 11:00", "returned", details={"lasted_s": 10_800.0}),
        alarm("2026-07-21 12:00", "raised"),
        alarm("2026-07-21 13:00", "acknowledged", who="jon"),
        alarm("2026-07-21 14:00", "returned", "no water", details={"lasted_s": 60.0}),
        alarm("2026-07-21 14:00", "returned", "time unknown"),
    )
    (one,) = episodes(there)
    assert (one.who, one.returned_s) == ("anna", at("2026-07-21 11:00"))
    (summed,) = alarms_found((one,), NIGHT)
    assert (summed.total_s, summed.to_know_s, summed.to_return_s) == (3_600.0, 7_200.0, 10_800.0)
    assert summed.stands


def test_what_was_over_before_or_began_after_is_not_told() -> None:
    there = seen(
        alarm("2026-07-20 10:00", "raised"),
        alarm("2026-07-20 11:00", "returned"),
        alarm("2026-07-21 10:00", "raised"),
    )
    assert episodes(there) == ()


def test_the_most_urgent_stands_first() -> None:
    there = seen(
        alarm("2026-07-20 19:00", "raised", "time unknown", priority=1),
        alarm("2026-07-20 20:00", "raised", "no water", priority=4),
    )
    assert [one.name for one in alarms_found(episodes(there), NIGHT)] == ["no water", "time unknown"]


def test_a_night_counts_each_hour_once_and_only_what_wakes() -> None:
    there = seen(
        alarm("2026-07-20 21:00", "raised"),
        alarm("2026-07-21 01:00", "returned"),
        alarm("2026-07-21 00:00", "raised", "no water", priority=4),
        alarm("2026-07-21 02:00", "returned", "no water", priority=4),
        alarm("2026-07-20 22:00", "raised", "time unknown", priority=1),
    )
    (night,) = nights(episodes(there), there, 3)
    assert night == (date(2026, 7, 20), 4 * 3_600.0, ("no water", "water high"))


@pytest.mark.parametrize(
    ("evening", "hours"), [("2026-03-28", 8), ("2026-10-24", 10)], ids=["clocks forward", "clocks back"]
)
def test_a_night_with_a_change_of_clocks_is_as_long_as_it_is(evening: str, hours: int) -> None:
    stretch = Stretch(at(f"{evening} 12:00"), at(f"{evening} 12:00") + 86_400.0)
    there = seen(alarm(f"{evening} 13:00", "raised"), stretch=stretch)
    (night,) = nights(episodes(there), there, 3)
    assert night.alarm_s == hours * 3_600.0
