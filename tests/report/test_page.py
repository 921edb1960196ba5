"""A page stands alone, and nothing that is written in it becomes code."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from page_elements import Elements

from reefguard.report.flow_bars import FlowBars, FlowRow, flow_bars
from reefguard.report.page import Figure, Listing, Paragraph, Section, Table, page
from reefguard.report.svg import Drawing

HOSTILE = '"><script>alert(1)</script><img src=x onerror=y>'


def a_drawing(name: str = "heat") -> Drawing:
    return flow_bars(FlowBars(name, "Heat", "It flows.", (FlowRow("a"),)))


def whole(word: str) -> str:
    """Write a page that says one word everywhere."""
    table = Table(word, (word, "peak"), ((word, "27.1 °C"), ("other", "-")))
    blocks = (Paragraph(word), Listing((word,)), table, Figure(word, a_drawing()))
    return page(word, (Section(word, blocks),), lead=word, foot=word)


@settings(deadline=None)
@given(st.one_of(st.just(HOSTILE), st.text(min_size=1, max_size=40)))
def test_no_text_becomes_an_element(word: str) -> None:
    plain = [(tag, sorted(attributes)) for tag, attributes in Elements(whole("word")).found]
    assert [(tag, sorted(attributes)) for tag, attributes in Elements(whole(word)).found] == plain


def test_empty_text_leaves_no_element_open() -> None:
    assert "figure" in {tag for tag, _ in Elements(whole("")).found}


def test_text_is_shown_as_it_was_given() -> None:
    elements = Elements(whole(HOSTILE))
    for tag in ("h1", "h2", "p", "li", "caption", "figcaption", "th"):
        assert HOSTILE in "".join(elements.text(tag))


def test_nothing_is_loaded_and_nothing_runs() -> None:
    elements = Elements(whole("word"))
    tags = {tag for tag, _ in elements.found}
    assert not tags & {"script", "link", "img", "iframe", "object", "embed", "base", "form", "a"}
    for _, attributes in elements.found:
        assert not any(name.startswith("on") or name in {"src", "href", "style"} for name in attributes)
    assert "@import" not in "".join(elements.text("style"))
    assert "url(" not in "".join(elements.text("style"))
    policy = [meta["content"] for meta in elements.attributes("meta") if "http-equiv" in meta]
    assert policy == ["default-src 'none';style-src 'unsafe-inline'"]


def test_it_is_a_whole_document() -> None:
    text = whole("word")
    assert text.startswith('<!doctype html>\n<html lang="en">')
    assert '<meta charset="utf-8">' in text
    assert "width=device-width" in text
    assert text.index("charset") < 1_024  # HTML Living Standard, 4.2.5.4: within the first 1024 bytes


def test_a_table_has_a_caption_and_its_heads_say_what_they_head() -> None:
    elements = Elements(whole("word"))
    scopes = [th["scope"] for th in elements.attributes("th")]
    assert scopes == ["col", "col", "row", "row"]
    assert elements.text("caption") == ["word"]


def test_a_column_of_numbers_is_set_right_and_words_are_not() -> None:
    rows = (("a", "1,250 W", "8 to 9"), ("b", "over 99 %", "none"), ("c", "-3.5", "2"), ("d", "", "3"))
    text = page("t", (Section("s", (Table("c", ("x", "power", "words"), rows),)),))
    assert [td.get("class") for td in Elements(text).attributes("td")] == ["number", None] * 4


def test_tables_and_drawings_scroll_in_boxes_that_a_keyboard_reaches() -> None:
    boxes = [div for div in Elements(whole("word")).attributes("div") if div.get("class") == "scroll"]
    assert len(boxes) == 2
    assert all(
        box["tabindex"] == "0" and box["role"] == "region" and box["aria-label"] == "word" for box in boxes
    )


def test_two_drawings_of_one_name_are_refused() -> None:
    twice = (Figure("one", a_drawing()), Figure("other", a_drawing()))
    with pytest.raises(ValueError, match="used twice: heat"):
        page("t", (Section("s", twice),))
    assert page("t", (Section("s", (twice[0], Figure("other", a_drawing("cold")))),))


def test_a_ragged_table_is_refused() -> None:
    with pytest.raises(ValueError, match="does not fit the head"):
        Table("c", ("a", "b"), (("1",),))
