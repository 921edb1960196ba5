"""A small invented week, told: the text itself, checked by hand; and what other weeks change in it."""

import json
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import pytest
from invented_past import DISPLAY, ZONE, Invented, event
from quiet_fortnight import BEGINS_S, DAY_S, ENDS_S, LOOSE_S, WEEK_S, found_in, invented

from reefguard.commissioning.record import Record
from reefguard.lookback.account import account_of
from reefguard.lookback.document import document_of
from reefguard.lookback.stretch import Stretch, before
from reefguard.planning.terminal import COLUMNS, text_of
from reefguard.records.history import Past
from reefguard.settings.model import SafeBand, Settings, Unit

LAST_WEEK = Stretch(BEGINS_S + WEEK_S, ENDS_S)

# By hand: the warmest probe is 26 + 1.6 sin, above 27 for a part 1 - 2 asin(1/1.6)/pi of half a day: 6.8 h;
# by means rounded to sixteenths, strictly above, 6.6 h.  Its kelvin hours a day are
# (1.6 * 2 cos(a) - (pi - 2 a)) * 24 h / 2 pi = 2.7 with a = asin(1/1.6).  The chiller runs 3 h from 16:00 and
# half an hour from 21:00, of which 20 min are above the band.  The guard is away for an hour, so that day's
# fans run 9 h instead of 10.
TOLD = """\
the reef by the stairs: Mon 1 Sep to Sun 7 Sep 2025

  The water was above the safe band for 46 h, 27.7 °C at its hottest (Mon 1 Sep
  17:40): the chiller ran 51 % of that time; see what held it off, and whether
  it cuts in too late.

WHAT IS NOT KNOWN
  The water was known for 99 % of the time; the gap: 1 h from Wed 3 Sep 10:00.

THE WATER
  Hottest: 27.7 °C, Mon 1 Sep 17:40, by display.
  Coldest: 24.1 °C, Mon 1 Sep 05:40, by sump.
  Degree hours say how far and how long together: an hour one degree (C) out of
  the band is one. The band is the one set today; whole days count by the band
  of their time.

                  for  of what is known  degree hours
  above 27.0 °C  46 h              28 %            19
  below 24.0 °C   0 h               0 %             0

DAY BY DAY
             coldest  hottest  above  below  known
  Mon 1 Sep  24.1 °C  27.7 °C  6.6 h  0 min  100 %
  Tue 2 Sep  24.1 °C  27.7 °C  6.6 h  0 min  100 %
  Wed 3 Sep  24.1 °C  27.7 °C  6.6 h  0 min   96 %
  Thu 4 Sep  24.1 °C  27.7 °C  6.6 h  0 min  100 %
  Fri 5 Sep  24.1 °C  27.7 °C  6.6 h  0 min  100 %
  Sat 6 Sep  24.1 °C  27.7 °C  6.6 h  0 min  100 %
  Sun 7 Sep  24.1 °C  27.7 °C  6.6 h  0 min  100 %

WHAT RAN
  Duty is the share of the 7 days in which the guard was at work.

            ran  duty  starts  longest run
  fan1     69 h  41 %       7         10 h
  fan2     69 h  41 %       7         10 h
  chiller  24 h  15 %      14          3 h

THE COMPRESSOR
  It started 14 times, 2 a day.
  The shortest of its 13 rests was 2 h; the settings ask for 5 min.
  The shortest of its runs was 30 min.

ALARMS
  How long each stood, and the median time until it was acknowledged, and until
  it returned to normal.

                       raised  stood  longest  acknowledged  returned
  water high                7   35 h      5 h        20 min       5 h
  probe sump not used       1    2 h      2 h         2.4 h       2 h

AGAINST THE TIME BEFORE
  Before is Mon 25 Aug to Sun 31 Aug 2025, of equal length.

                      now   before        in words
  hottest         27.7 °C  26.7 °C          warmer
  above the band     46 h      0 h             new
  fan1 ran           69 h     70 h  about the same
  fan2 ran           69 h     70 h  about the same
  chiller ran        24 h     10 h     about twice
  chiller starts       14       14  about the same
  alarms                8        0             new

PROBES
  Good readings as a share of the time the guard was at work; gaps over ten
  minutes.
  display read 0.2 °C above sump on average, at most 0.2 °C apart (Mon 1 Sep
  00:00).

            good  gaps  longest gap
  display  100 %     0
  sump      99 %     1          2 h

ENERGY
  Left out: the settings have no section `plan`, which gives the powers.

TOP-OFF
  Left out: the settings have no section `plan`, which gives the water's
  surface.

COMMISSIONING
  Sat 6 Sep 11:00: proof test, passed: the chiller stopped in 2 s (jon)
  The proof test passed on Sat 6 Sep 2025; the next is due on Fri 5 Dec 2025.

COMMANDS
  Fri 5 Sep 05:30: anna acknowledges: probe sump not used

THE GUARD
  It was at work 99 % of the time: 1 start.
  Away 1 h from Wed 3 Sep 10:00 (stopped as it was asked to).
"""


def told(
    stretch: Stretch = LAST_WEEK, there: Invented | None = None, settings: Settings | None = None
) -> str:
    settings = settings or invented()[1]
    earlier = found_in(before(stretch, ZONE), there, settings=settings)
    return text_of(account_of(found_in(stretch, there, settings=settings), earlier, settings))


def test_the_week_is_told_as_it_was() -> None:
    assert told() == TOLD


def test_a_piece_of_an_evening_is_told_too_and_nothing_is_wider_than_a_terminal() -> None:
    for hours in (1.0, 5.5, 30.0):
        text = told(Stretch(ENDS_S - 3_600.0 * hours, ENDS_S))
        assert max(map(len, text.splitlines())) <= COLUMNS


def test_fahrenheit_is_fahrenheit_everywhere() -> None:
    text = told(settings=replace(invented()[1], shown_in=Unit.FAHRENHEIT))
    assert "°C" not in text
    assert "81.8 °F at its hottest" in text
    # 18.6 K h are 33.5 °F h: a difference has no 32 in it.
    assert "degree hours" in text
    assert " 33\n" in text or " 34\n" in text


def test_all_days_add_up_to_the_week() -> None:
    week = found_in(LAST_WEEK)
    days = [
        found_in(Stretch(LAST_WEEK.from_s + n * DAY_S, LAST_WEEK.from_s + (n + 1) * DAY_S)) for n in range(7)
    ]
    assert sum(day.water.above_s for day in days) == pytest.approx(week.water.above_s)
    assert sum(day.water.above_k_h for day in days) == pytest.approx(week.water.above_k_h)
    for output in week.outputs:
        parts = [one for day in days if (one := day.output(output.name)) is not None]
        assert sum(part.ran_s for part in parts) == pytest.approx(output.ran_s)
        assert sum(part.starts for part in parts) == output.starts
    assert sum(day.guard.guarded_s for day in days) == pytest.approx(week.guard.guarded_s)
    assert sum(alarm.raised for day in days for alarm in day.alarms) == sum(one.raised for one in week.alarms)
    assert sum(alarm.total_s for day in days for alarm in day.alarms) == pytest.approx(
        sum(one.total_s for one in week.alarms)
    )


def test_pieces_of_a_day_add_up_to_it() -> None:
    edges = [LAST_WEEK.from_s + 3_600.0 * hour for hour in (0, 9.5, 17, 24)]
    day = found_in(Stretch(edges[0], edges[-1]))
    parts = [found_in(Stretch(*edge)) for edge in pairwise(edges)]
    assert sum(part.water.above_s for part in parts) == pytest.approx(day.water.above_s)
    assert sum(part.outputs[2].ran_s for part in parts) == pytest.approx(day.outputs[2].ran_s)
    assert sum(part.outputs[2].starts for part in parts) == day.outputs[2].starts


def first_sentence(there: Invented, settings: Settings | None = None) -> str:
    settings = settings or invented()[1]
    return account_of(found_in(LAST_WEEK, there, settings=settings), None, settings).verdict[0]


def test_a_week_in_the_band_asks_for_nothing() -> None:
    there, settings = invented()
    # Totals know the band of their time: without them the spans are held against this one.
    there = there._replace(totals=())
    wide = replace(settings, safe_band=SafeBand(23.0, 29.0))
    assert first_sentence(there, wide).startswith("The water stayed in the safe band, 24.1 °C to 27.7 °C")
    quiet = there._replace(recorded=())
    assert first_sentence(quiet, wide).endswith("; nothing asks for you.")


def test_a_cold_week_asks_for_the_heater() -> None:
    there, settings = invented()
    cold = replace(settings, safe_band=SafeBand(25.0, 29.0))
    said = first_sentence(there._replace(totals=()), cold)
    assert "below the safe band" in said
    assert "heater" in said


def test_what_is_not_known_is_said_first_and_is_never_nought() -> None:
    there, settings = invented()
    half = Stretch(LAST_WEEK.from_s, LAST_WEEK.from_s + 3.0 * DAY_S)
    cut = there.past(*half, 1)
    found = found_in(LAST_WEEK, Invented(cut, (), there.recorded))
    account = account_of(found, found_in(before(LAST_WEEK, ZONE)), settings)
    assert account.verdict[0].startswith("As far as is known, which is 42 % of the time, the water was above")
    assert account.sections[0].title == "What is not known"
    assert "42 % of the time" in account.sections[0].paragraphs[0]
    against = next(section for section in account.sections if section.title == "Against the time before")
    assert against.table is None
    assert "Not compared" in against.paragraphs[0]
    days = next(section for section in account.sections if section.title == "Day by day")
    assert days.table is not None
    assert days.table.rows[-1][:2] == ("Sun 7 Sep", "not known")


def test_minutes_that_are_not_written_yet_are_no_gap() -> None:
    there, settings = invented()
    for silent_s, said in ((900.0, "its last 15 min are not written yet"), (7_200.0, "the gap: 2 h from")):
        written = Invented(there.past(LAST_WEEK.from_s, ENDS_S - silent_s, 1), (), there.recorded)
        evening = found_in(Stretch(ENDS_S - 0.5 * DAY_S, ENDS_S), written)
        assert said in account_of(evening, None, settings).sections[0].paragraphs[0]


def test_where_only_totals_are_left_the_hottest_has_a_day_and_no_hour() -> None:
    there, settings = invented()
    bare = there._replace(whole=there.whole._replace(series={}))
    account = account_of(found_in(LAST_WEEK, bare), None, settings)
    assert "27.7 °C at its hottest (Mon 1 Sep)" in account.verdict[0]
    assert "Of 7 days, the first Mon 1 Sep, only totals are kept" in account.sections[0].paragraphs[1]
    probes = next(section for section in account.sections if section.title == "Probes")
    assert probes.table is not None
    assert [row[1] for row in probes.table.rows] == ["not known", "not known"]


def test_what_began_later_was_not_there_at_the_beginning() -> None:
    start = event(BEGINS_S, "guard", "guard", "started", "it has started")
    there = invented()[0]
    there = there._replace(recorded=(start, *there.recorded))
    text = told(Stretch(BEGINS_S - 3.0 * DAY_S, BEGINS_S + DAY_S), there)
    assert "No sign of it for 72 h until Mon 25 Aug 00:00." in text
    assert "last sign" not in text


def test_of_nothing_nothing_is_told() -> None:
    nothing = Invented(Past(*LAST_WEEK, 3_600.0, {}, ()), (), ())
    account = account_of(found_in(LAST_WEEK, nothing), None, invented()[1])
    assert account.verdict[0].startswith("Nothing is known of this time")
    assert account.sections == ()


def test_water_that_was_never_known_is_no_water_in_the_band() -> None:
    there, settings = invented()
    blind = there._replace(whole=there.whole._replace(series={}), totals=())
    account = account_of(found_in(LAST_WEEK, blind), None, settings)
    assert len(account.verdict) == 1
    assert account.verdict[0].startswith("The water was never known in this time: no probe could be trusted.")
    assert "It was never known." in text_of(account)


def test_a_short_rest_a_bad_probe_and_a_power_cut_are_asked_about() -> None:
    there, settings = invented()
    first, *runs = [one for one in there.whole.intervals if one.from_s >= LAST_WEEK.from_s]
    early = first._replace(output="chiller", from_s=first.from_s, until_s=runs[1].from_s - 90.0, start=True)
    series = {kind: spans for kind, spans in there.whole.series.items() if kind == DISPLAY}
    series |= {
        kind: tuple(span._replace(good=0.7, mean=span.mean - 0.65) for span in spans)
        for kind, spans in there.whole.series.items()
        if kind != DISPLAY
    }
    cut = event(LOOSE_S, "guard", "guard", "started", "again", details={"last_run_ended": "unexpectedly"})
    changed = Invented(
        there.whole._replace(intervals=(early, *runs), series=series), there.totals, (*there.recorded, cut)
    )
    said = " ".join(account_of(found_in(LAST_WEEK, changed), None, settings).verdict)
    assert "rested only 2 min, less than the 5 min" in said
    assert "Probe sump gave a good reading only 69 % of the time" in said
    assert "Probes display and sump stood 0.9 °C apart" in said
    assert "The guard ended once without being stopped" in said


def test_the_document_is_json_of_plain_numbers() -> None:
    settings = invented()[1]
    found, earlier = found_in(LAST_WEEK), found_in(before(LAST_WEEK, ZONE))
    document = json.loads(json.dumps(document_of(found, earlier, settings), allow_nan=False))
    assert document["schema"] == "reefguard.report/1"
    assert (document["from"], document["until"]) == ("2025-09-01T00:00:00+02:00", "2025-09-08T00:00:00+02:00")
    assert document["water"]["above_s"] == found.water.above_s
    assert [one["name"] for one in document["outputs"]] == ["fan1", "fan2", "chiller"]
    assert document["top_off"] == {"unknown": found.top_off.why}  # type: ignore[union-attr]  # no plan, no top-off
    assert document["energy"]["unknown"]
    assert len(document["days"]) == 7
    assert document["against_the_time_before"]["changes"][0]["said"] == "warmer"
    assert document["proof_tests"] == {"passed": "2025-09-06T11:00:00+02:00", "failed": None}
    assert [one["subject"] for one in document["commissioned"]] == ["cutoff"]
    assert document["commissioned"][0]["details"] == {"moves": [{"on": False}]}


def test_the_cutoffs_proof_test_stands_as_it_did_then() -> None:
    there, settings = invented()
    passed = there.commissioned[1]
    failed = replace(passed, outcome="failed", at_wall=passed.at_wall - timedelta(hours=2))
    usual = settings.chiller
    assert usual is not None

    def said(*records: Record, every_days: float | None = 90.0, until_s: float = ENDS_S) -> str:
        chiller = replace(usual, proof_test_every_days=every_days)
        asked = replace(settings, chiller=chiller)
        text = told(Stretch(until_s - WEEK_S, until_s), there._replace(commissioned=records), asked)
        return text.partition("COMMISSIONING\n")[2].partition("\n\n")[0]

    assert "nobody has seen the cutoff stop" in said()
    assert "FAILED, and none" in said(failed)
    assert "FAILED" not in said(failed, passed).partition("The proof test passed")[2]
    assert "proof test, failed" in said(failed, passed)
    assert "nobody has seen" in said(passed, until_s=ENDS_S - WEEK_S)
    assert "the next was due on Sun 7 Sep 2025" in said(passed, every_days=1.0)
    assert "The last passed proof test was on Sat 6 Sep 2025." in said(passed, every_days=None)
    many = said(*(replace(passed, kind="exercise", subject="fan1") for _ in range(30)))
    assert many.count("exercise of fan1") == 20
    assert "newest 20 of 30" in many
