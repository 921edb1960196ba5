"""The page of a look back: well-formed, alone, says what the text says, and draws what was found."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html import unescape

import pytest
from invented_past import ZONE, Invented, event
from page_elements import Elements
from quiet_fortnight import BEGINS_S, DAY_S, ENDS_S, WEEK_S, found_in, invented

from reefguard.lookback.account import account_of
from reefguard.lookback.stretch import Stretch, before
from reefguard.records.history import Past
from reefguard.report.lookback_chart import course, day_by_day
from reefguard.report.lookback_page import page_of
from reefguard.settings.model import Unit

HOSTILE = '"><script>alert(1)</script>'
STRETCHES = {
    "week": Stretch(BEGINS_S + WEEK_S, ENDS_S),
    "night": Stretch(ENDS_S - DAY_S / 2.0, ENDS_S),
    "first": Stretch(BEGINS_S, BEGINS_S + WEEK_S),
}
EVERY = pytest.mark.parametrize("name", STRETCHES)


def words(page: str) -> str:
    marked = re.sub(r"</?code>", "`", page)
    return unescape(re.sub(r"<[^>]*>", "\n", marked)).replace("\N{NO-BREAK SPACE}", " ")


@EVERY
def test_the_page_says_what_the_text_says_and_what_is_unknown_before_the_pictures(name: str) -> None:
    settings = replace(invented()[1], tank=HOSTILE)
    found = found_in(STRETCHES[name], settings=settings)
    earlier = found_in(before(STRETCHES[name], ZONE), settings=settings)
    page = page_of(found, earlier, settings)
    said, account = words(page), account_of(found, earlier, settings)
    for sentence in (*account.verdict, *(text for one in account.sections for text in one.paragraphs)):
        assert sentence in said
    for section in account.sections:
        for row in () if section.table is None else section.table.rows:
            assert all(cell in said for cell in row)
    assert page.index("What is not known") < page.index("<svg")
    assert page.index("<svg") < page.index("<table")


@EVERY
def test_it_is_well_formed_and_needs_nothing_else(name: str) -> None:
    settings = replace(invented()[1], tank=HOSTILE)
    found = found_in(STRETCHES[name], settings=settings)
    page = page_of(found, None, settings)
    elements = Elements(page)
    tags = {tag for tag, _ in elements.found}
    assert not tags & {"script", "link", "img", "iframe", "object", "a"}
    for drawing in re.findall(r"<svg.*?</svg>", page, re.DOTALL):
        ET.fromstring(drawing)  # noqa: S314  our own text
    for fetched in ("https://", "src=", "href=", "@import"):
        assert fetched not in page
    assert len(page) < 120_000


def test_a_week_has_its_course_and_its_days_and_a_night_only_its_course() -> None:
    settings = invented()[1]
    week, night = (found_in(STRETCHES[name], settings=settings) for name in ("week", "night"))
    drawn = course(week, settings)
    assert drawn is not None
    said = words(drawn.svg).split("\n")
    assert {"display", "sump", "safe band", "fans cut in", "chiller cuts in", "fan1", "chiller"} <= set(said)
    assert {"alarms", "water high", "guard away", "away 1 h", "hottest 27.7 °C"} <= set(said)
    assert day_by_day(week, settings) is not None
    assert course(night, settings) is not None
    assert day_by_day(night, settings) is None


def test_many_alarms_have_a_row_each_and_no_words_in_each_others_way() -> None:
    there, settings = invented()
    stretch = STRETCHES["week"]
    more = tuple(
        event(stretch.from_s + 7_200.0 * n, "alarm", f"probe {name} not used", change, priority=2)
        for name in ("display", "sump")
        for n, change in enumerate(("raised", "returned") * 20)
    )
    drawn = course(
        found_in(stretch, there._replace(recorded=(*there.recorded, *more)), settings=settings), settings
    )
    assert drawn is not None
    said = words(drawn.svg).split("\n")
    assert said.count("water high") == 1
    # A row's name is wrapped.
    assert said.count("probe display") == 1
    few = course(found_in(stretch, settings=settings), settings)
    assert few is not None
    assert words(few.svg).split("\n").count("water high") == 7


def test_the_picture_is_in_the_keepers_unit() -> None:
    settings = replace(invented()[1], shown_in=Unit.FAHRENHEIT)
    drawn = course(found_in(STRETCHES["week"], settings=settings), settings)
    assert drawn is not None
    assert "water, °F" in words(drawn.svg)
    assert "hottest 81.8 °F" in words(drawn.svg)


def test_a_gap_stays_a_gap() -> None:
    there, settings = invented()
    stretch = STRETCHES["week"]
    whole = course(found_in(stretch, settings=settings), settings)
    saturday = Stretch(stretch.from_s + 5.0 * DAY_S, stretch.from_s + 6.0 * DAY_S)
    series = {
        kind: tuple(span for span in spans if not saturday.holds(span.from_s))
        for kind, spans in there.whole.series.items()
    }
    holed = there._replace(whole=there.whole._replace(series=series))
    cut = course(found_in(stretch, holed, settings=settings), settings)
    assert whole is not None
    assert cut is not None

    def pieces(svg: str) -> int:
        return sum(path.count("M") for path in re.findall(r'<path class="series[^>]* d="([^"]*)"', svg))

    # Each probe's line, in the key too: cut by the guard's hour away, and for one probe by the loose plug.
    assert pieces(whole.svg) == 2 + 2 + 2 + 1
    assert pieces(cut.svg) == pieces(whole.svg) + 2


def test_without_spans_there_is_no_course_but_the_days_stay() -> None:
    there, settings = invented()
    bare = there._replace(whole=there.whole._replace(series={}))
    found = found_in(STRETCHES["week"], bare, settings=settings)
    assert course(found, settings) is None
    assert day_by_day(found, settings) is not None
    said = words(page_of(found, None, settings))
    assert "only totals are kept" in said


def test_of_nothing_the_page_says_so() -> None:
    nothing = Invented(Past(*STRETCHES["week"], 3_600.0, {}, ()), (), ())
    settings = invented()[1]
    page = page_of(found_in(STRETCHES["week"], nothing, settings=settings), None, settings)
    assert "Nothing is known of this time" in words(page)
    assert "<svg" not in page
