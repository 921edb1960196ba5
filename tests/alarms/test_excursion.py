"""How far and how long the water was outside its band, while an alarm about it stands."""

import pytest

from reefguard.alarms.excursion import Excursion, followed
from reefguard.settings.model import SafeBand
from reefguard.vocabulary import WaterEstimate

BAND = SafeBand(24.0, 27.8)


def water(warmest_c: float, coldest_c: float | None = None) -> WaterEstimate:
    return WaterEstimate(warmest_c, "display", warmest_c if coldest_c is None else coldest_c, "sump", 0.0)


def test_an_hour_a_degree_above_is_a_degree_hour() -> None:
    excursions: dict[str, Excursion] = {}
    for now_s in range(0, 3_605, 5):
        excursions = followed(
            excursions, ["water high"], water=water(28.8, 26.0), band=BAND, now_s=float(now_s)
        )
    (excursion,) = excursions.values()
    assert excursion.peak_c == 28.8
    assert excursion.degree_hours == pytest.approx(1.0)


def test_cold_water_counts_downwards_from_the_coldest_probe() -> None:
    begun = followed({}, ["water low"], water=water(26.0, 23.5), band=BAND, now_s=0.0)
    later = followed(begun, ["water low"], water=water(26.0, 23.0), band=BAND, now_s=3_600.0)
    assert later["water low"].peak_c == 23.0
    assert later["water low"].degree_hours == pytest.approx(0.75)


def test_it_goes_on_without_its_finding_and_its_peak_stays() -> None:
    begun = followed({}, ["water high"], water=water(29.8), band=BAND, now_s=0.0)
    back = followed(begun, [], water=water(26.0), band=BAND, now_s=3_600.0)
    assert back["water high"].peak_c == 29.8
    assert back["water high"].degree_hours == pytest.approx(1.0)


def test_what_is_not_known_counts_for_nothing() -> None:
    begun = followed({}, ["water high"], water=water(28.8), band=BAND, now_s=0.0)
    blind = followed(begun, ["no water"], water=None, band=BAND, now_s=3_600.0)
    seen = followed(blind, ["water high"], water=water(28.8), band=BAND, now_s=7_200.0)
    assert seen["water high"].degree_hours == 0.0
    again = followed(seen, ["water high"], water=water(28.8), band=BAND, now_s=10_800.0)
    assert again["water high"].degree_hours == pytest.approx(1.0)


def test_other_alarms_have_none_and_blind_water_begins_none() -> None:
    assert followed({}, ["no water", "chiller long run"], water=water(26.0), band=BAND, now_s=0.0) == {}
    assert followed({}, ["water high"], water=None, band=BAND, now_s=0.0) == {}
